//! After a restart: what was kept is taken up again, and what nobody saw meanwhile is said.
//!
//! What always holds: nothing is decided before the first good data; what is restored is shown as questionable
//! until then; a number of an event is never given twice.

use super::alarm::{Alarm, Cause, Process, Transition};
use super::annunciation::At;
use super::event::{EventKind, SYSTEM};
use super::memory::{AlarmMemory, Memory};
use super::plan::{AlarmPlan, Plan, Priority, Record, SystemPart};
use super::snapshot::{AlarmView, GoneView};
use super::step::Engine;
use super::{Effect, words};
use std::sync::Arc;

/// An alarm that the site file does not have any more.
#[derive(Clone, Debug)]
pub struct Removed {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    pub alarm: Alarm,
    memory: AlarmMemory,
    /// Somebody has yet to answer it, or did so in this run.
    is_shown: bool,
}

impl Engine {
    /// Takes up what an earlier run has kept.
    pub(super) fn take_up(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        self.tell_blind_interval(memory, effects);
        let waits =
            |(_, _, kept): &(String, String, AlarmMemory)| kept.state == Process::Unacknowledged;
        if memory.alarms.iter().any(waits) {
            // Whoever silenced it was told of another run.
            self.horn.since = Some(self.last.utc);
        }
        let is_behind = memory.last_time.is_some_and(|last| self.last.utc < last);
        if is_behind {
            let what = "the clock stands before the last entry of the journal";
            self.note_occurrence(SystemPart::Clock, what.into());
        }
        for (tank, code, kept) in &memory.alarms {
            match self.plan.find_alarm(tank, code) {
                Some(at) => self.restore(at, kept, is_behind, effects),
                None => self.remove(tank, code, kept, effects),
            }
        }
    }

    fn tell_blind_interval(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        let Some(last) = memory.last_time else { return };
        self.blind_since = Some(last);
        let now = self.last.utc;
        let text = if now < last {
            format!(
                "the clock stands at {now:.0}, before the last entry of {last:.0}: how long nobody watched is not known, shelves are over"
            )
        } else {
            format!(
                "nobody watched from {last:.0} to {now:.0}: what came and went in between is not known"
            )
        };
        self.event(EventKind::Blind, None, None, text, effects);
        let fingerprint = Arc::clone(&self.plan.fingerprint);
        if let Some(was) = memory
            .fingerprint
            .as_ref()
            .filter(|was| ***was != *fingerprint)
        {
            let text = format!(
                "the site file has changed: it was {was}, it is {fingerprint}; changed limits are judged anew"
            );
            self.event(EventKind::SiteFile, None, None, text, effects);
        }
    }

    fn restore(&mut self, at: At, kept: &AlarmMemory, is_behind: bool, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        let alarm_plan = plan.alarm_at(at);
        let mut alarm = Alarm::restored(alarm_plan, kept, self.last);
        let unshelved = is_behind
            .then(|| alarm.unshelve(Cause::ShelfUndeterminable))
            .flatten();
        *self.alarm_at_mut(at) = alarm;
        if let Some(transition) = unshelved {
            let text = words::alarm(alarm_plan, self.alarm_at(at), transition, "");
            self.alarm_event(at, transition, None, text, effects);
        }
    }

    /// An alarm that is gone from the site file is closed by an event, and shown until it is answered.
    fn remove(&mut self, tank: &str, code: &str, kept: &AlarmMemory, effects: &mut Vec<Effect>) {
        let has_tank = self.plan.has_tank(tank);
        let mut alarm = Alarm::kept(kept);
        let transition = alarm.remove();
        let text = if has_tank {
            "closed: the site file does not have this alarm any more"
        } else {
            "closed: the site file does not have this tank any more"
        };
        let is_shown = alarm.process() != Process::Normal;
        let mut removed = Removed {
            tank: tank.into(),
            code: code.into(),
            alarm,
            memory: kept.clone(),
            is_shown,
        };
        if let Some(transition) = transition {
            self.removed_event(&mut removed, transition, None, text.to_owned(), effects);
        }
        self.removed.push(removed);
    }

    /// Answers an alarm that is gone from the site file.
    pub(super) fn acknowledge_removed(
        &mut self,
        place: usize,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Option<Transition> {
        let mut removed = self.removed[place].clone();
        let transition = removed.alarm.acknowledge(self.last.up)?;
        let text = "acknowledged after it was gone from the site file".to_owned();
        self.removed_event(&mut removed, transition, Some(by), text, effects);
        self.removed[place] = removed;
        Some(transition)
    }

    fn removed_event(
        &mut self,
        removed: &mut Removed,
        transition: Transition,
        by: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        let event = self.numbered(&removed.tank, &removed.code, transition, by, text);
        removed.alarm.record(transition, event.time, event.number);
        removed.memory = removed.alarm.remembered(&removed.memory);
        effects.push(Effect::Event(event));
        effects.push(Effect::Keep {
            tank: Arc::clone(&removed.tank),
            code: Arc::clone(&removed.code),
            memory: removed.memory.clone(),
        });
    }

    /// What is gone and has no tank of the site file to be shown with, and what is closed for good.
    pub(super) fn gone_views(&self) -> Vec<GoneView> {
        let gone = self.removed.iter().map(|removed| GoneView {
            tank: Arc::clone(&removed.tank),
            code: Arc::clone(&removed.code),
            is_tank_gone: !self.plan.has_tank(&removed.tank),
            alarm: removed.view(),
        });
        gone.filter(|gone| gone.is_tank_gone || gone.alarm.is_none())
            .collect()
    }
}

impl Removed {
    pub fn priority(&self) -> Priority {
        self.memory.priority
    }

    /// None where there is nothing to answer any more, since before this run.
    pub(super) fn view(&self) -> Option<AlarmView> {
        self.is_shown.then(|| AlarmView {
            code: Arc::clone(&self.code),
            state: self.alarm.state(),
            questionable: false,
            active: false,
            since: self.alarm.since(),
            activation: self.alarm.activation(),
            priority: self.priority(),
            limit: None,
            value: None,
            unit: None,
            record: Arc::new(Record::default()),
            process: self.alarm.process(),
            latching: false,
            shelf: None,
            suppressed: None,
            out_of_service: None,
            removed: true,
            follows: Vec::new(),
            test: false,
        })
    }
}

impl Plan {
    pub(super) fn find_alarm(&self, tank: &str, code: &str) -> Option<At> {
        let find = |alarms: &[AlarmPlan]| alarms.iter().position(|plan| *plan.code == *code);
        if *tank == *SYSTEM {
            return find(&self.system).map(At::System);
        }
        let index = self.tanks.iter().position(|plan| *plan.name == *tank)?;
        find(&self.tanks[index].alarms).map(|place| At::Tank(index, place))
    }

    /// Whether there is such a tank, the system being one.
    fn has_tank(&self, tank: &str) -> bool {
        *tank == *SYSTEM || self.tanks.iter().any(|plan| *plan.name == *tank)
    }
}
