//! The uncertainty budget of level, volume and mass: each input moved by a step, one at a time.
//!
//! Sensitivities are central differences of what is worked out anew, so whatever the hookup, its budget is
//! that of the balance itself. An input moves everything that it stands in: a transmitter's reading is put
//! through the whole way from signals to pressures and densities, a density through every column of that
//! liquid ([`substances`]), an elevation through both sides of its leg ([`elevations`]). So the correlations
//! of level, density and volume are those of the formulas. The vessel's table has a line of its own.
//!
//! Left out: what the air at the height of a gauge changes when that height is wrong (0.1 % of its part).

mod elevations;
mod substances;

use super::basis::{Basis, hangs_on};
use super::inputs::Inputs;
use super::pressures::Pressures;
use super::stated::Nudged;
use super::{OneHookup, Signals, Working};
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{Hookup, LegFill, LiquidPressure, Source, TankPlan, TransmitterPlan};
use crate::physics::budget::{Budget, COVERAGE, Expanded, Sensitivity, from_expanded, rectangular};
use crate::quantity::{
    Area, DifferentialPressure, Length, MassDensity, Temperature, Volume, kilograms_per_cubic_metre,
};

/// The temperature that transmitters are calibrated at, K: 20 °C. Common practice, no source.
const CALIBRATION_TEMPERATURE_K: f64 = 293.15;

/// Writes the budget. What it comes to comes back, and what it makes of a measured density (k = 2).
pub(super) fn write<S: Signals>(
    one: &OneHookup<'_, S>,
    working: &Working,
    level: Length,
    inputs: &Inputs,
    budget: &mut Budget,
) -> (Expanded, MassDensity) {
    let mut density_squares = 0.0;
    let mut line = |name: &'static str, standard: f64, slope: Slope| {
        budget.add(name, standard, slope.sensitivity);
        let density = COVERAGE * standard * slope.density_kg_m3;
        density_squares += density * density;
    };
    each(one, working, level, inputs, &mut line);
    let (name, standard, slope) = table(one.place.tank, inputs.balance().liquid);
    line(name, standard, slope);
    (
        budget.expanded(),
        kilograms_per_cubic_metre(density_squares.sqrt()),
    )
}

/// Works out the line of each input but the vessel's table: its name, its standard uncertainty, and what its unit
/// moves.
pub(super) fn each<S: Signals>(
    one: &OneHookup<'_, S>,
    working: &Working,
    level: Length,
    inputs: &Inputs,
    line: &mut dyn FnMut(&'static str, f64, Slope),
) {
    let vessel = working.vessel(one.place.tank);
    let mut lines = Lines {
        one,
        working,
        inputs,
        level,
        volume: vessel.volume(level + one.place.tank.zero),
        area: vessel.area(level + one.place.tank.zero),
        line,
    };
    lines.pressures();
    lines.conditions();
    lines.substances();
    lines.elevations();
    lines.gravity();
}

/// Accuracy, temperature effect, stability and resolution of a transmitter; 0 where nothing is said of one.
pub(super) fn half_widths(transmitter: &TransmitterPlan, ambient: Temperature) -> [f64; 4] {
    let away_k = (ambient.value - CALIBRATION_TEMPERATURE_K).abs();
    let drift = transmitter.stability.zip(transmitter.since_calibration);
    [
        transmitter.accuracy,
        transmitter.temperature_effect.map(|per_k| per_k * away_k),
        drift.map(|(per_s, age)| per_s * age.as_secs_f64()),
        transmitter.resolution.map(|step| step / 2.0),
    ]
    .map(|half_width| half_width.unwrap_or(0.0))
}

/// What the table of the vessel may be off moves no level.
pub(super) fn table(tank: &TankPlan, liquid: MassDensity) -> (&'static str, f64, Slope) {
    let slope = Slope {
        sensitivity: Sensitivity {
            level_m: 0.0,
            volume_m3: 1.0,
            mass_kg: liquid.value,
        },
        density_kg_m3: 0.0,
    };
    let uncertainty = tank.vessel.uncertainty();
    ("strapping table", from_expanded(uncertainty.value), slope)
}

/// The names of a transmitter's four lines: accuracy, temperature effect, stability, resolution.
type Names = [&'static str; 4];

macro_rules! names {
    ($transmitter:literal) => {
        [
            concat!($transmitter, " accuracy"),
            concat!($transmitter, " temperature effect"),
            concat!($transmitter, " stability"),
            concat!($transmitter, " resolution"),
        ]
    };
}

const LEADING: Names = names!("transmitter");
const MIDDLE: Names = names!("middle transmitter");
const HEADSPACE: Names = names!("headspace transmitter");
const BAROMETER: Names = names!("barometer");

/// The budget while it is being written.
struct Lines<'a, S> {
    one: &'a OneHookup<'a, S>,
    working: &'a Working,
    inputs: &'a Inputs,
    level: Length,
    volume: Volume,
    area: Area,
    line: &'a mut dyn FnMut(&'static str, f64, Slope),
}

