//! A test is over: the tank goes on from what it really was, and how it went is told and remembered.

use super::{LiveTest, Phase};
use crate::engine::Effect;
use crate::engine::alarm::{Cause, Transition};
use crate::engine::plan::AlarmPlan;
use crate::engine::step::Engine;
use crate::quantity::span;
use std::sync::Arc;
use std::time::Duration;

impl Engine {
    /// What really goes on matters more.
    pub(super) fn cut_test(&mut self, why: &str, effects: &mut Vec<Effect>) {
        self.finish_test(Some(why), effects);
    }

    /// `cut`: why it was ended before it could be judged.
    pub(super) fn finish_test(&mut self, cut: Option<&str>, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        let Some(test) = &mut self.live_test else {
            return;
        };
        let (index, place) = (test.tank, test.place);
        // From here on the other one is what the test has made of it.
        std::mem::swap(&mut self.tanks[index], &mut test.real);
        for place in 0..plan.tanks[index].alarms.len() {
            self.tell_as_before(index, place, effects);
        }
        let Some(test) = &self.live_test else { return };
        let passed = cut.is_none() && test.annunciated.is_some() && test.cleared.is_some();
        let (by, went) = (
            Arc::clone(&test.by),
            test.went(&plan.tanks[index].alarms[place], self.last.up),
        );
        let text = match (cut, passed) {
            (Some(why), _) => format!("live test cut short: {why}. It counts for nothing; {went}"),
            (None, true) => format!("live test passed: {went}"),
            (None, false) => format!("live test FAILED: {went}"),
        };
        self.tell_test(index, place, Some(&by), text.clone(), effects);
        self.keep_test(index, place, (by, passed, text.into()), effects);
        self.live_test = None;
    }

    /// An alarm that the test has moved is shown as it was; whoever was told of it is told no more.
    fn tell_as_before(&mut self, index: usize, place: usize, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        let tank = &plan.tanks[index];
        let Some(test) = &self.live_test else { return };
        let (was, is) = (&test.real.alarms[place], &self.tanks[index].alarms[place]);
        if was.state() == is.state() {
            return;
        }
        let transition = Transition {
            from: was.state(),
            to: is.state(),
            process: is.process(),
            cause: Cause::Condition,
            at_start: false,
        };
        let (code, memory) = (&tank.alarms[place].code, is.memory(&tank.alarms[place]));
        let text = "as it was before the test".to_owned();
        let event = self.numbered(&tank.name, code, transition, None, text);
        self.heard(&tank.alarms[place], &tank.title, transition, &event);
        effects.push(Effect::Event(event));
        effects.push(Effect::Keep {
            tank: Arc::clone(&tank.name),
            code: Arc::clone(code),
            memory,
        });
    }
}

impl LiveTest {
    /// How it went, in words.
    fn went(&self, alarm: &AlarmPlan, up: Duration) -> String {
        let after = |at: Duration| {
            let took = at.saturating_sub(self.began.up);
            span(Duration::from_millis(
                took.as_millis().try_into().unwrap_or(u64::MAX),
            ))
        };
        let Some(annunciated) = self.annunciated else {
            let lasted = self.until.min(up);
            return format!("not annunciated within {}", after(lasted));
        };
        let answered = match &self.acknowledged {
            Some((at, person)) => format!("acknowledged by {person} after {}", after(*at)),
            None => "not acknowledged".to_owned(),
        };
        let cleared = match (self.phase, self.cleared) {
            (Phase::TakenAway { since, .. }, Some(at)) => format!(
                "cleared {} after the value was taken away",
                span(at.saturating_sub(since))
            ),
            (Phase::TakenAway { .. }, None) => "did not clear".to_owned(),
            (Phase::PutIn, _) => "the value was still put in".to_owned(),
        };
        format!(
            "annunciated after {} (on-delay {}), {answered}, {cleared}",
            after(annunciated),
            span(alarm.on_delay)
        )
    }
}
