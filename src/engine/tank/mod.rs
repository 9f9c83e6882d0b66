//! One tank: the arrangement of transmitters, densities, balance and vessel, and what it makes of them.
//!
//! [`Working::of`] is the one way from pressures to a level: the running engine, `convert` and
//! `sheet` all go through it, for every hookup. It is a pure function; what needs memory (rate, jumps, a
//! flooded leg, the last trusted density) is added by [`TankState`], and the choice between several
//! hookups by [`choose`].

mod again;
mod arrangement;
mod basis;
mod budget;
mod choose;
mod conditions;
mod contents;
mod felt;
mod inputs;
mod legs;
mod memory;
mod pressures;
mod reading;
mod renewed;
mod sensitivities;
mod state;
mod stated;

pub use again::Again;
pub use arrangement::{Arrangement, End, Fill, Layers};
pub use choose::{Chosen, Pick, choose};
pub use conditions::{LIQUID_KG_M3, OutsideAir, Signals, Surroundings};
pub use contents::{Contents, contents, level_range, usable_marks, visible_levels};
pub use inputs::Inputs;
pub use pressures::in_percent;
pub use state::{Changes, TankState, headspace};
pub use stated::Stated;

use super::plan::{Hookup, HookupPlan, Plan, TankPlan};
use super::quality::{Reason, Reasons};
use super::signal::Bound;
use crate::physics::balance::{Balance, LEAST_DENSITY_DIFFERENCE_KG_M3, Seen, Terms, UpperTap};
use crate::physics::budget::{Budget, Expanded};
use crate::physics::column::Column;
use crate::physics::liquid::Density;
use crate::physics::vessel::VesselAt;
use crate::quantity::{DifferentialPressure, Length, MassDensity, metres};
use basis::Basis;
use pressures::Pressures;

/// Where no accuracy is given, how far a reading may be off before lines are called unsound: this share
/// of the vessel's height. Common practice, no source.
const MARGIN_WITHOUT_ACCURACY: f64 = 0.01;
/// The least such margin, for rounding and noise.
const LEAST_MARGIN_M: f64 = 0.001;
/// The largest, as a share of the vessel's height: however uncertain, a level that far outside is none.
/// Common practice, no source.
const LARGEST_MARGIN: f64 = 0.5;

/// One reading worked out, with everything that went into it.
#[derive(Clone, Copy, Debug)]
pub struct Working {
    pub surroundings: Surroundings,
    /// What the balance takes for liquid: the tank's, the lower one of an interface, or measured.
    pub liquid: Density,
    /// It was measured by these very pressures.
    pub density_measured: bool,
    pub above: Density,
    pub high_leg: Density,
    pub low_leg: Density,
    pub balance: Balance,
    pub upper: UpperTap,
    /// High minus low; none where a pressure is missing.
    pub difference: Option<DifferentialPressure>,
    /// The level that the difference solves to, wherever that is; none without a difference.
    pub solved: Option<Length>,
    /// The same with the hookup's correction.
    pub corrected: Option<Length>,
    /// What can be said of the level, from the site's zero.
    pub level: Option<Length>,
    pub level_at_least: Option<Length>,
    pub level_at_most: Option<Length>,
    /// What the pressures are of what is felt: an edge of a loop current's band bounds it only.
    pub bound: Bound,
    pub terms: Option<Terms>,
    /// k = 2; what its budget comes to.
    pub uncertainty: Expanded,
    pub reasons: Reasons,
}

impl Working {
    /// `held`: the last trusted density of a hookup that measures it.
    pub fn of(
        plan: &Plan,
        tank: &TankPlan,
        hookup: &HookupPlan,
        signals: &impl Signals,
        held: Option<Density>,
    ) -> Self {
        Self::with_budget(plan, tank, hookup, signals, held, &mut Budget::default())
    }

