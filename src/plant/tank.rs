//! A tank as it truly is at a moment: its volume is the state, everything else follows from it.

use super::columns::{Cause, Columns};
use super::headspace::Headspace;
use super::model::{AirModel, HeadspaceModel, TankModel};
use super::noise::Noise;
use crate::physics::liquid::{Conditions, Density};
use crate::quantity::{
    AbsolutePressure, Acceleration, Length, Temperature, cubic_metres, cubic_metres_per_second,
    kelvin, metres,
};
use std::f64::consts::PI;

/// The air at the plant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Air {
    pub model: AirModel,
    pub gravity: Acceleration,
}

impl Air {
    pub fn pressure_pa(&self, elevation_m: f64) -> f64 {
        self.model
            .pressure(metres(elevation_m), self.gravity)
            .0
            .value
    }
}

/// What somebody can turn at a tank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Setting {
    /// m³/s.
    Inflow,
    /// m³/s.
    Outflow,
    /// Absolute pressure at the top of the vessel, Pa. A vented tank is closed by it.
    Headspace,
    /// K.
    LiquidTemperature,
    /// K.
    GasTemperature,
    /// Of its lines, K. They no longer follow the air then.
    LineTemperature,
    /// Of the liquid at the temperature that it has now, kg/m³.
    Density,
    /// Thickness of the foam on the liquid, m.
    Foam,
    /// How high above the tank's zero sediment lies, m.
    Sediment,
    /// Standard deviation of the surface's sway, m.
    Agitation,
}

/// What can be wrong with the gas above a liquid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HeadspaceFault {
    /// Nothing goes through the vent any more; an open tank is closed by it.
    VentBlocked,
    /// The blanket brings no gas.
    BlanketLost,
    /// Gas leaks to the air: in so many seconds the pressure above the air's falls to 1/e.
    Leak(f64),
}

/// How long a surface that is stirred remembers where it was, s: a choice of this model, about a quarter of
/// the period that a surface a metre wide sways with.
const SWAY_S: f64 = 0.3;

#[derive(Clone, Debug)]
pub(super) struct Tank {
    pub model: TankModel,
    volume_m3: f64,
    bottom_m3: f64,
    least_m3: f64,
    most_m3: f64,
    overflowed_m3: f64,
    not_drawn_m3: f64,
    /// What pipes bring, less what they take, m³/s.
    pub piped_m3_s: f64,
    /// True density over the one that the liquid should have.
    density_ratio: f64,
    /// The gas that is closed in, where it is.
    headspace: Option<Headspace>,
    /// How the headspace was before its vent was blocked.
    before_blocking: Option<(HeadspaceModel, Option<Headspace>)>,
    line_temperature: Option<Temperature>,
    lines_began: Temperature,
    foam_m: f64,
    sediment_m: Option<f64>,
    agitation_m: f64,
    swell_m: f64,
    noise: Noise,
}

impl Tank {
    pub fn new(model: TankModel, air: &Air, noise: Noise) -> Self {
        let vessel = &model.vessel;
        let lip = model
            .overflow
            .map_or(vessel.top(), |level| (level + model.zero).min(vessel.top()));
        let (least_m3, most_m3) = (
            vessel.volume(vessel.bottom()).value,
            vessel.volume(lip).value,
        );
        let warm = vessel.at(Some(model.liquid_temperature));
        let volume_m3 = warm.volume(model.level + model.zero).value.min(most_m3);
        let mut tank = Self {
            volume_m3,
            bottom_m3: least_m3,
            least_m3,
            most_m3,
            overflowed_m3: 0.0,
            not_drawn_m3: 0.0,
            piped_m3_s: 0.0,
            density_ratio: 1.0,
            headspace: None,
            before_blocking: None,
            line_temperature: None,
            lines_began: air.model.temperature,
            foam_m: 0.0,
            sediment_m: None,
            agitation_m: 0.0,
            swell_m: 0.0,
            noise,
            model,
        };
        if let HeadspaceModel::Gas(gas) = tank.model.headspace {
            let pressure_pa = gas.pressure.0.value;
            tank.headspace = Some(Headspace::new(gas, pressure_pa, tank.gas_state()));
        }
        if let Some(density) = tank.model.density {
            tank.set(Setting::Density, density.value, air);
        }
        tank
    }

