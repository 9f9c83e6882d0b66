//! From signals to what a balance is filled in with: conditions, densities, pressures, legs.
//!
//! [`Basis::of`] is a pure function of what the transmitters say, so that the uncertainty budget can ask it
//! again with one of them moved and has every path by which that moves the level.

use super::arrangement::{Arrangement, End, Fill, Layers};
use super::conditions::{Signals, Surroundings};
use super::level_range;
use super::pressures::{Pressures, Readings};
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{Hookup, HookupPlan, LegFill, Plan, TankPlan};
use crate::engine::quality::Reason;
use crate::physics::balance::{Balance, Leg, UpperTap};
use crate::physics::column::Column;
use crate::physics::liquid::{Conditions, Density};
use crate::quantity::{AbsolutePressure, Length, kilograms_per_cubic_metre};

/// Everything that one hookup's level is worked out from.
pub(super) struct Basis<'a> {
    pub arrangement: Arrangement<'a>,
    pub surroundings: Surroundings,
    pub pressures: Pressures,
    /// What the balance takes for liquid, and for what is above it.
    pub liquid: Density,
    pub above: Density,
    pub high_leg: Density,
    pub low_leg: Density,
    pub middle_leg: Option<Density>,
    pub balance: Balance,
    /// Lowest point of the vessel, from the site's zero.
    bottom: Length,
}

impl<'a> Basis<'a> {
    pub fn of(
        plan: &Plan,
        tank: &TankPlan,
        hookup: &'a HookupPlan,
        signals: &impl Signals,
    ) -> Self {
        let (bottom, top) = level_range(tank);
        let range = (tank.vessel.elevation(bottom), tank.vessel.elevation(top));
        let arrangement = Arrangement::of(&hookup.hookup, range, plan.ambient.pressure_at);
        let mut surroundings = Surroundings::of(plan, tank, signals);
        let (liquid, above) = match arrangement.layers {
            Layers::LiquidAndGas => (surroundings.liquid, surroundings.gas),
            Layers::LiquidAlone => (surroundings.liquid, nothing()),
            Layers::Liquids { lower, upper } => (
                surroundings.leg(plan, tank, lower, signals),
                surroundings.leg(plan, tank, upper, signals),
            ),
        };
        let readings = Readings {
            plan,
            surroundings: &surroundings,
            signals,
            bottom: range.0,
            liquid: liquid.value,
        };
        let pressures = readings.of(&hookup.hookup);
        let tube = tube_pressure(plan, &surroundings, &arrangement, &pressures);
        let mut fill = |end: &End<'_>| match end.fill {
            Fill::OpenAir => surroundings.air,
            Fill::Leg(fill) => surroundings.leg(plan, tank, fill, signals),
            Fill::Purge(gas) => {
                let density = gas.density(Conditions {
                    temperature: surroundings.ambient,
                    pressure: tube,
                });
                if !density.in_range {
                    surroundings.reasons.add(Reason::DensityOutOfRange);
                }
                density
            }
        };
        let (high_leg, low_leg) = (fill(&arrangement.high), fill(&arrangement.low));
        let middle_leg = arrangement.middle.as_ref().map(fill);
        let balance = Balance {
            gravity: plan.gravity,
            liquid: liquid.value,
            gas: above.value,
            high: leg(&arrangement.high, high_leg),
            low: leg(&arrangement.low, low_leg),
        };
        Self {
            arrangement,
            surroundings,
            pressures,
            liquid,
            above,
            high_leg,
            low_leg,
            middle_leg,
            balance,
            bottom: range.0,
        }
    }

    /// The liquid between bottom and middle, where there is a middle transmitter that can be trusted.
    pub fn column(&self) -> Option<Column> {
        self.column_by(&self.pressures)
    }

    /// The same by other pressures.
    pub fn column_by(&self, pressures: &Pressures) -> Option<Column> {
        let middle = self.arrangement.middle.as_ref();
        let upper = middle.zip(self.middle_leg);
        let upper = upper.map(|(end, density)| leg(end, density))?;
        pressures.column.map(|difference| Column {
            lower: self.balance.high,
            upper,
            difference,
        })
    }

    /// What other readings come to where all but the pressures stays as it is: see [`hangs_on`].
    pub fn pressures(&self, plan: &Plan, hookup: &Hookup, signals: &impl Signals) -> Pressures {
        self.in_heavier_air(plan, hookup, signals, 0.0)
    }

    /// What the same readings come to in an air that is heavier, kg/m³.
    pub fn in_heavier_air(
        &self,
        plan: &Plan,
        hookup: &Hookup,
        signals: &impl Signals,
        by_kg_m3: f64,
    ) -> Pressures {
        let mut surroundings = self.surroundings;
        surroundings.air.value.value += by_kg_m3;
        let readings = Readings {
            plan,
            surroundings: &surroundings,
            signals,
            bottom: self.bottom,
            liquid: self.liquid.value,
        };
        readings.of(hookup)
    }
}

/// Whether more than the pressures of a hookup hangs on a transmitter: a temperature, pressure or density that
/// something is taken at.
pub(super) fn hangs_on(
    plan: &Plan,
    tank: &TankPlan,
    hookup: &Hookup,
    transmitter: TransmitterId,
) -> bool {
    let conditions = [
        &plan.ambient.temperature,
        &plan.ambient.pressure,
        &tank.gas.temperature,
        &tank.gas.pressure,
    ];
    let mut fills = hookup.fills();
    let is_purged = matches!(hookup, Hookup::DipTube { .. });
    is_purged
        || conditions.iter().any(|source| source.names(transmitter))
        || tank.liquid.uses(transmitter)
        || fills.any(|fill| matches!(fill, LegFill::Filled(fill) if fill.uses(transmitter)))
}

/// What is above the liquid where nothing is.
fn nothing() -> Density {
    Density {
        value: kilograms_per_cubic_metre(0.0),
        uncertainty: kilograms_per_cubic_metre(0.0),
        in_range: true,
    }
}

fn leg(end: &End<'_>, fill: Density) -> Leg {
    Leg {
        tap: end.tap,
        diaphragm: end.at,
        fill: fill.value,
    }
}

/// The pressure in a purged tube: what is felt at its diaphragm, above the low side.
fn tube_pressure(
    plan: &Plan,
    surroundings: &Surroundings,
    arrangement: &Arrangement<'_>,
    pressures: &Pressures,
) -> AbsolutePressure {
    let low = match arrangement.upper {
        UpperTap::Open => surroundings.air_pressure(plan, arrangement.low.at),
        UpperTap::Saturates | UpperTap::Floods => surroundings.gas_pressure,
    };
    pressures
        .difference
        .map_or(low, |difference| low + difference)
}
