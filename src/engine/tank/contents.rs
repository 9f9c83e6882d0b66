//! From a level to what is in the tank: volume, fill, usable volume, ullage, mass.

use super::{LEAST_MARGIN_M, Working};
use crate::engine::plan::TankPlan;
use crate::engine::quality::Reason;
use crate::physics::balance::{Balance, UpperTap};
use crate::quantity::{Length, Mass, Volume, metres};

/// What stands in the tank at a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contents {
    pub volume: Volume,
    pub fill: f64,
    pub usable: Volume,
    pub ullage: Volume,
    pub mass: Mass,
    /// k = 2.
    pub volume_uncertainty: Volume,
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

pub fn contents(tank: &TankPlan, working: &Working, level: Length) -> Contents {
    // The shell has the liquid's temperature.
    let vessel = (tank.vessel).at(Some(working.surroundings.liquid_temperature));
    let volume_at = |level: Length| vessel.volume(level + tank.zero);
    let (low, high, heel, overflow) = usable_marks(tank);
    let volume = volume_at(level);
    let area_m2 = vessel.area(level + tank.zero).value;
    // U(V)² = (A·U(h))² + U(table)²
    let mut volume_uncertainty = tank.vessel.uncertainty();
    volume_uncertainty.value = volume_uncertainty
        .value
        .hypot(area_m2 * working.level_uncertainty().value);
    Contents {
        volume,
        fill: (volume - volume_at(low)).value / (volume_at(high) - volume_at(low)).value,
        // Below the heel nothing can be drawn; above the overflow mark nothing fits.
        usable: (volume - volume_at(heel)).max(Volume::default()),
        ullage: (volume_at(overflow) - volume).max(Volume::default()),
        mass: working.surroundings.liquid.value * volume,
        volume_uncertainty,
    }
}

impl Working {
    /// The balance tells how high the surface stands, plumb. A level of a sloped cylinder is perpendicular to
    /// its axis and a little larger; for every other vessel this changes nothing.
    pub(super) fn take_levels_on_slope(&mut self, tank: &TankPlan) {
        let turned = |elevation: Option<Length>| elevation.map(|at| tank.vessel.level(at));
        self.level = turned(self.level);
        self.level_at_most = turned(self.level_at_most);
        if self.reasons.has(Reason::AboveVessel) {
            return;
        }
        self.level_at_least = turned(self.level_at_least);
        let top = tank.vessel.top() - tank.zero;
        let margin = self.level_uncertainty().max(metres(LEAST_MARGIN_M));
        if self.level.is_some_and(|level| level > top + margin) {
            self.reasons.add(Reason::AboveVessel);
            self.level = None;
            self.level_at_least = Some(top);
        }
    }
}

/// The levels between which the hookup sees: from the high tap up to the upper tap or the vessel's top.
pub fn visible_levels(tank: &TankPlan, balance: &Balance, upper: UpperTap) -> (Length, Length) {
    let (bottom, top) = level_range(tank);
    let highest = if upper == UpperTap::Open {
        top
    } else {
        tank.vessel.level(balance.low.tap).min(top)
    };
    (tank.vessel.level(balance.high.tap).max(bottom), highest)
}
