//! A live test of one alarm: a value is put in at a transmitter, after its scale, so that all that comes after it
//! is really exercised; for one tank, for a short time.
//!
//! What always holds: meanwhile the tank as it really is runs on beside, read from the real signals. Whatever it
//! would tell ends the test at once, and is then told as ever. All that follows from the value is marked
//! [`TEST_MARK`](super::event::TEST_MARK) and reaches no memory: once the test is over the tank goes on from what it
//! really was, and so it does after a restart in the midst of it. Other tanks see the real signal all along.

mod begin;
mod finish;
mod records;
mod stand_in;
mod watch;

pub use records::Tested;
pub(super) use stand_in::Put;

use super::ids::TransmitterId;
use super::snapshot::TestView;
use super::step::Engine;
use super::tank::TankState;
use super::{Now, event::TEST_MARK};
use crate::quantity::Length;
use std::sync::Arc;
use std::time::Duration;

/// What is asked of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct TestValue {
    /// The transmitter's tag; the one on the liquid if left out.
    pub at: Option<String>,
    pub value: Value,
    pub time: Duration,
}

/// What is put in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// What the transmitter would read at that level, from the site's zero.
    Level(Length),
    /// What the transmitter reads, in SI units.
    Reads(f64),
}

#[derive(Clone, Debug)]
pub struct LiveTest {
    /// The tank and its alarm, by their places in the plan.
    tank: usize,
    place: usize,
    transmitter: TransmitterId,
    value: Value,
    /// The value in words.
    said: Arc<str>,
    by: Arc<str>,
    began: Now,
    /// When the value is taken away again.
    until: Duration,
    phase: Phase,
    /// The tank as it really is; its alarms as they were before.
    real: TankState,
    annunciated: Option<Duration>,
    acknowledged: Option<(Duration, Arc<str>)>,
    cleared: Option<Duration>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    /// The value stands in for the signal.
    PutIn,
    /// The signal counts again since then, and the alarm is to clear by then.
    TakenAway { since: Duration, by: Duration },
}

impl Engine {
    /// Whether what comes from a tank now comes from a test.
    pub(super) fn is_under_test(&self, tank: usize) -> bool {
        self.live_test
            .as_ref()
            .is_some_and(|test| test.tank == tank)
    }

    /// A text of an event, marked where it follows from a test: the one place where that is decided.
    pub(super) fn marked(&self, tank: Option<&Arc<str>>, text: String) -> String {
        let tested = self.live_test.as_ref();
        let tested = tested.map(|test| &self.plan.tanks[test.tank].name);
        if tested.is_some() && tested == tank {
            format!("{TEST_MARK}{text}")
        } else {
            text
        }
    }

    /// When time alone goes on with the test.
    pub(super) fn test_due(&self) -> Option<Duration> {
        self.live_test.as_ref().map(|test| match test.phase {
            Phase::PutIn => test.until,
            Phase::TakenAway { by, .. } => by,
        })
    }

    pub(super) fn test_view(&self, tank: usize) -> Option<TestView> {
        let test = self.live_test.as_ref().filter(|test| test.tank == tank)?;
        let left = test.until.saturating_sub(test.began.up);
        Some(TestView {
            code: Arc::clone(&self.plan.tanks[tank].alarms[test.place].code),
            tag: Arc::clone(&self.plan.transmitters[test.transmitter.index()].tag),
            value: Arc::clone(&test.said),
            by: Arc::clone(&test.by),
            since: test.began.utc,
            until: test.began.utc.checked_add(left).unwrap_or(test.began.utc),
            is_put_in: test.phase == Phase::PutIn,
        })
    }
}
