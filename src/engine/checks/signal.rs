//! What is watched of each transmitter for itself: whether its number is frozen, and how often it fails.

use super::finding::{Ability, Finding};
use super::frozen::{self, FrozenWatch, Terms};
use super::recurrence::Recurrence;
use crate::engine::memory::FrozenMemory;
use crate::engine::plan::{Reads, TransmitterPlan};
use crate::engine::quality::{Quality, Reason};
use crate::engine::signal::{Bound, SignalValue};
use crate::engine::{Fault, Now};
use std::time::Duration;

/// Memory of one transmitter's checks; under 560 bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct SignalWatch {
    frozen: FrozenWatch,
    faults: Recurrence,
    is_bad: bool,
}

impl SignalWatch {
    /// Takes one poll's outcome, and what the signal made of it.
    pub fn take(
        &mut self,
        plan: &TransmitterPlan,
        now: Now,
        raw: Result<f64, Fault>,
        said: SignalValue,
    ) {
        if said.is_worked_on() {
            self.frozen.interrupt();
            self.is_bad = false;
            return;
        }
        // Silence is the link's; what the device itself says to be wrong is the tag's.
        let is_bad = match raw {
            Ok(_) => said.quality() == Quality::Bad && !said.is_waiting(),
            Err(Fault::Exception(_)) => true,
            Err(Fault::NoAnswer) => self.is_bad,
        } || said.reasons.has(Reason::CurrentSuspect);
        let mut begins = is_bad && !self.is_bad;
        self.is_bad = is_bad;
        if let Ok(number) = raw {
            if is_judged(plan, number, said) {
                begins |= self.frozen.take(now.up, number, terms(plan));
            } else {
                self.frozen.interrupt();
            }
        }
        if begins {
            self.faults.begins(now.up);
        }
    }

    /// A single wild sample is one more fault that came and went.
    pub fn counts_spike(&mut self, up: Duration) {
        self.faults.begins(up);
    }

    /// What is to be kept over a restart, where that has changed.
    pub fn to_keep(&mut self, now: Now) -> Option<FrozenMemory> {
        self.frozen.to_keep(now)
    }

    /// Takes up what was kept.
    pub fn restore(&mut self, kept: &FrozenMemory, now: Now) {
        self.frozen = FrozenWatch::restored(kept, now).unwrap_or_default();
    }

    pub fn findings(&self, plan: &TransmitterPlan, now: Now) -> impl Iterator<Item = Finding> {
        let frozen = self.frozen.finding(&plan.tag, now.up, terms(plan));
        let recurring = self.faults.finding(&plan.tag, now.up);
        frozen.into_iter().chain(recurring)
    }

    pub fn ability(&self, plan: &TransmitterPlan, now: Now) -> Ability {
        if !is_continuous(plan) {
            let reason = format!("{}: only pressures and levels are never at rest", plan.tag);
            return Ability::cannot(frozen::CHECK, reason);
        }
        self.frozen.ability(&plan.tag, now.up, terms(plan))
    }
}

/// A meter without flow shows zero for hours, a temperature is coarse and slow.
fn is_continuous(plan: &TransmitterPlan) -> bool {
    matches!(plan.reads, Reads::Pressure(_) | Reads::Level)
}

/// At the ends of its range, and at zero, where transmitters cut off, a healthy number may stand.
fn is_judged(plan: &TransmitterPlan, number: f64, said: SignalValue) -> bool {
    let Some(value) = said.value else {
        return false;
    };
    let inside = plan
        .span
        .is_none_or(|(low, high)| low < value && value < high);
    let zero = number.total_cmp(&0.0).is_eq() || number.total_cmp(&-0.0).is_eq();
    is_continuous(plan) && said.bound == Bound::Exact && inside && !zero
}

fn terms(plan: &TransmitterPlan) -> Terms {
    Terms {
        poll_every: plan.poll_every,
        after: plan.frozen_after,
    }
}