    pub fn volume_m3(&self) -> f64 {
        self.volume_m3
    }

    /// What ran over since the start.
    pub fn overflowed_m3(&self) -> f64 {
        self.overflowed_m3
    }

    /// What was to be drawn since the start but was not there.
    pub fn not_drawn_m3(&self) -> f64 {
        self.not_drawn_m3
    }

    /// Of the clear liquid, above the tank's zero.
    pub fn level(&self) -> Length {
        let warm = (self.model.vessel).at(Some(self.model.liquid_temperature));
        let level = warm.height(cubic_metres(self.volume_m3)) - self.model.zero;
        if self.foam_m == 0.0 {
            return level;
        }
        // What is in the foam is missed below: φ·A·z, as in straight walls.
        let vessel = &self.model.vessel;
        let lower_m = self.model.foam_share * self.foam_m;
        let lowest = vessel.bottom() - self.model.zero;
        vessel
            .level(vessel.elevation(level) - metres(lower_m))
            .max(lowest)
    }

    /// Let time go by. Volume before + in − out = volume after + overflowed − not drawn.
    pub fn step(&mut self, seconds: f64, air: &Air) {
        // ΔV = (Q_in − Q_out)·Δt
        let flow_m3_s = self.model.inflow.value - self.model.outflow.value + self.piped_m3_s;
        let wanted_m3 = self.volume_m3 + flow_m3_s * seconds;
        self.volume_m3 = wanted_m3.clamp(self.least_m3, self.most_m3);
        self.overflowed_m3 += (wanted_m3 - self.most_m3).max(0.0);
        self.not_drawn_m3 += (self.least_m3 - wanted_m3).max(0.0);
        if self.headspace.is_some() {
            let (state, air_pa) = (self.gas_state(), air.pressure_pa(self.top().value));
            let headspace = self.headspace.as_mut();
            headspace
                .into_iter()
                .for_each(|headspace| headspace.step(seconds, state, air_pa));
        }
        if self.agitation_m > 0.0 {
            // An Ornstein–Uhlenbeck process: x ← x·e^(−Δt/τ) + σ·√(1 − e^(−2Δt/τ))·N(0, 1).
            let kept = (-seconds / SWAY_S).exp();
            self.swell_m *= kept;
            self.swell_m += self.agitation_m * (1.0 - kept * kept).sqrt() * self.noise.next();
        }
    }

    /// The standing columns at this moment, made anew only as far as what they hang on is another than before:
    /// in most steps no density is, and often not even the volume.
    pub fn columns_after(&self, before: &Columns, air: &Air) -> Columns {
        let opening = self.opening(air);
        let cause = self.cause(air, opening.1);
        if before.cause != cause {
            return self.columns(air);
        }
        let stands = before.volume_m3.to_bits() == self.volume_m3.to_bits()
            && before.foam_depth_m.to_bits() == self.foam_m.to_bits();
        let columns = Columns {
            volume_m3: self.volume_m3,
            foam_depth_m: self.foam_m,
            opening_m: opening.0,
            surface_m: match stands {
                true => before.surface_m,
                false => self.surface_m(),
            },
            ..*before
        };
        let columns = self.with_what_lies_in_it(columns);
        debug_assert_eq!(columns, self.columns(air), "a cause is missing");
        columns
    }

    /// The standing columns at this moment.
    pub fn columns(&self, air: &Air) -> Columns {
        let opening = self.opening(air);
        let cause = self.cause(air, opening.1);
        let at = |temperature| Conditions {
            temperature,
            pressure: AbsolutePressure::pascals(opening.1),
        };
        let [in_vessel, in_gas, lines] = cause.temperatures;
        let liquid = &self.model.liquid;
        let truly = |density: Density| density.value.value * self.density_ratio;
        let liquid_kg_m3 = truly(liquid.density(at(in_vessel)));
        let gas = self.model.gas.density(at(in_gas));
        self.with_what_lies_in_it(Columns {
            cause,
            volume_m3: self.volume_m3,
            foam_depth_m: self.foam_m,
            gravity_m_s2: air.gravity.value,
            surface_m: self.surface_m(),
            opening_m: opening.0,
            opening_pa: opening.1,
            liquid_kg_m3,
            gas_kg_m3: gas.value.value,
            liquid_in_lines_kg_m3: truly(liquid.density_in_leg(at(lines))),
            gas_in_lines_kg_m3: self.model.gas.density_in_leg(gas, at(lines)).value.value,
            lines_k: lines.value,
            lines_warmed_k: lines.value - self.lines_began.value,
            foam_m: 0.0,
            foam_kg_m3: self.model.foam_share * liquid_kg_m3,
            sediment_m: f64::NEG_INFINITY,
            sediment_kg_m3: self.model.sediment_density.value,
            swell_m: 0.0,
            suction_pa: 0.0,
        })
    }

