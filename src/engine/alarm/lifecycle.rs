//! One alarm: its condition with delays, and its way through the states of ANSI/ISA-18.2 (IEC 62682).
//!
//! | from | event | to |
//! | --- | --- | --- |
//! | normal | true for the on-delay | unacknowledged |
//! | unacknowledged | acknowledge | acknowledged |
//! | unacknowledged | false for the off-delay | returned, unacknowledged |
//! | acknowledged | false for the off-delay | normal |
//! | returned, unacknowledged | acknowledge / true again | normal / unacknowledged |
//!
//! Delays run in process time. Bad data never clear an alarm and never invent one: they do not reset
//! a running on-delay, count towards it if the last value was beyond the limit, and restart the off-delay.

use super::Process;
use crate::engine::memory::AlarmMemory;
use crate::engine::plan::{AlarmPlan, OnBad};
use crate::quantity::Timestamp;
use std::time::Duration;

/// What the data say of the condition at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judgement {
    True,
    False,
    /// The data cannot say: bad quality, or a bound on the wrong side.
    Undecided,
}

/// A change of state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Transition {
    pub from: Process,
    pub to: Process,
}

#[derive(Clone, Copy, Debug)]
pub struct Alarm {
    state: Process,
    /// The condition as last decided, without delays.
    condition: bool,
    /// Since when the condition differs from the state's activity.
    differs_since: Option<Duration>,
    questionable: bool,
    since: Option<Timestamp>,
    activation: Option<u64>,
}

impl Default for Alarm {
    fn default() -> Self {
        Self {
            state: Process::Normal,
            condition: false,
            differs_since: None,
            questionable: false,
            since: None,
            activation: None,
        }
    }
}

impl Alarm {
    pub fn state(&self) -> Process {
        self.state
    }
    /// The condition as last decided: inside the deadband it stands.
    pub fn condition(&self) -> bool {
        self.condition
    }
    pub fn questionable(&self) -> bool {
        self.questionable
    }
    pub fn since(&self) -> Option<Timestamp> {
        self.since
    }
    /// The event number of the present activation.
    pub fn activation(&self) -> Option<u64> {
        self.activation
    }

    /// Takes what the data say, and time; at most one transition.
    pub fn observe(
        &mut self,
        plan: &AlarmPlan,
        judgement: Judgement,
        up: Duration,
    ) -> Option<Transition> {
        self.questionable = judgement == Judgement::Undecided && plan.on_bad == OnBad::Hold;
        match (judgement, plan.on_bad) {
            (Judgement::True, _) | (Judgement::Undecided, OnBad::Annunciate) => {
                self.condition = true
            }
            (Judgement::False, _) | (Judgement::Undecided, OnBad::Clear) => self.condition = false,
            (Judgement::Undecided, OnBad::Hold) => {}
        }
        let active = self.state.is_active();
        if self.condition == active {
            self.differs_since = None;
            return None;
        }
        if active && self.questionable {
            // Nothing says that it is over: the off-delay begins anew.
            self.differs_since = None;
            return None;
        }
        let since = *self.differs_since.get_or_insert(up);
        let delay = if active {
            plan.off_delay
        } else {
            plan.on_delay
        };
        (up.saturating_sub(since) >= delay).then(|| self.turn())
    }

    /// Acknowledges; none where there is nothing to acknowledge.
    pub fn acknowledge(&mut self) -> Option<Transition> {
        let to = match self.state {
            Process::Unacknowledged => Process::Acknowledged,
            Process::ReturnedUnacknowledged => Process::Normal,
            _ => return None,
        };
        Some(self.go(to))
    }

    /// Records when the present state began and, for an activation, the number of its event.
    pub fn record(&mut self, transition: Transition, time: Timestamp, event: u64) {
        self.since = Some(time);
        match transition.to {
            Process::Unacknowledged => self.activation = Some(event),
            Process::Normal => self.activation = None,
            _ => {}
        }
    }

    /// What must survive a restart.
    pub fn memory(&self, plan: &AlarmPlan) -> AlarmMemory {
        AlarmMemory {
            state: self.state,
            since: self.since,
            activation: self.activation,
            shelf: None,
            suppressed: None,
            suppression_spent: false,
            out_of_service: None,
            limit: format!("{:?} {:?}", plan.watch, plan.limit).into(),
            priority: plan.priority,
        }
    }

    /// When a running delay ends.
    pub fn due(&self, plan: &AlarmPlan) -> Option<Duration> {
        let delay = if self.state.is_active() {
            plan.off_delay
        } else {
            plan.on_delay
        };
        self.differs_since.map(|since| since + delay)
    }

    /// The condition has won over the state.
    fn turn(&mut self) -> Transition {
        let to = match self.state {
            Process::Normal | Process::ReturnedUnacknowledged => Process::Unacknowledged,
            Process::Unacknowledged => Process::ReturnedUnacknowledged,
            Process::Acknowledged => Process::Normal,
            latched => latched,
        };
        self.go(to)
    }

    fn go(&mut self, to: Process) -> Transition {
        let from = std::mem::replace(&mut self.state, to);
        self.differs_since = None;
        Transition { from, to }
    }
}

#[cfg(test)]
#[path = "lifecycle_tests.rs"]
mod tests;
