//! From a level to what is in the tank: volume, fill, usable volume, ullage, mass.

use super::Working;
use crate::engine::plan::{Hookup, TankPlan};
use crate::physics::liquid::Conditions;
use crate::physics::vessel::VesselAt;
use crate::quantity::{Length, Mass, Volume};

/// What stands in the tank at a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contents {
    pub volume: Volume,
    pub fill: f64,
    /// At the liquid's base temperature, where its kind has one.
    pub standard_volume: Option<Volume>,
    pub usable: Volume,
    pub ullage: Volume,
    pub mass: Mass,
    /// k = 2.
    pub volume_uncertainty: Volume,
    /// k = 2.
    pub mass_uncertainty: Mass,
}

/// The levels that the vessel has, from the site's zero.
pub fn level_range(tank: &TankPlan) -> (Length, Length) {
    (
        tank.vessel.bottom() - tank.zero,
        tank.vessel.top() - tank.zero,
    )
}

/// The marks that fill, usable volume and ullage count from: working low and high, heel, overflow.
///
/// Left out, working low is the heel, the heel is the vessel's bottom; working high is the overflow
/// mark, the overflow mark is the vessel's top.
pub fn usable_marks(tank: &TankPlan) -> (Length, Length, Length, Length) {
    let (bottom, top) = level_range(tank);
    let heel = tank.marks.heel.unwrap_or(bottom);
    let overflow = tank.marks.overflow.unwrap_or(top);
    let low = tank.marks.working_low.unwrap_or(heel);
    let high = tank.marks.working_high.unwrap_or(overflow);
    (low, high, heel, overflow)
}

/// The volumes at the marks, of a vessel as it is now.
#[derive(Clone, Copy, Debug)]
pub struct Marked {
    low: Volume,
    high: Volume,
    heel: Volume,
    overflow: Volume,
}

impl Marked {
    pub fn of(tank: &TankPlan, vessel: VesselAt<'_>) -> Self {
        let volume_at = |level: Length| vessel.volume(level + tank.zero);
        let (low, high, heel, overflow) = usable_marks(tank);
        Self {
            low: volume_at(low),
            high: volume_at(high),
            heel: volume_at(heel),
            overflow: volume_at(overflow),
        }
    }
}

pub fn contents(tank: &TankPlan, working: &Working, level: Length) -> Contents {
    let marked = Marked::of(tank, working.vessel(tank));
    contents_by(&marked, tank, working, level)
}

/// The same, by volumes at the marks that were worked out before.
pub(super) fn contents_by(
    marked: &Marked,
    tank: &TankPlan,
    working: &Working,
    level: Length,
) -> Contents {
    let volume = working.vessel(tank).volume(level + tank.zero);
    let correction = tank.liquid.liquid.volume_correction(Conditions {
        temperature: working.surroundings.liquid_temperature,
        pressure: working.surroundings.gas_pressure,
    });
    Contents {
        volume,
        standard_volume: correction.map(|correction| volume * correction.factor),
        fill: (volume - marked.low).value / (marked.high - marked.low).value,
        // Below the heel nothing can be drawn; above the overflow mark nothing fits.
        usable: (volume - marked.heel).max(Volume::default()),
        ullage: (marked.overflow - volume).max(Volume::default()),
        mass: working.liquid.value * volume,
        volume_uncertainty: working.uncertainty.volume,
        mass_uncertainty: working.uncertainty.mass,
    }
}

/// The levels between which a hookup sees: from its lower tap up to the upper one or the vessel's top.
pub fn visible_levels(tank: &TankPlan, hookup: &Hookup) -> (Length, Length) {
    let (bottom, top) = level_range(tank);
    let lowest = hookup
        .lower_tap()
        .map_or(bottom, |tap| tank.vessel.level(tap));
    let highest = hookup.upper_tap().map_or(top, |tap| tank.vessel.level(tap));
    (lowest.max(bottom), highest.min(top))
}