    /// With foam, sediment, sway and flow as they are now.
    fn with_what_lies_in_it(&self, columns: Columns) -> Columns {
        let surface_m = columns.surface_m;
        let bed_m = self
            .sediment_m
            .map(|level_m| self.model.vessel.elevation(metres(level_m)).value);
        Columns {
            foam_m: self.foam_m.min((self.top().value - surface_m).max(0.0)),
            sediment_m: bed_m.map_or(f64::NEG_INFINITY, |bed_m| bed_m.min(surface_m)),
            swell_m: self.swell_m,
            suction_pa: self.suction_pa(columns.liquid_kg_m3),
            ..columns
        }
    }

    /// Where the pressure of the gas is known, and what it is there.
    fn opening(&self, air: &Air) -> (f64, f64) {
        let top_m = self.top().value;
        match (self.model.headspace, &self.headspace) {
            (HeadspaceModel::Vented { at }, _) => (at.value, air.pressure_pa(at.value)),
            (_, Some(headspace)) => (top_m, headspace.pressure_pa(self.gas_state())),
            (HeadspaceModel::Closed { pressure }, _) => (top_m, pressure.0.value),
            (HeadspaceModel::Gas(gas), None) => (top_m, gas.pressure.0.value),
        }
    }

    fn cause(&self, air: &Air, opening_pa: f64) -> Cause {
        let lines = self.line_temperature.unwrap_or(air.model.temperature);
        Cause {
            air: *air,
            opening_pa,
            temperatures: [
                self.model.liquid_temperature,
                self.model.gas_temperature,
                lines,
            ],
            density_ratio: self.density_ratio,
        }
    }

    /// Elevation of the surface of the clear liquid.
    fn surface_m(&self) -> f64 {
        self.model.vessel.elevation(self.level()).value
    }

    /// What the flow past a tap in the outlet takes from its pressure: ½·ρ·(Q/A)² (Bernoulli).
    fn suction_pa(&self, liquid_kg_m3: f64) -> f64 {
        self.model.tap_in_outlet.map_or(0.0, |bore| {
            let area_m2 = PI / 4.0 * bore.value * bore.value;
            let out_m3_s = self.model.outflow.value - self.piped_m3_s.min(0.0);
            0.5 * liquid_kg_m3 * (out_m3_s / area_m2).powi(2)
        })
    }

    pub fn set_level(&mut self, level: Length) {
        let warm = (self.model.vessel).at(Some(self.model.liquid_temperature));
        let volume_m3 = warm.volume(level + self.model.zero).value;
        self.volume_m3 = volume_m3.clamp(self.least_m3, self.most_m3);
    }

    /// Elevation of the vessel's highest inside point, above the tank's zero.
    pub fn top(&self) -> Length {
        let vessel = &self.model.vessel;
        vessel.elevation(vessel.top() - self.model.zero)
    }

    /// Volume and temperature of the gas.
    fn gas_state(&self) -> (f64, f64) {
        let capacity_m3 = self.model.vessel.capacity().value;
        (
            capacity_m3 - self.volume_m3,
            self.model.gas_temperature.value,
        )
    }
}

