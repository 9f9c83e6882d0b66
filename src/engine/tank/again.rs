//! The last working of a hookup, kept for as long as all that it was made from is said again.
//!
//! A working is a pure function of plan, product, trusted density and what its transmitters say. So one whose
//! every question to them is answered as before is the same to the bit, and need not be made again: at rest, or
//! between two steps of a coarse card, that is most of them.

use super::{Signals, Working};
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{HookupPlan, Plan, TankPlan};
use crate::engine::signal::SignalValue;
use crate::physics::liquid::Density;
use std::cell::RefCell;

#[derive(Clone, Debug, Default)]
pub(super) struct Again {
    heard: Vec<Heard>,
    held: Option<Density>,
    product: usize,
    working: Option<Working>,
}

/// What a transmitter was asked for and said.
#[derive(Clone, Copy, Debug)]
struct Heard {
    transmitter: TransmitterId,
    value: SignalValue,
    last: Option<f64>,
}

impl Again {
    /// As [`Working::of`].
    pub fn working(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        hookup: &HookupPlan,
        signals: &impl Signals,
        held: Option<Density>,
    ) -> &Working {
        let is_same = self.held == held
            && self.product == tank.product
            && self.heard.iter().all(|heard| heard.is_said_by(signals));
        if !is_same {
            self.working = None;
            self.heard.clear();
        }
        self.working.get_or_insert_with(|| {
            let listening = Listening {
                signals,
                heard: RefCell::new(std::mem::take(&mut self.heard)),
            };
            let working = Working::of(plan, tank, hookup, &listening, held);
            self.heard = listening.heard.into_inner();
            (self.held, self.product) = (held, tank.product);
            working
        })
    }
}

impl Heard {
    fn is_said_by(&self, signals: &impl Signals) -> bool {
        self.value == signals.value(self.transmitter) && self.last == signals.last(self.transmitter)
    }
}

/// Signals, with a note of all that was asked.
struct Listening<'s, S> {
    signals: &'s S,
    heard: RefCell<Vec<Heard>>,
}

impl<S: Signals> Listening<'_, S> {
    fn hear(&self, transmitter: TransmitterId) -> Heard {
        let mut heard = self.heard.borrow_mut();
        if let Some(known) = heard.iter().find(|one| one.transmitter == transmitter) {
            return *known;
        }
        let one = Heard {
            transmitter,
            value: self.signals.value(transmitter),
            last: self.signals.last(transmitter),
        };
        heard.push(one);
        one
    }
}

impl<S: Signals> Signals for Listening<'_, S> {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        self.hear(transmitter).value
    }

    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        self.hear(transmitter).last
    }
}
