//! One alarm: its condition with delays, and its way through the states of ANSI/ISA-18.2 (IEC 62682).
//!
//! | from | event | to |
//! | --- | --- | --- |
//! | A normal | true for the on-delay | B |
//! | B unacknowledged | acknowledge | C |
//! | B | false for the off-delay | D, latching: E |
//! | C acknowledged | false for the off-delay | A, latching: F |
//! | C | the re-alarm time is up while active | B |
//! | D returned, unacknowledged | acknowledge / true again | A / B |
//! | E latched, unacknowledged | acknowledge / true again / reset | F / B / refused |
//! | F latched, acknowledged | reset / true again | A / B |
//! | A to F | shelved, suppressed by design, out of service | hidden; A to F run on underneath |
//! | hidden | the last of the three ends | active: B; E and F stay; else A |
//!
//! Delays run in process time. Bad data never clear an alarm and never invent one: they do not reset
//! a running on-delay, count towards it if the last value was beyond the limit, and restart the off-delay.
//! Where the table is silent a person is refused and a condition ignored.

use super::flags::{Flags, Wanted};
use super::{AlarmState, Process};
use crate::engine::Now;
use crate::engine::memory::AlarmMemory;
use crate::engine::plan::{AlarmPlan, OnBad, Priority};
use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

/// What the data say of the condition at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judgement {
    True,
    False,
    /// The data cannot say: bad quality, or a bound on the wrong side.
    Undecided,
}

/// Everything that an alarm is shown at one moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seen {
    /// None while the first data are waited for: nothing is decided.
    pub judgement: Option<Judgement>,
    pub suppress: Wanted,
    /// Instead of its own, where it tells for others as well.
    pub on_delay: Option<Duration>,
}

/// Why an alarm changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    Condition,
    ReAlarm,
    Acknowledged,
    Reset,
    Shelved,
    Unshelved,
    ShelfTimeUp,
    /// A one-shot shelf: the condition has cleared.
    ShelfCleared,
    /// The wall clock stands before the last entry: the deadline means nothing.
    ShelfUndeterminable,
    Suppressed,
    SuppressionOver,
    SuppressionTooLong,
    OutOfService,
    Returned,
    /// The site file does not have it any more.
    Removed,
}

/// A change; the states are those that are shown, so both are the same where it stays hidden.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Transition {
    pub from: AlarmState,
    pub to: AlarmState,
    /// What it came to underneath.
    pub process: Process,
    pub cause: Cause,
    /// The condition was already so when the first data after the start came.
    pub at_start: bool,
}

#[derive(Clone, Debug, Default)]
pub struct Alarm {
    process: Process,
    /// The condition as last decided, without delays.
    condition: bool,
    /// It is true only because the data are bad.
    by_bad: bool,
    /// Since when the condition differs from the state's activity.
    differs_since: Option<Duration>,
    questionable: bool,
    /// As last seen: instead of the plan's.
    on_delay: Option<Duration>,
    flags: Flags,
    /// When it was acknowledged, for the re-alarm.
    answered: Option<Duration>,
    since: Option<Timestamp>,
    activation: Option<u64>,
    first: First,
    /// Its limit came within reach of what a jump makes unknown, and that was told.
    pub possible_told: bool,
}

/// What the first data after the start said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum First {
    #[default]
    Waiting,
    True,
    False,
    Over,
}

impl Alarm {
    /// As it was kept.
    pub fn kept(memory: &AlarmMemory) -> Self {
        Self {
            process: memory.state,
            by_bad: memory.by_bad,
            flags: Flags::restored(memory),
            since: memory.since,
            activation: memory.activation,
            ..Self::default()
        }
    }

    /// As it was before the restart; shown as questionable until there are data.
    pub fn restored(plan: &AlarmPlan, memory: &AlarmMemory, now: Now) -> Self {
        let unchanged = *memory.limit == *limit_of(plan);
        Self {
            // A changed limit is judged anew, without the deadband of the old one.
            condition: unchanged && memory.state.is_active(),
            questionable: memory.state != Process::Normal,
            answered: (memory.state == Process::Acknowledged).then_some(now.up),
            ..Self::kept(memory)
        }
    }