/// What people do to it.
impl Tank {
    pub fn set(&mut self, setting: Setting, value: f64, air: &Air) {
        let model = &mut self.model;
        match setting {
            Setting::Inflow => model.inflow = cubic_metres_per_second(value),
            Setting::Outflow => model.outflow = cubic_metres_per_second(value),
            Setting::Headspace => match &mut self.headspace {
                // As if gas had been let in or out; from then on it goes its own way.
                Some(headspace) => {
                    let capacity_m3 = model.vessel.capacity().value;
                    let volume_m3 = capacity_m3 - self.volume_m3;
                    headspace.fill(value, (volume_m3, model.gas_temperature.value));
                }
                None => {
                    let pressure = AbsolutePressure::pascals(value);
                    model.headspace = HeadspaceModel::Closed { pressure };
                }
            },
            Setting::LiquidTemperature => model.liquid_temperature = kelvin(value),
            Setting::GasTemperature => model.gas_temperature = kelvin(value),
            Setting::LineTemperature => self.line_temperature = Some(kelvin(value)),
            Setting::Density => self.density_ratio = value / self.told_density(air),
            Setting::Foam => self.foam_m = value,
            Setting::Sediment => {
                let vessel = &model.vessel;
                let bed_m3 = vessel.volume(metres(value) + model.zero).value;
                self.least_m3 = bed_m3.clamp(self.bottom_m3, self.most_m3);
                self.sediment_m = Some(value).filter(|_| bed_m3 > self.bottom_m3);
            }
            Setting::Agitation => {
                self.agitation_m = value;
                if value == 0.0 {
                    self.swell_m = 0.0;
                }
            }
        }
    }

    pub fn setting(&self, setting: Setting, air: &Air) -> f64 {
        let model = &self.model;
        match setting {
            Setting::Inflow => model.inflow.value,
            Setting::Outflow => model.outflow.value,
            Setting::Headspace => self.columns(air).pressure_pa(self.top().value),
            Setting::LiquidTemperature => model.liquid_temperature.value,
            Setting::GasTemperature => model.gas_temperature.value,
            Setting::LineTemperature => {
                let lines = self.line_temperature.unwrap_or(air.model.temperature);
                lines.value
            }
            Setting::Density => self.told_density(air) * self.density_ratio,
            Setting::Foam => self.foam_m,
            Setting::Sediment => {
                let bottom = model.vessel.bottom() - model.zero;
                self.sediment_m.unwrap_or(bottom.value)
            }
            Setting::Agitation => self.agitation_m,
        }
    }

    /// What the liquid should weigh at its temperature, kg/m³.
    fn told_density(&self, air: &Air) -> f64 {
        let conditions = Conditions {
            temperature: self.model.liquid_temperature,
            pressure: air.model.pressure,
        };
        self.model.liquid.density(conditions).value.value
    }

    pub fn inflict(&mut self, fault: HeadspaceFault, air: &Air) {
        match (fault, &mut self.headspace) {
            (HeadspaceFault::VentBlocked, _) => {
                if self.before_blocking.is_none() {
                    self.before_blocking = Some((self.model.headspace, self.headspace.clone()));
                    self.block_vent(air);
                }
            }
            (HeadspaceFault::BlanketLost, Some(headspace)) => headspace.blanket_lost = true,
            (HeadspaceFault::Leak(time_s), Some(headspace)) => headspace.leaks_in_s = Some(time_s),
            (HeadspaceFault::BlanketLost | HeadspaceFault::Leak(_), None) => {}
        }
    }

    fn block_vent(&mut self, air: &Air) {
        match &mut self.headspace {
            Some(headspace) => headspace.vent_blocked = true,
            None => {
                let pressure_pa = self.columns(air).pressure_pa(self.top().value);
                let gas = super::GasModel::shut(AbsolutePressure::pascals(pressure_pa));
                self.headspace = Some(Headspace::new(gas, pressure_pa, self.gas_state()));
                self.model.headspace = HeadspaceModel::Gas(gas);
            }
        }
    }

    /// Mend it; a time in the fault means nothing here.
    pub fn mend(&mut self, fault: HeadspaceFault) {
        match (fault, &mut self.headspace) {
            (HeadspaceFault::VentBlocked, _) => match self.before_blocking.take() {
                Some((model, None)) => (self.model.headspace, self.headspace) = (model, None),
                _ => {
                    let headspace = self.headspace.iter_mut();
                    headspace.for_each(|headspace| headspace.vent_blocked = false);
                }
            },
            (HeadspaceFault::BlanketLost, Some(headspace)) => headspace.blanket_lost = false,
            (HeadspaceFault::Leak(_), Some(headspace)) => headspace.stop_leak(),
            (HeadspaceFault::BlanketLost | HeadspaceFault::Leak(_), None) => {}
        }
    }
}
