//! Where the engine and its notices meet: transitions in, notices and what must be remembered out.

use super::call::Annunciation;
use super::state::At;
use super::{NoticeId, NoticesView, Outcome};
use crate::engine::alarm::{AlarmState, Cause, Transition};
use crate::engine::command::{Done, Refusal};
use crate::engine::event::{Event, EventKind, TEST_MARK};
use crate::engine::memory::{NoticesMemory, Remembered, RememberedKind};
use crate::engine::plan::{AlarmPlan, Plan, SystemPart};
use crate::engine::step::Engine;
use crate::engine::{Effect, Now};
use std::cmp::Reverse;
use std::sync::Arc;

/// What the number of the last notice is remembered under.
const SITE: &str = "site";

impl Engine {
    /// A transition of any alarm, with its event: it may have to be told, or it ends the telling.
    pub(in crate::engine) fn heard(
        &mut self,
        alarm: &AlarmPlan,
        title: &Arc<str>,
        transition: Transition,
        event: &Event,
    ) {
        let plan = Arc::clone(&self.plan);
        let (Some(tank), true) = (&event.tank, !plan.notices.routes.is_empty()) else {
            return;
        };
        let at = at(&plan, self.last);
        let is_new = transition.from != transition.to || transition.cause == Cause::ReAlarm;
        match transition.to {
            AlarmState::Unacknowledged if is_new => self.notices.annunciate(
                at,
                Annunciation {
                    tank: Arc::clone(tank),
                    title: Arc::clone(title),
                    code: Arc::clone(&alarm.code),
                    priority: alarm.priority,
                    record: Arc::clone(&alarm.record),
                    activation: event.number,
                    since: event.time,
                    what: what(alarm, &event.text),
                    test: event.is_test(),
                },
            ),
            AlarmState::ReturnedUnacknowledged | AlarmState::LatchedUnacknowledged if is_new => {
                self.notices.returned(at, tank, &alarm.code);
            }
            to if !to.needs_acknowledgement() => self.notices.end(tank, &alarm.code),
            _ => {}
        }
    }

    /// An outcome, as an event; what did not arrive is told to the next.
    pub(in crate::engine) fn take_outcome(
        &mut self,
        id: NoticeId,
        outcome: &Outcome,
        effects: &mut Vec<Effect>,
    ) {
        let plan = Arc::clone(&self.plan);
        let told = self.notices.delivered(at(&plan, self.last), id, outcome);
        let Some(told) = told else { return };
        self.note_undelivered(&told.text, told.failed);
        let (tank, code) = (told.tank.as_ref(), told.code.as_ref());
        let person = Some(&told.recipient);
        self.person_event(EventKind::Notice, tank, code, person, told.text, effects);
    }

    /// An undelivered notice is an alarm of the system, until everybody who was not reached has been.
    fn note_undelivered(&mut self, text: &str, failed: bool) {
        if failed {
            self.note_system(SystemPart::Notice, Some(text.into()));
        } else if self.notices.unreached.is_empty() {
            self.note_system(SystemPart::Notice, None);
        }
    }

    pub(in crate::engine) fn test_notice(
        &mut self,
        name: &str,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let plan = Arc::clone(&self.plan);
        let route = plan.notices.route_named(name);
        let route = route.ok_or_else(|| Refusal::UnknownNotice {
            name: name.to_owned(),
        })?;
        self.notices.test(at(&plan, self.last), route, Some(by));
        let to = plan.notices.names(plan.notices.route(route));
        let text = format!("a test of the notice \"{name}\" to {to}");
        self.person_event(EventKind::Notice, None, None, Some(by), text, effects);
        Ok(Done(format!(
            "a test goes to {to}; what becomes of it is an event of kind notice"
        )))
    }

    /// What time brings about, and then everything that this step has to tell and to remember.
    pub(in crate::engine) fn tend_notices(&mut self, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        if plan.notices.routes.is_empty() {
            return;
        }
        let at = at(&plan, self.last);
        self.notices.let_time_tell(at);
        while let Some(id) = self.notices.beyond_bounds() {
            let why = Outcome::Failed("nobody has said what became of it".into());
            self.take_outcome(id, &why, effects);
        }
        for text in std::mem::take(&mut self.notices.told) {
            self.event(EventKind::Notice, None, None, text, effects);
        }
        if self.notices.out.is_empty() && !self.notices.has_changed() {
            return;
        }
        self.remember_calls(at, effects);
        if !self.notices.out.is_empty() {
            effects.push(Effect::Remember {
                kind: RememberedKind::Notices,
                of: SITE.into(),
                memory: Some(Remembered::Notices(NoticesMemory {
                    last: self.notices.last,
                })),
            });
        }
        let mut out = std::mem::take(&mut self.notices.out);
        out.sort_by_key(|notice| Reverse(notice.priority));
        effects.extend(out.into_iter().map(Effect::Notify));
    }

    pub(in crate::engine) fn notices_view(&self) -> NoticesView {
        self.notices.view(at(&self.plan, self.last))
    }

    /// The wall clock was stepped.
    pub(in crate::engine) fn time_notices_anew(&mut self) {
        let plan = Arc::clone(&self.plan);
        self.notices.clock_stepped(at(&plan, self.last));
    }
}

pub(super) fn at(plan: &Plan, now: Now) -> At<'_> {
    At {
        plan: &plan.notices,
        site: &plan.site,
        now,
    }
}

/// How the condition stands, without what the notice says elsewhere.
fn what(alarm: &AlarmPlan, text: &str) -> Arc<str> {
    let text = text.strip_prefix(TEST_MARK).unwrap_or(text);
    let response = alarm.record.response.as_ref();
    let response = response.map(|response| format!(". Response: {response}"));
    let bare = response.and_then(|response| text.strip_suffix(&*response));
    bare.unwrap_or(text).into()
}
