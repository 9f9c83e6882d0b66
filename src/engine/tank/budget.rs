//! The uncertainty budget of level and mass: each input moved by its uncertainty, one at a time.
//!
//! Sensitivities are central differences of the level that is worked out anew, so whatever the hookup, its
//! budget is that of the balance itself. Inputs that are one quantity (the tank's own liquid in tank and
//! leg, the pressure that makes level and density) move together.

use super::arrangement::{Arrangement, Fill, Layers};
use super::inputs::Inputs;
use super::pressures::in_percent;
use super::{OneHookup, Working};
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{Hookup, LegFill, Source, TransmitterPlan};
use crate::physics::budget::{Budget, COVERAGE, from_expanded, rectangular};
use crate::quantity::{DifferentialPressure, MassDensity, kilograms_per_cubic_metre};

/// The temperature that transmitters are calibrated at, K: 20 °C. Common practice, no source.
const CALIBRATION_TEMPERATURE_K: f64 = 293.15;

/// The budget, and what it makes of a measured density (k = 2).
pub(super) struct Parts {
    pub budget: Budget,
    pub density: MassDensity,
}

pub(super) fn of(one: &OneHookup<'_>, working: &Working, inputs: &Inputs) -> Parts {
    let mut lines = Lines {
        one,
        working,
        inputs,
        budget: Budget::default(),
        density_squares: 0.0,
    };
    lines.pressures();
    lines.densities();
    lines.elevations();
    lines.gravity();
    lines.budget.sort();
    Parts {
        budget: lines.budget,
        density: kilograms_per_cubic_metre(lines.density_squares.sqrt()),
    }
}

/// The names of a transmitter's four lines: accuracy, temperature effect, stability, resolution.
type Names = [&'static str; 4];

const LEADING: Names = [
    "transmitter accuracy",
    "transmitter temperature effect",
    "transmitter stability",
    "transmitter resolution",
];
const MIDDLE: Names = [
    "middle transmitter accuracy",
    "middle transmitter temperature effect",
    "middle transmitter stability",
    "middle transmitter resolution",
];
const HEADSPACE: Names = [
    "headspace transmitter accuracy",
    "headspace transmitter temperature effect",
    "headspace transmitter stability",
    "headspace transmitter resolution",
];
const BAROMETER: Names = [
    "barometer accuracy",
    "barometer temperature effect",
    "barometer stability",
    "barometer resolution",
];

/// The budget while it is being written.
struct Lines<'a> {
    one: &'a OneHookup<'a>,
    working: &'a Working,
    inputs: &'a Inputs,
    budget: Budget,
    density_squares: f64,
}

