//! What each input of a hookup moves, kept for as long as its conditions stay.
//!
//! With all else as it is, a level is linear in the difference of its pressures (that is the balance), and so is
//! each central difference of levels. So what was worked out at the two ends of a transmitter's range holds for
//! every reading of it, to the rounding of the differences.

use super::basis::{Basis, hangs_on};
use super::budget::{each, half_widths, table};
use super::inputs::Inputs;
use super::stated::Nudged;
use super::{OneHookup, Place, Signals, Working};
use crate::engine::ids::TransmitterId;
use crate::engine::live_test::Put;
use crate::engine::plan::{Hookup, TransmitterPlan};
use crate::engine::signal::SignalValue;
use crate::physics::budget::{Budget, Expanded, Sensitivity};
use crate::physics::liquid::Density;
use crate::quantity::{DifferentialPressure, Length, MassDensity};

#[derive(Clone, Debug)]
pub(super) struct Sensitivities {
    /// The differences that they were worked out at, Pa.
    at_pa: [f64; 2],
    inputs: Vec<Input>,
}

/// One input: its standard uncertainty, and what its unit moves.
#[derive(Clone, Copy, Debug)]
struct Input {
    name: &'static str,
    standard: f64,
    /// At the two differences.
    level_m: [f64; 2],
    /// Of the liquid; the same at all.
    density_kg_m3: f64,
}

/// Whether a transmitter moves nothing but the pressures of a hookup.
pub(super) fn is_reading(place: Place<'_>, id: TransmitterId) -> bool {
    let Place { plan, tank, hookup } = place;
    let mut own = hookup.hookup.transmitters();
    own.any(|own| own == id) && !hangs_on(plan, tank, &hookup.hookup, id)
}

/// Whether a formula of density ends, or a transmitter's range, within so much of what a condition is and what it may be
/// off: from some conditions nearby a step of the budget goes beyond that end, and from others not.
pub(super) fn is_near_an_end(
    place: Place<'_>,
    signals: &impl Signals,
    mut conditions: impl Iterator<Item = (TransmitterId, f64)>,
) -> bool {
    let Place { plan, tank, hookup } = place;
    let here = Basis::of(plan, tank, hookup, signals).surroundings;
    conditions.any(|(transmitter, near)| {
        let widths = half_widths(&plan.transmitters[transmitter.index()], here.ambient);
        let reach = near + widths.into_iter().sum::<f64>();
        [reach, -reach].into_iter().any(|by| {
            let signals = Nudged {
                signals,
                transmitter,
                by,
            };
            Basis::of(plan, tank, hookup, &signals).surroundings.reasons != here.reasons
        })
    })
}

impl Sensitivities {
    /// None where a level is not linear in the difference, or no range is stated.
    pub fn of(place: Place<'_>, signals: &impl Signals, held: Option<Density>) -> Option<Self> {
        let Place { plan, tank, hookup } = place;
        let leading = hookup.hookup.leading();
        let measures_density = matches!(hookup.hookup, Hookup::ThreeTransmitter { .. });
        if measures_density || tank.vessel.expands() || !is_reading(place, leading) {
            return None;
        }
        let (low, high) = range(&plan.transmitters[leading.index()])?;
        let mut found = Self {
            at_pa: [0.0; 2],
            inputs: Vec::new(),
        };
        for (end, value) in [low, high].into_iter().enumerate() {
            let signals = Put {
                signals,
                transmitter: leading,
                said: SignalValue::stated(value),
            };
            let basis = Basis::of(plan, tank, hookup, &signals);
            let (working, difference) = (Working::begun(&basis), basis.pressures.difference?);
            let inputs = Inputs {
                balance: basis.balance,
                difference,
                column: None,
            };
            let one = OneHookup {
                place,
                basis: &basis,
                signals: &signals,
                held,
            };
            let mut count = 0;
            each(
                &one,
                &working,
                place.level(inputs.level()),
                &inputs,
                &mut |name, standard, slope| {
                    if end == 0 {
                        found.inputs.push(Input {
                            name,
                            standard,
                            level_m: [0.0; 2],
                            density_kg_m3: slope.density_kg_m3,
                        });
                    }
                    if let Some(input) = found.inputs.get_mut(count) {
                        input.level_m[end] = slope.sensitivity.level_m;
                    }
                    count += 1;
                },
            );
            found.at_pa[end] = difference.0.value;
        }
        let width_pa = found.at_pa[1] - found.at_pa[0];
        (width_pa.is_finite() && width_pa != 0.0).then_some(found)
    }

    /// Writes the budget of a level that was worked out from that difference.
    pub fn write(
        &self,
        place: Place<'_>,
        working: &Working,
        (level, difference): (Length, DifferentialPressure),
        budget: &mut Budget,
    ) -> (Expanded, MassDensity) {
        let vessel = working.vessel(place.tank);
        let volume_m3 = vessel.volume(level + place.tank.zero).value;
        let area_m2 = vessel.area(level + place.tank.zero).value;
        let rho_kg_m3 = working.liquid.value.value;
        let [from_pa, to_pa] = self.at_pa;
        let share = (difference.0.value - from_pa) / (to_pa - from_pa);
        for input in &self.inputs {
            let [from_m, to_m] = input.level_m;
            let level_m = from_m + (to_m - from_m) * share;
            // V(h + δ) = V(h) + A·δ, m = ρ·V
            let sensitivity = Sensitivity {
                level_m,
                volume_m3: area_m2 * level_m,
                mass_kg: rho_kg_m3 * area_m2 * level_m + volume_m3 * input.density_kg_m3,
            };
            budget.add(input.name, input.standard, sensitivity);
        }
        let (name, standard, slope) = table(place.tank, working.liquid.value);
        budget.add(name, standard, slope.sensitivity);
        (budget.expanded(), MassDensity::default())
    }
}

fn range(transmitter: &TransmitterPlan) -> Option<(f64, f64)> {
    transmitter.span.or(transmitter.limits)
}
