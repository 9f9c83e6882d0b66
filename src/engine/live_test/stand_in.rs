//! What a transmitter would read at a level: the level is worked out again and again until it is that one, so
//! that every hookup is turned round by the one way from pressures to a level.

use super::{LiveTest, Phase, Value};
use crate::engine::contact::ContactValue;
use crate::engine::ids::{ContactId, TransmitterId};
use crate::engine::plan::{Plan, TankPlan};
use crate::engine::quality::Reason;
use crate::engine::signal::{SignalValue, in_range};
use crate::engine::tank::{Signals, Working};
use crate::quantity::Length;

/// Where the search begins, Pa: a metre of water and nothing; levels of m, shares and densities are on a line, too.
const FIRST_STEP_PA: f64 = 10_000.0;
/// Close enough, m.
const CLOSE_M: f64 = 1e-6;
/// A straight line is hit at once; bent ones (a sloped cylinder, a purge gas under its own pressure) nearly so.
const MOST_TRIES: usize = 30;

/// The signals, but for one that is put in.
#[derive(Debug)]
pub(in crate::engine) struct Put<'s, S> {
    pub signals: &'s S,
    pub transmitter: TransmitterId,
    pub said: SignalValue,
}

impl<S: Signals> Signals for Put<'_, S> {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        if transmitter == self.transmitter {
            self.said
        } else {
            self.signals.value(transmitter)
        }
    }

    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        if transmitter == self.transmitter {
            self.said.value
        } else {
            self.signals.last(transmitter)
        }
    }

    fn contact(&self, contact: ContactId) -> ContactValue {
        self.signals.contact(contact)
    }
}

impl LiveTest {
    /// What stands in for the signal now; none once it is taken away, or where no reading gives that level.
    pub(super) fn said(&self, plan: &Plan, signals: &impl Signals) -> Option<SignalValue> {
        if self.phase != Phase::PutIn {
            return None;
        }
        said(plan, self.tank, self.transmitter, self.value, signals)
    }
}

/// A value as the transmitter would say it.
pub(super) fn said(
    plan: &Plan,
    tank: usize,
    transmitter: TransmitterId,
    value: Value,
    signals: &impl Signals,
) -> Option<SignalValue> {
    let reads = match value {
        Value::Reads(reads) => reads,
        Value::Level(level) => reads_at(plan, &plan.tanks[tank], transmitter, level, signals)?,
    };
    let mut said = in_range(&plan.transmitters[transmitter.index()], reads);
    said.reasons.add(Reason::TestValue);
    Some(said)
}

/// What a transmitter reads at a level, all others reading what they read.
fn reads_at(
    plan: &Plan,
    tank: &TankPlan,
    transmitter: TransmitterId,
    level: Length,
    signals: &impl Signals,
) -> Option<f64> {
    let hookup = tank
        .hookups
        .iter()
        .find(|hookup| hookup.hookup.transmitters().any(|id| id == transmitter))?;
    let off = |reads: f64| {
        let put = Put {
            signals,
            transmitter,
            said: SignalValue::stated(reads),
        };
        let working = Working::of(plan, tank, hookup, &put, None);
        working.corrected.map(|found| (found - level).value)
    };
    let mut before = signals.value(transmitter).value.unwrap_or(0.0);
    let mut off_before = off(before)?;
    let mut reads = before + FIRST_STEP_PA.min(1.0_f64.max(before.abs()));
    for _ in 0..MOST_TRIES {
        let off_now = off(reads)?;
        if off_now.abs() < CLOSE_M {
            return reads.is_finite().then_some(reads);
        }
        // Secant: x − f(x)·(x − x₀)/(f(x) − f(x₀))
        let next = reads - off_now * (reads - before) / (off_now - off_before);
        if !next.is_finite() {
            return None;
        }
        (before, off_before, reads) = (reads, off_now, next);
    }
    None
}