    /// The same, with what its uncertainty is made of.
    pub fn with_budget(
        plan: &Plan,
        tank: &TankPlan,
        hookup: &HookupPlan,
        signals: &impl Signals,
        held: Option<Density>,
        budget: &mut Budget,
    ) -> Self {
        budget.clear();
        let basis = Basis::of(plan, tank, hookup, signals);
        let mut working = Self::begun(&basis);
        let Some(difference) = basis.pressures.difference else {
            return working;
        };
        let mut inputs = Inputs {
            balance: basis.balance,
            difference,
            column: None,
        };
        if basis.arrangement.middle.is_some() {
            inputs = working.measure_density(plan, hookup, inputs, basis.column(), held);
        }
        let place = Place { plan, tank, hookup };
        let one = OneHookup {
            place,
            basis: &basis,
            signals,
            held,
        };
        working.take(place, &inputs, |working, level| {
            budget::write(&one, working, level, &inputs, budget)
        });
        working
    }

    /// Before its pressures are looked at.
    fn begun(basis: &Basis<'_>) -> Self {
        Self {
            reasons: reasons_of(&basis.pressures, &basis.surroundings),
            surroundings: basis.surroundings,
            liquid: basis.liquid,
            density_measured: false,
            above: basis.above,
            high_leg: basis.high_leg,
            low_leg: basis.low_leg,
            balance: basis.balance,
            upper: basis.arrangement.upper,
            difference: basis.pressures.difference,
            solved: None,
            corrected: None,
            level: None,
            level_at_least: None,
            level_at_most: None,
            bound: basis.pressures.bound,
            terms: None,
            uncertainty: Expanded::default(),
        }
    }

    /// What it says itself, without what was added to it since.
    fn say_again(&mut self, made: &Self) {
        self.reasons = made.reasons;
        self.level = made.level;
        self.level_at_least = made.level_at_least;
        self.level_at_most = made.level_at_most;
    }

