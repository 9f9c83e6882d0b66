//! Which alarms of a site scripts have exercised, and how far.

use crate::engine::alarm::{AlarmState, Process};
use crate::engine::event::SYSTEM;
use crate::engine::plan::{AlarmPlan, Plan, Watch};
use crate::engine::{Event, EventKind, Quality, Snapshot};
use std::time::Duration;

/// Every alarm of a site, in the order of its file; those of the system at the end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    pub alarms: Vec<Exercised>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exercised {
    pub tank: String,
    pub code: String,
    pub activated: bool,
    pub acknowledged: bool,
    pub cleared: bool,
    /// What it watches was bad while it was watched.
    pub bad: bool,
    /// The contact that it watches, by its place in the site.
    contact: Option<usize>,
}

impl Coverage {
    pub fn new(plan: &Plan) -> Self {
        let of = |tank: &str, alarm: &AlarmPlan| Exercised {
            tank: tank.to_owned(),
            code: alarm.code.to_string(),
            activated: false,
            acknowledged: false,
            cleared: false,
            bad: false,
            contact: match alarm.watch {
                Watch::Contact(contact) => Some(contact.index()),
                _ => None,
            },
        };
        let tanks = plan.tanks.iter();
        let alarms = tanks.flat_map(|tank| tank.alarms.iter().map(|alarm| of(&tank.name, alarm)));
        let of_system = plan.system.iter().map(|alarm| of(SYSTEM, alarm));
        Self {
            alarms: alarms.chain(of_system).collect(),
        }
    }

    /// Takes an event, with the state of everything at its moment where that is asked for.
    pub fn take(&mut self, event: &Event, snapshot: impl FnOnce() -> Snapshot) {
        match event.kind {
            EventKind::Alarm | EventKind::Quality | EventKind::Link => self.look(&snapshot()),
            _ => {}
        }
        let (EventKind::Alarm, Some(_), Some(code)) = (event.kind, &event.person, &event.code)
        else {
            return;
        };
        let owner = event.tank.as_deref().unwrap_or(SYSTEM);
        let waited = [
            AlarmState::Unacknowledged,
            AlarmState::ReturnedUnacknowledged,
            AlarmState::LatchedUnacknowledged,
        ];
        let answered = [
            AlarmState::Acknowledged,
            AlarmState::Normal,
            AlarmState::LatchedAcknowledged,
        ];
        let is_in = |state: Option<AlarmState>, of: &[AlarmState]| {
            state.is_some_and(|state| of.contains(&state))
        };
        if is_in(event.from, &waited) && is_in(event.to, &answered) {
            for alarm in &mut self.alarms {
                alarm.acknowledged |= alarm.tank == owner && alarm.code == **code;
            }
        }
    }

    /// What runs underneath counts, hidden or not.
    fn look(&mut self, snapshot: &Snapshot) {
        for alarm in &mut self.alarms {
            let mut shown = snapshot.alarms();
            let view =
                shown.find(|(owner, view)| *owner == alarm.tank && *view.code == *alarm.code);
            let Some((_, view)) = view else { continue };
            alarm.cleared |= alarm.activated && !view.active;
            alarm.activated |= view.process != Process::Normal || view.active;
            let is_bad = match alarm.contact {
                Some(contact) => snapshot.contacts[contact].quality == Quality::Bad,
                None => snapshot
                    .tanks
                    .iter()
                    .any(|tank| *tank.name == *alarm.tank && tank.reading.quality == Quality::Bad),
            };
            alarm.bad |= is_bad && snapshot.up > WARM_UP;
        }
    }

    /// What another script has exercised of the same site.
    pub fn add(&mut self, other: &Coverage) {
        for (alarm, more) in self.alarms.iter_mut().zip(&other.alarms) {
            alarm.activated |= more.activated;
            alarm.acknowledged |= more.acknowledged;
            alarm.cleared |= more.cleared;
            alarm.bad |= more.bad;
        }
    }
}

/// Until then readings are bad because nothing has been read yet.
const WARM_UP: Duration = Duration::from_secs(5);
