//! Other values than those of running signals: stated ones, for a reading that is worked by hand, and nudged
//! ones, for the uncertainty budget.

use super::Signals;
use crate::engine::ids::TransmitterId;
use crate::engine::plan::Plan;
use crate::engine::quality::Reason;
use crate::engine::signal::{SignalValue, in_range};
use std::cell::RefCell;
use std::collections::BTreeSet;

/// What somebody says that each transmitter shows; remembers which ones were asked for and not stated.
#[derive(Clone, Debug)]
pub struct Stated {
    values: Vec<Option<SignalValue>>,
    missing: RefCell<BTreeSet<TransmitterId>>,
}

impl Stated {
    pub fn new(plan: &Plan) -> Self {
        Self {
            values: vec![None; plan.transmitters.len()],
            missing: RefCell::default(),
        }
    }

    /// States what a transmitter shows, in SI units before its zero is subtracted.
    pub fn set(&mut self, plan: &Plan, transmitter: TransmitterId, shown: f64) {
        let transmitter_plan = &plan.transmitters[transmitter.index()];
        self.values[transmitter.index()] =
            Some(in_range(transmitter_plan, shown - transmitter_plan.zero));
    }

    /// The transmitters that were needed and not stated.
    pub fn missing(&self) -> Vec<TransmitterId> {
        self.missing.borrow().iter().copied().collect()
    }
}

impl Signals for Stated {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        self.values[transmitter.index()].unwrap_or_else(|| {
            self.missing.borrow_mut().insert(transmitter);
            SignalValue {
                reasons: Reason::WaitingForData.into(),
                ..SignalValue::default()
            }
        })
    }

    fn last(&self, _transmitter: TransmitterId) -> Option<f64> {
        None
    }
}

/// The same signals, but for one transmitter that reads a little more, in SI units.
#[derive(Debug)]
pub(super) struct Nudged<'s, S> {
    pub signals: &'s S,
    pub transmitter: TransmitterId,
    pub by: f64,
}

impl<S: Signals> Nudged<'_, S> {
    fn nudged(&self, transmitter: TransmitterId, value: Option<f64>) -> Option<f64> {
        let by = if transmitter == self.transmitter {
            self.by
        } else {
            0.0
        };
        value.map(|value| value + by)
    }
}

impl<S: Signals> Signals for Nudged<'_, S> {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        let said = self.signals.value(transmitter);
        SignalValue {
            value: self.nudged(transmitter, said.value),
            ..said
        }
    }

    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        self.nudged(transmitter, self.signals.last(transmitter))
    }
}