    /// The vessel as it is now: the shell has the liquid's temperature.
    pub fn vessel<'t>(&self, tank: &'t TankPlan) -> VesselAt<'t> {
        tank.vessel.at(Some(self.surroundings.liquid_temperature))
    }

    /// Expanded uncertainty of the level, k = 2.
    pub fn level_uncertainty(&self) -> Length {
        self.uncertainty.level
    }

    /// Where the level is seen to be; at a tap, where only a bound is known, still what the pressure
    /// solves to. A fall to the tap is a change of level like any other.
    pub fn seen_level(&self) -> Option<Length> {
        let at_tap =
            self.reasons.has(Reason::AtOrBelowTap) || self.reasons.has(Reason::AtOrAboveUpperTap);
        let exact = self.bound == Bound::Exact;
        self.level.or(self.corrected.filter(|_| at_tap && exact))
    }

    /// The density from the pressures, while the level is over the middle tap; else the last trusted one,
    /// else the stated one, and the reading says so.
    fn measure_density(
        &mut self,
        plan: &Plan,
        hookup: &HookupPlan,
        inputs: Inputs,
        column: Option<Column>,
        held: Option<Density>,
    ) -> Inputs {
        let reference = held.unwrap_or(self.liquid);
        let covered = column.filter(|column| {
            let density = column.density(plan.gravity);
            self.covers_middle(plan, hookup, &inputs, column, reference.value)
                && density.value >= self.above.value.value + LEAST_DENSITY_DIFFERENCE_KG_M3
        });
        let inputs = match covered {
            Some(column) => Inputs {
                column: Some(column),
                ..inputs
            },
            None => {
                self.liquid = reference;
                self.reasons.add(match held {
                    Some(_) => Reason::DensityLastTrusted,
                    None => Reason::DensityAsStated,
                });
                let mut balance = inputs.balance;
                balance.liquid = reference.value;
                Inputs { balance, ..inputs }
            }
        };
        self.density_measured = covered.is_some();
        self.balance = inputs.balance();
        self.liquid.value = self.balance.liquid;
        inputs
    }

    /// Whether middle and headspace alone see liquid over the middle tap. This does not lean on the
    /// density in question: with the level below that tap the two differ by gas only.
    fn covers_middle(
        &self,
        plan: &Plan,
        hookup: &HookupPlan,
        inputs: &Inputs,
        column: &Column,
        reference: MassDensity,
    ) -> bool {
        let Hookup::ThreeTransmitter {
            middle,
            headspace,
            margin,
            ..
        } = &hookup.hookup
        else {
            return false;
        };
        let upper_part = Balance {
            liquid: reference,
            high: column.upper,
            ..inputs.balance
        };
        let off_pa: f64 = [middle, headspace]
            .iter()
            .filter_map(|port| plan.transmitters[port.transmitter.index()].accuracy)
            .sum();
        let off = metres(off_pa / (plan.gravity.value * reference.value));
        upper_part.is_solvable()
            && upper_part.solve(inputs.difference - column.difference)
                > column.upper.tap + margin.max(off)
    }

    /// `uncertainty`: what the budget of that level comes to, and what it makes of a measured density.
    fn take(
        &mut self,
        place: Place<'_>,
        inputs: &Inputs,
        uncertainty: impl FnOnce(&Self, Length) -> (Expanded, MassDensity),
    ) {
        if !self.balance.is_solvable() {
            self.reasons.add(Reason::DensitiesTooClose);
            return;
        }
        let solved = inputs.level();
        let corrected = place.level(solved);
        self.solved = Some(solved);
        self.corrected = Some(corrected);
        self.terms = Some(self.balance.terms(solved));
        let of_density;
        (self.uncertainty, of_density) = uncertainty(self, corrected);
        if self.density_measured {
            self.liquid.uncertainty = of_density;
        }
        match self
            .balance
            .seen(inputs.difference, self.margin(place), self.upper)
        {
            Seen::OutsideIntactLines => self.reasons.add(Reason::OutsideIntactLines),
            Seen::AtOrBelowTap(most) => {
                self.reasons.add(Reason::AtOrBelowTap);
                self.level_at_most = Some(place.level(most));
            }
            Seen::AtOrAboveUpperTap(least) => {
                self.reasons.add(Reason::AtOrAboveUpperTap);
                self.level_at_least = Some(place.level(least));
            }
            Seen::Level(_) => self.take_level(place.tank, corrected),
        }
    }

    fn take_level(&mut self, tank: &TankPlan, level: Length) {
        let top = tank.vessel.top() - tank.zero;
        if level > top + self.least_margin(tank) {
            self.reasons.add(Reason::AboveVessel);
            self.level_at_least = Some(top);
            return;
        }
        match self.bound {
            Bound::Exact => self.level = Some(level),
            Bound::AtMost => self.level_at_most = Some(level),
            Bound::AtLeast => self.level_at_least = Some(level),
        }
    }

    /// How far the solved elevation may leave the taps before the lines are called unsound.
    fn margin(&self, place: Place<'_>) -> Length {
        let accurate = (place.hookup.hookup.transmitters())
            .all(|id| place.plan.transmitters[id.index()].accuracy.is_some());
        let height = place.tank.vessel.top() - place.tank.vessel.bottom();
        let otherwise = if accurate {
            metres(0.0)
        } else {
            height * MARGIN_WITHOUT_ACCURACY
        };
        let vessel = &place.tank.vessel;
        vessel.elevation(self.least_margin(place.tank).max(otherwise))
    }

    /// The level's own uncertainty, within bounds.
    fn least_margin(&self, tank: &TankPlan) -> Length {
        let height = tank.vessel.top() - tank.vessel.bottom();
        self.level_uncertainty()
            .min(height * LARGEST_MARGIN)
            .max(metres(LEAST_MARGIN_M))
    }
}

/// Which hookup of which tank.
#[derive(Clone, Copy)]
struct Place<'a> {
    plan: &'a Plan,
    tank: &'a TankPlan,
    hookup: &'a HookupPlan,
}

impl Place<'_> {
    /// The balance solves elevations; on a sloped cylinder a level is counted perpendicular to the axis.
    fn level(&self, elevation: Length) -> Length {
        let level = self.tank.vessel.level(elevation);
        self.hookup.correction.applied(level)
    }
}

/// What a reading of one hookup is worked out by.
struct OneHookup<'a, S> {
    place: Place<'a>,
    basis: &'a Basis<'a>,
    signals: &'a S,
    /// The last trusted density of a hookup that measures it.
    held: Option<Density>,
}

/// Solved levels without a pressure say why; a bad pressure's reasons are the reading's.
fn reasons_of(pressures: &Pressures, surroundings: &Surroundings) -> Reasons {
    let mut reasons = pressures.reasons;
    if pressures.difference.is_some() {
        reasons.merge(surroundings.reasons);
    }
    reasons
}