/// What comes out of one set of inputs.
struct Outcome {
    level_m: f64,
    volume_m3: f64,
    mass_kg: f64,
    density_kg_m3: f64,
}

/// What one unit of an input moves.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slope {
    pub sensitivity: Sensitivity,
    pub density_kg_m3: f64,
}

impl<S: Signals> Lines<'_, S> {
    /// One input: its standard uncertainty, a step to move it by, and what that moves.
    fn add(
        &mut self,
        name: &'static str,
        standard: f64,
        step: f64,
        shift: impl Fn(&mut Inputs, f64),
    ) {
        if standard == 0.0 {
            return;
        }
        let temperature = self.working.surroundings.liquid_temperature;
        let slope = self.slope(step, |step| {
            let mut inputs = *self.inputs;
            shift(&mut inputs, step);
            Some((inputs, temperature))
        });
        if let Some(slope) = slope {
            self.line(name, standard, slope);
        }
    }

    fn line(&mut self, name: &'static str, standard: f64, slope: Slope) {
        (self.line)(name, standard, slope);
    }

    /// ∂f/∂x ≈ (f(x + s) − f(x − s)) / 2s
    fn slope(
        &self,
        step: f64,
        moved: impl Fn(f64) -> Option<(Inputs, Temperature)>,
    ) -> Option<Slope> {
        let outcome = |step: f64| moved(step).map(|(inputs, shell)| self.outcome(&inputs, shell));
        let (up, down) = (outcome(step)?, outcome(-step)?);
        let per_unit = |up: f64, down: f64| (up - down) / (2.0 * step);
        Some(Slope {
            sensitivity: Sensitivity {
                level_m: per_unit(up.level_m, down.level_m),
                volume_m3: per_unit(up.volume_m3, down.volume_m3),
                mass_kg: per_unit(up.mass_kg, down.mass_kg),
            },
            density_kg_m3: per_unit(up.density_kg_m3, down.density_kg_m3),
        })
    }

    fn outcome(&self, inputs: &Inputs, shell: Temperature) -> Outcome {
        let tank = self.one.place.tank;
        let balance = inputs.balance();
        let surface = tank.vessel.level(balance.solve(inputs.difference));
        let level = self.one.place.hookup.correction.applied(surface);
        let grown = if shell == self.working.surroundings.liquid_temperature {
            self.volume
        } else {
            tank.vessel.at(Some(shell)).volume(self.level + tank.zero)
        };
        // V(h + δ) = V(h) + A·δ: to first order, whatever the vessel's shape
        let volume = grown + self.area * (level - self.level);
        Outcome {
            level_m: level.value,
            volume_m3: volume.value,
            // m = ρ·V(h)
            mass_kg: (balance.liquid * volume).value,
            density_kg_m3: balance.liquid.value,
        }
    }

    fn pressures(&mut self) {
        let hookup = &self.one.place.hookup.hookup;
        self.transmitter(LEADING, hookup.leading());
        match hookup {
            Hookup::TwoTransmitter { headspace, .. } => {
                self.transmitter(HEADSPACE, headspace.transmitter);
            }
            Hookup::ThreeTransmitter {
                middle, headspace, ..
            } => {
                self.transmitter(MIDDLE, middle.transmitter);
                self.transmitter(HEADSPACE, headspace.transmitter);
            }
            Hookup::DipTube { friction, .. } => {
                let uncertainty = from_expanded(friction.uncertainty.0.value);
                self.add("purge friction", uncertainty, 1.0, |inputs, step| {
                    shift(inputs, -step, 0.0);
                });
            }
            _ => {}
        }
        for barometer in self.one.place.plan.ambient.pressure.tags() {
            if !hookup.transmitters().any(|own| own == *barometer) {
                self.transmitter(BAROMETER, *barometer);
            }
        }
    }

    /// A transmitter of the hookup, or the barometer: line by line.
    fn transmitter(&mut self, names: Names, id: TransmitterId) {
        let half_widths = self.half_widths(&self.one.place.plan.transmitters[id.index()]);
        let Some(slope) = self.slope_of(id, half_widths.into_iter().fold(0.0, f64::max)) else {
            return;
        };
        for (name, half_width) in names.into_iter().zip(half_widths) {
            self.line(name, rectangular(half_width), slope);
        }
    }

    /// Temperatures and pressures that densities and the shell are taken at: a line each.
    fn conditions(&mut self) {
        let (plan, tank) = (self.one.place.plan, self.one.place.tank);
        let hookup = &self.one.place.hookup.hookup;
        let mut sources: [Option<(&'static str, &Source)>; 14] = [None; 14];
        let fills = hookup.fills().filter_map(|fill| match fill {
            LegFill::Filled(fill) => Some(fill),
            LegFill::OwnLiquid | LegFill::Gas => None,
        });
        let of_fills = fills.flat_map(|fill| {
            [
                Some(("fill temperature", &fill.temperature)),
                pressure_of(&fill.pressure).map(|source| ("fill pressure", source)),
            ]
        });
        let of_tank = [
            Some(("ambient temperature", &plan.ambient.temperature)),
            Some(("liquid temperature", &tank.liquid.temperature)),
            pressure_of(&tank.liquid.pressure).map(|source| ("liquid pressure", source)),
            Some(("gas temperature", &tank.gas.temperature)),
            Some(("gas pressure", &tank.gas.pressure)),
        ];
        let all = of_tank.into_iter().chain(of_fills).flatten();
        for (place, source) in sources.iter_mut().zip(all) {
            *place = Some(source);
        }
        let tags = || {
            let sources = sources.iter().flatten();
            sources.flat_map(|(name, source)| source.tags().iter().map(move |id| (*name, *id)))
        };
        for (place, (name, id)) in tags().enumerate() {
            let has_line = hookup.transmitters().any(|own| own == id)
                || plan.ambient.pressure.names(id)
                || tags().take(place).any(|(_, earlier)| earlier == id);
            if !has_line {
                self.condition(name, id);
            }
        }
    }

    fn condition(&mut self, name: &'static str, id: TransmitterId) {
        let half_widths = self.half_widths(&self.one.place.plan.transmitters[id.index()]);
        let standard = half_widths
            .map(rectangular)
            .into_iter()
            .fold(0.0, f64::hypot);
        if let Some(slope) = self.slope_of(id, standard) {
            self.line(name, standard, slope);
        }
    }

    fn half_widths(&self, transmitter: &TransmitterPlan) -> [f64; 4] {
        half_widths(transmitter, self.working.surroundings.ambient)
    }

    /// What an SI unit of a transmitter's reading moves, on every path from it to the level.
    fn slope_of(&self, id: TransmitterId, step: f64) -> Option<Slope> {
        if step == 0.0 {
            return None;
        }
        let one = self.one;
        let moves_all = hangs_on(one.place.plan, one.place.tank, &one.place.hookup.hookup, id);
        self.slope(step, |by| {
            let signals = Nudged {
                signals: one.signals,
                transmitter: id,
                by,
            };
            if moves_all {
                let basis = Basis::of(one.place.plan, one.place.tank, one.place.hookup, &signals);
                self.inputs_by(&basis, &basis.pressures)
            } else {
                let pressures =
                    one.basis
                        .pressures(one.place.plan, &one.place.hookup.hookup, &signals);
                self.inputs_by(one.basis, &pressures)
            }
        })
    }

    fn inputs_by(&self, basis: &Basis<'_>, pressures: &Pressures) -> Option<(Inputs, Temperature)> {
        let mut inputs = Inputs {
            balance: basis.balance,
            difference: pressures.difference?,
            column: None,
        };
        match self.one.held {
            _ if self.working.density_measured => inputs.column = Some(basis.column_by(pressures)?),
            Some(held) => inputs.balance.liquid = held.value,
            None => {}
        }
        Some((inputs, basis.surroundings.liquid_temperature))
    }

    fn gravity(&mut self) {
        let standard = from_expanded(self.one.place.plan.gravity_uncertainty.value);
        let ranged = matches!(self.one.place.hookup.hookup, Hookup::Level { .. });
        let per_gravity = self.inputs.difference.0.value / self.inputs.balance.gravity.value;
        self.add("gravity", standard, 1e-4, |inputs, step| {
            inputs.balance.gravity.value += step;
            // A range in level was worked out with the same gravity.
            let felt = if ranged { per_gravity * step } else { 0.0 };
            shift(inputs, felt, 0.0);
        });
    }
}

fn pressure_of(pressure: &Option<LiquidPressure>) -> Option<&Source> {
    match pressure {
        Some(LiquidPressure::Of(source)) => Some(source),
        Some(LiquidPressure::AboveAir(_)) | None => None,
    }
}

/// Moves the difference, and that of the column which measures the density.
fn shift(inputs: &mut Inputs, difference_pa: f64, column_pa: f64) {
    inputs.difference = inputs.difference + DifferentialPressure::pascals(difference_pa);
    if let Some(column) = &mut inputs.column {
        column.difference = column.difference + DifferentialPressure::pascals(column_pa);
    }
}
