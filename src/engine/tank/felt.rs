//! What a tank's hookups show their checks.

use super::{Signals, Working};
use crate::engine::checks::seen::HookupSeen;
use crate::engine::checks::verdict::Felt;
use crate::engine::plan::TankPlan;
use crate::engine::quality::Quality;
use crate::engine::signal::{Bound, is_worked_on};
use crate::physics::budget::COVERAGE;

/// What a leg's fill is heavier than gas. Common practice, no source.
const WET_KG_M3: f64 = 100.0;

/// What the transmitter on the liquid felt, for the verdict on a jump.
pub(super) fn felt(
    tank: &TankPlan,
    working: &Working,
    hookup: usize,
    signals: &impl Signals,
) -> Felt {
    let hookup = &tank.hookups[hookup].hookup;
    let one_transmitter = hookup.transmitters().count() == 1;
    let low = &working.balance.low;
    let column_m = (low.tap - low.diaphragm).value;
    let heavier_kg_m3 = (low.fill - working.balance.gas).value;
    // A fill much heavier than the gas above it: a wet leg.
    let wet = hookup.low_leg().is_some() && column_m > 0.0 && heavier_kg_m3 > WET_KG_M3;
    Felt {
        ports_pa: working
            .difference
            .filter(|_| one_transmitter && hookup.low_leg().is_some())
            .map(|difference| difference.0.value),
        value: signals.value(hookup.leading()).value,
        leg_pa: wet.then_some(working.balance.gravity.value * heavier_kg_m3 * column_m),
    }
}

pub(super) fn seen_of(working: &Working) -> HookupSeen {
    let usable = working.reasons.quality() < Quality::Bad;
    let worked_on = is_worked_on(working.reasons);
    let is_exact = working.bound == Bound::Exact;
    let balance = &working.balance;
    // What a metre of liquid in place of gas adds.
    let per_metre = balance.gravity * (balance.liquid - balance.gas);
    HookupSeen {
        difference_pa: working
            .difference
            .filter(|_| is_exact)
            .map(|difference| difference.0.value),
        // g·(ρl − ρv)·(h − zH)
        head_pa: working
            .solved
            .filter(|_| is_exact)
            .map(|level| (per_metre * (level - balance.high.tap)).value),
        level_m: working
            .level
            .filter(|_| usable && !worked_on)
            .map(|level| level.value),
        worked_on,
        level_sigma_m: working.level_uncertainty().value / COVERAGE,
        pascals_per_metre: per_metre.value,
    }
}
