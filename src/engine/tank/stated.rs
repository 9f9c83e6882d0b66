//! Stated values in place of running signals: for a reading that is worked by hand.

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