impl Lines<'_> {
    /// One input: its standard uncertainty, a step to move it by, and what that moves.
    fn add(
        &mut self,
        name: &'static str,
        standard: f64,
        step: f64,
        shift: impl Fn(&mut Inputs, f64),
    ) {
        let moved = |step: f64| {
            let mut inputs = *self.inputs;
            shift(&mut inputs, step);
            self.outcome(&inputs)
        };
        let (up, down) = (moved(step), moved(-step));
        // ∂f/∂x ≈ (f(x + s) − f(x − s)) / 2s
        let slope = |up: f64, down: f64| (up - down) / (2.0 * step);
        self.budget.add_both(
            name,
            standard,
            slope(up.level_m, down.level_m),
            slope(up.mass_kg, down.mass_kg),
        );
        let density = COVERAGE * standard * slope(up.density, down.density);
        self.density_squares += density * density;
    }

    fn outcome(&self, inputs: &Inputs) -> Outcome {
        let (tank, correction) = (self.one.tank, &self.one.hookup.correction);
        let balance = inputs.balance();
        let level = correction.applied(tank.vessel.level(balance.solve(inputs.difference)));
        let density = balance.liquid.value;
        Outcome {
            level_m: level.value,
            // m = ρ·V(h)
            mass_kg: density * tank.vessel.volume(level + tank.zero).value,
            density,
        }
    }

    fn pressures(&mut self) {
        let plan = self.one.plan;
        let of = |id: TransmitterId| &plan.transmitters[id.index()];
        let pressures = self.one.pressures;
        let per_reading = pressures.per_reading;
        self.transmitter(
            LEADING,
            of(self.one.hookup.hookup.leading()),
            per_reading.abs().max(1e-9).recip(),
            |inputs, step| shift(inputs, per_reading * step, per_reading * step),
        );
        match &self.one.hookup.hookup {
            Hookup::TwoTransmitter { headspace, .. } => {
                self.transmitter(HEADSPACE, of(headspace.transmitter), 1.0, |inputs, step| {
                    shift(inputs, -step, 0.0);
                });
            }
            Hookup::ThreeTransmitter {
                middle, headspace, ..
            } => {
                self.transmitter(MIDDLE, of(middle.transmitter), 1.0, |inputs, step| {
                    shift(inputs, 0.0, -step);
                });
                self.transmitter(HEADSPACE, of(headspace.transmitter), 1.0, |inputs, step| {
                    shift(inputs, -step, 0.0);
                });
            }
            Hookup::DipTube { friction, .. } => {
                let uncertainty = from_expanded(friction.uncertainty.0.value);
                self.add("purge friction", uncertainty, 1.0, |inputs, step| {
                    shift(inputs, -step, 0.0);
                });
            }
            _ => {}
        }
        if let Source::Tags(barometers) = &plan.ambient.pressure {
            // The mean of n barometers moves by the n-th part of what one of them moves.
            let share = 1.0 / barometers.len() as f64;
            let (per, column_per) = (pressures.per_barometer, pressures.column_per_barometer);
            for barometer in barometers {
                self.transmitter(BAROMETER, of(*barometer), 1.0, |inputs, step| {
                    shift(inputs, share * per * step, share * column_per * step);
                });
            }
        }
    }

    fn transmitter(
        &mut self,
        names: Names,
        transmitter: &TransmitterPlan,
        step: f64,
        shift: impl Fn(&mut Inputs, f64),
    ) {
        let ambient_k = self.working.surroundings.ambient.value;
        let away_k = (ambient_k - CALIBRATION_TEMPERATURE_K).abs();
        let drift = transmitter.stability.zip(transmitter.since_calibration);
        let half_widths = [
            transmitter.accuracy,
            transmitter.temperature_effect.map(|per_k| per_k * away_k),
            drift.map(|(per_s, age)| per_s * age.as_secs_f64()),
            transmitter.resolution.map(|step| step / 2.0),
        ];
        for (name, half_width) in names.into_iter().zip(half_widths) {
            self.add(name, rectangular(half_width.unwrap_or(0.0)), step, &shift);
        }
    }

    fn densities(&mut self) {
        let working = self.working;
        let arrangement = self.one.arrangement;
        let standard = |density: MassDensity| from_expanded(density.value);
        let ranged_here = matches!(
            self.one.hookup.hookup,
            Hookup::Level {
                ranged_for: None,
                ..
            }
        );
        if !working.density_measured {
            let (high, low) = own_liquid(arrangement);
            let name = match arrangement.layers {
                Layers::Liquids { .. } => "lower liquid density",
                Layers::LiquidAndGas | Layers::LiquidAlone => "liquid density",
            };
            let per_density = self.inputs.difference.0.value / self.inputs.balance.liquid.value;
            self.add(
                name,
                standard(working.liquid.uncertainty),
                0.1,
                |inputs, step| {
                    inputs.balance.liquid.value += step;
                    inputs.balance.high.fill.value += if high { step } else { 0.0 };
                    inputs.balance.low.fill.value += if low { step } else { 0.0 };
                    // Ranged for this very liquid: its level does not depend on the density.
                    let felt = if ranged_here { per_density * step } else { 0.0 };
                    shift(inputs, felt, 0.0);
                },
            );
        }
        let dry = matches!(arrangement.low.fill, Fill::Leg(LegFill::Gas));
        let above = match arrangement.layers {
            Layers::Liquids { .. } => "upper liquid density",
            Layers::LiquidAndGas | Layers::LiquidAlone => "gas density",
        };
        self.add(
            above,
            standard(working.above.uncertainty),
            0.1,
            |inputs, step| {
                inputs.balance.gas.value += step;
                inputs.balance.low.fill.value += if dry { step } else { 0.0 };
            },
        );
        let name = match arrangement.high.fill {
            Fill::Purge(_) => Some("purge gas density"),
            Fill::Leg(LegFill::Filled(_)) if !arrangement.high_is_own_liquid() => {
                Some("high leg density")
            }
            _ => None,
        };
        if let Some(name) = name {
            let fill = standard(working.high_leg.uncertainty);
            self.add(name, fill, 0.1, |inputs, step| {
                inputs.balance.high.fill.value += step;
            });
        }
        if let Fill::Leg(LegFill::Filled(_)) = arrangement.low.fill {
            let fill = standard(working.low_leg.uncertainty);
            self.add("low leg density", fill, 0.1, |inputs, step| {
                inputs.balance.low.fill.value += step;
            });
        }
    }

    fn elevations(&mut self) {
        let standard = from_expanded(self.one.hookup.elevation_uncertainty.value);
        let names = ElevationNames::of(&self.one.hookup.hookup);
        // In percent, its zero and full move together; in metres, the level that it shows stays.
        let leading = &self.one.plan.transmitters[self.one.hookup.hookup.leading().index()];
        let ranged = match in_percent(leading) {
            true => 0.0,
            false => self.one.pressures.per_reading,
        };
        let mut add = |name: Option<&'static str>, shift: &dyn Fn(&mut Inputs, f64)| {
            if let Some(name) = name {
                self.add(name, standard, 0.01, shift);
            }
        };
        add(names.high_tap, &|inputs, step| {
            inputs.balance.high.tap.value += step;
        });
        add(names.low_tap, &|inputs, step| {
            inputs.balance.low.tap.value += step;
        });
        let both = names.low_diaphragm.is_none();
        add(names.high_diaphragm, &|inputs, step| {
            inputs.balance.high.diaphragm.value += step;
            inputs.balance.low.diaphragm.value += if both { step } else { 0.0 };
        });
        add(names.low_diaphragm, &|inputs, step| {
            inputs.balance.low.diaphragm.value += step;
        });
        add(names.middle_tap, &|inputs, step| {
            if let Some(column) = &mut inputs.column {
                column.upper.tap.value += step;
            }
        });
        add(names.middle_diaphragm, &|inputs, step| {
            if let Some(column) = &mut inputs.column {
                column.upper.diaphragm.value += step;
            }
        });
        add(names.zero, &|inputs, step| {
            inputs.balance.high.tap.value += step;
            inputs.balance.high.diaphragm.value += step;
            shift(inputs, -ranged * step, 0.0);
        });
    }

    fn gravity(&mut self) {
        let standard = from_expanded(self.one.plan.gravity_uncertainty.value);
        let ranged = matches!(self.one.hookup.hookup, Hookup::Level { .. });
        let per_gravity = self.inputs.difference.0.value / self.inputs.balance.gravity.value;
        self.add("gravity", standard, 1e-4, |inputs, step| {
            inputs.balance.gravity.value += step;
            // A range in level was worked out with the same gravity.
            let felt = if ranged { per_gravity * step } else { 0.0 };
            shift(inputs, felt, 0.0);
        });
    }
}