    pub fn process(&self) -> Process {
        self.process
    }
    /// As it is shown.
    pub fn state(&self) -> AlarmState {
        self.flags.shown().unwrap_or(self.process.into())
    }
    pub fn is_hidden(&self) -> bool {
        self.flags.shown().is_some()
    }
    pub fn flags(&self) -> &Flags {
        &self.flags
    }
    /// The condition as last decided: inside the deadband it stands.
    pub fn condition(&self) -> bool {
        self.condition
    }
    /// Its condition holds for no other reason than bad data.
    pub fn by_bad(&self) -> bool {
        self.by_bad && self.condition
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

    /// Takes what there is to see, and time; one transition at a time, to be asked again until none is left.
    /// What begins to hide it goes first: within one read the order is no evidence.
    pub fn observe(&mut self, plan: &AlarmPlan, seen: &Seen, now: Now) -> Option<Transition> {
        let before = self.state();
        self.on_delay = seen.on_delay;
        let is_held = match &seen.suppress {
            // What waits for an answer is not hidden because another one tells of bad data.
            Wanted::Elsewhere { teller, .. } if self.waits_for_answer() => {
                self.flags.follow(*teller);
                self.questionable = true;
                true
            }
            _ => false,
        };
        if !is_held && let Some(cause) = self.flags.begin(&seen.suppress, now) {
            return Some(self.told(before, cause));
        }
        if seen.judgement.is_none() {
            self.forget_delay();
        }
        if let Some(judgement) = seen.judgement.filter(|_| !is_held) {
            self.take(plan, judgement);
            if let Some(transition) = self.judge(plan, judgement, now.up) {
                return Some(transition);
            }
        }
        if self.is_re_alarm_due(plan, now.up) {
            self.go(Process::Unacknowledged);
            return Some(self.told(before, Cause::ReAlarm));
        }
        let cause = self
            .flags
            .end(plan.suppress.as_ref(), &seen.suppress, now)?;
        self.emerge();
        Some(self.told(before, cause))
    }

    /// What is watched is not known for now, without being bad: a delay that runs is not to be counted to its end by
    /// data that turn bad long after.
    fn forget_delay(&mut self) {
        if self.differs_since.take().is_some() {
            self.condition = self.process.is_active();
        }
    }

    fn take(&mut self, plan: &AlarmPlan, judgement: Judgement) {
        self.questionable = judgement == Judgement::Undecided && plan.on_bad == OnBad::Hold;
        match (judgement, plan.on_bad) {
            (Judgement::True, _) => (self.condition, self.by_bad) = (true, false),
            (Judgement::False, _) | (Judgement::Undecided, OnBad::Clear) => {
                (self.condition, self.by_bad) = (false, false)
            }
            (Judgement::Undecided, OnBad::Annunciate) => {
                self.by_bad |= !self.condition;
                self.condition = true;
            }
            (Judgement::Undecided, OnBad::Hold) => {}
        }
        self.first = match (self.first, judgement) {
            (First::Waiting, Judgement::True) => First::True,
            (First::Waiting, Judgement::False) => First::False,
            (First::True, Judgement::False) | (First::False, Judgement::True) => First::Over,
            (first, _) => first,
        };
    }

    fn judge(
        &mut self,
        plan: &AlarmPlan,
        judgement: Judgement,
        up: Duration,
    ) -> Option<Transition> {
        let active = self.process.is_active();
        if self.condition == active {
            self.differs_since = None;
            return None;
        }
        if active && judgement == Judgement::Undecided && plan.on_bad == OnBad::Hold {
            // Nothing says that it is over: the off-delay begins anew.
            self.differs_since = None;
            return None;
        }
        let since = *self.differs_since.get_or_insert(up);
        (up.saturating_sub(since) >= self.delay(plan)).then(|| self.turn(plan))
    }

    /// The condition has won over the state.
    fn turn(&mut self, plan: &AlarmPlan) -> Transition {
        let before = self.state();
        // Bad data are not what was found.
        let found = match self.condition {
            true => First::True,
            false => First::False,
        };
        let at_start = self.first == found;
        self.first = First::Over;
        self.differs_since = None;
        let to = match self.process {
            Process::Unacknowledged if plan.latch => Process::LatchedUnacknowledged,
            Process::Unacknowledged => Process::ReturnedUnacknowledged,
            Process::Acknowledged if plan.latch => Process::LatchedAcknowledged,
            Process::Acknowledged => Process::Normal,
            _ => Process::Unacknowledged,
        };
        if !to.is_active() {
            self.flags.condition_cleared();
        }
        self.go(to);
        Transition {
            at_start,
            ..self.told(before, Cause::Condition)
        }
    }

    /// Back to normal, and a person has yet to acknowledge or reset it.
    fn waits_for_answer(&self) -> bool {
        let is_open = self.process != Process::Normal && !self.process.is_active();
        is_open && !self.is_hidden()
    }

    fn is_re_alarm_due(&self, plan: &AlarmPlan, up: Duration) -> bool {
        let due = plan
            .re_alarm
            .zip(self.answered)
            .is_some_and(|(time, answered)| up.saturating_sub(answered) >= time);
        due && self.process == Process::Acknowledged && self.condition && !self.is_hidden()
    }

    /// Where nothing hides it any more: what is active annunciates, with no second on-delay.
    fn emerge(&mut self) {
        if self.is_hidden() {
            return;
        }
        self.go(match self.process {
            Process::Unacknowledged | Process::Acknowledged => Process::Unacknowledged,
            Process::Normal | Process::ReturnedUnacknowledged => Process::Normal,
            latched => latched,
        });
    }

    fn go(&mut self, to: Process) {
        self.process = to;
        self.answered = None;
    }

    fn told(&self, from: AlarmState, cause: Cause) -> Transition {
        Transition {
            from,
            to: self.state(),
            process: self.process,
            cause,
            at_start: false,
        }
    }

    /// Records when the shown state began and, for an activation, the number of its event.
    pub fn record(&mut self, transition: Transition, time: Timestamp, event: u64) {
        let re_alarmed = transition.cause == Cause::ReAlarm;
        if transition.from != transition.to || re_alarmed {
            self.since = Some(time);
            if transition.to == AlarmState::Unacknowledged {
                self.activation = Some(event);
            }
        }
        if self.process == Process::Normal {
            self.activation = None;
        }
    }

    /// What must survive a restart.
    pub fn memory(&self, plan: &AlarmPlan) -> AlarmMemory {
        self.memory_of(limit_of(plan), plan.priority)
    }

    /// The same, of an alarm that has no plan any more.
    pub fn remembered(&self, memory: &AlarmMemory) -> AlarmMemory {
        self.memory_of(Arc::clone(&memory.limit), memory.priority)
    }

    fn memory_of(&self, limit: Arc<str>, priority: Priority) -> AlarmMemory {
        AlarmMemory {
            state: self.process,
            since: self.since,
            activation: self.activation,
            shelf: self.flags.shelf.clone(),
            suppressed: self.flags.suppressed.clone(),
            suppression_spent: self.flags.spent(),
            out_of_service: self.flags.out_of_service.clone(),
            limit,
            priority,
            by_bad: self.by_bad(),
        }
    }

    fn delay(&self, plan: &AlarmPlan) -> Duration {
        if self.process.is_active() {
            plan.off_delay
        } else {
            self.on_delay.unwrap_or(plan.on_delay)
        }
    }

    /// When time alone next changes something.
    #[inline]
    pub fn due(&self, plan: &AlarmPlan, now: Now) -> Option<Duration> {
        let rests =
            self.differs_since.is_none() && self.answered.is_none() && self.flags.are_at_rest();
        if rests { None } else { self.next(plan, now) }
    }

    #[inline(never)]
    fn next(&self, plan: &AlarmPlan, now: Now) -> Option<Duration> {
        let delay = self.differs_since.map(|since| since + self.delay(plan));
        let re_alarm = plan
            .re_alarm
            .zip(self.answered)
            .map(|(time, answered)| answered + time);
        let flags = self.flags.due(plan.suppress.as_ref(), now);
        [delay, re_alarm, flags].into_iter().flatten().min()
    }
}

/// What is watched and its limit, to be compared after a restart.
fn limit_of(plan: &AlarmPlan) -> Arc<str> {
    format!("{:?} {:?} {:?}", plan.watch, plan.limit, plan.deadband).into()
}

#[path = "deeds.rs"]
mod deeds;

#[cfg(test)]
#[path = "lifecycle_tests.rs"]
mod tests;