struct Outcome {
    level_m: f64,
    mass_kg: f64,
    density: f64,
}

/// Moves the difference, and that of the column which measures the density.
fn shift(inputs: &mut Inputs, difference_pa: f64, column_pa: f64) {
    inputs.difference = inputs.difference + DifferentialPressure::pascals(difference_pa);
    if let Some(column) = &mut inputs.column {
        column.difference = column.difference + DifferentialPressure::pascals(column_pa);
    }
}

/// Whether the liquid itself stands in the high and in the low leg.
fn own_liquid(arrangement: &Arrangement<'_>) -> (bool, bool) {
    let low = matches!(arrangement.low.fill, Fill::Leg(LegFill::OwnLiquid));
    (
        arrangement.high_is_own_liquid(),
        low && matches!(arrangement.layers, Layers::LiquidAndGas),
    )
}

/// The elevations that a hookup has; one diaphragm serves both sides where the low one has no name.
#[derive(Clone, Copy, Default)]
struct ElevationNames {
    high_tap: Option<&'static str>,
    low_tap: Option<&'static str>,
    high_diaphragm: Option<&'static str>,
    low_diaphragm: Option<&'static str>,
    middle_tap: Option<&'static str>,
    middle_diaphragm: Option<&'static str>,
    zero: Option<&'static str>,
}

impl ElevationNames {
    fn of(hookup: &Hookup) -> Self {
        let usual = Self {
            high_tap: Some("high tap elevation"),
            low_tap: Some("low tap elevation"),
            high_diaphragm: Some("transmitter elevation"),
            ..Self::default()
        };
        match hookup {
            Hookup::Vented { .. } | Hookup::Differential { .. } | Hookup::Interface { .. } => usual,
            Hookup::Barometer { .. } => Self {
                low_diaphragm: Some("barometer elevation"),
                ..usual
            },
            Hookup::TwoTransmitter { .. } => Self {
                low_diaphragm: Some("headspace transmitter elevation"),
                ..usual
            },
            Hookup::ThreeTransmitter { .. } => Self {
                low_diaphragm: Some("headspace transmitter elevation"),
                middle_tap: Some("middle tap elevation"),
                middle_diaphragm: Some("middle transmitter elevation"),
                ..usual
            },
            Hookup::DipTube { .. } => Self {
                high_tap: Some("tube end elevation"),
                ..usual
            },
            Hookup::Level { .. } => Self {
                zero: Some("zero elevation"),
                ..Self::default()
            },
        }
    }
}
