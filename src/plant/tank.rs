//! A tank as it truly is at a moment: the volume of its liquid is the state, everything else follows from it. What is
//! warmed keeps its mass, so its volume grows as its density falls.

mod deeds;
mod standing;

use super::headspace::Headspace;
use super::model::{AirModel, HeadspaceModel, TankModel};
use super::noise::Noise;
use crate::quantity::{Acceleration, Length, Temperature, cubic_metres, metres};

pub(super) use standing::Cause;

/// The air at the plant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Air {
    pub model: AirModel,
    pub gravity: Acceleration,
    density_kg_m3: f64,
}

impl Air {
    pub fn new(model: AirModel, gravity: Acceleration) -> Self {
        Self {
            density_kg_m3: model.density_kg_m3(),
            model,
            gravity,
        }
    }

    pub fn pressure_pa(&self, elevation_m: f64) -> f64 {
        let at = metres(elevation_m);
        let pressure = self.model.pressure_by(self.density_kg_m3, at, self.gravity);
        pressure.0.value
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
    /// How high above the tank's zero a heavier liquid stands, m; of a tank that has one.
    Interface,
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
    /// What pipes bring and what they take, m³/s.
    pub piped_in_m3_s: f64,
    pub piped_out_m3_s: f64,
    /// What was to be drawn in the last step but was not there, m³/s.
    short_m3_s: f64,
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
    /// Counts what was done to it and around it: what columns hang on, besides the volume.
    deeds: u32,
    /// What stands in it and its lines is what it was when somebody looked before: at the last step, or at what is told.
    pub stands_still: bool,
    /// It is not what it was when last told.
    pub moved: bool,
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
            piped_in_m3_s: 0.0,
            piped_out_m3_s: 0.0,
            short_m3_s: 0.0,
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
            deeds: 0,
            stands_still: false,
            moved: false,
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

    /// What a pipe takes from it; less than nothing is brought.
    pub fn take_by_pipe(&mut self, flow_m3_s: f64) {
        self.piped_out_m3_s += flow_m3_s.max(0.0);
        self.piped_in_m3_s += (-flow_m3_s).max(0.0);
    }

    /// All that comes in, m³/s.
    pub fn inflow_m3_s(&self) -> f64 {
        self.model.inflow.value + self.piped_in_m3_s
    }

    /// All that is drawn, as far as it is there, m³/s.
    pub fn outflow_m3_s(&self) -> f64 {
        self.model.outflow.value + self.piped_out_m3_s - self.short_m3_s
    }

    /// Between the heavier liquid and what stands on it, above the tank's zero; the level itself where nothing
    /// does.
    pub fn boundary(&self) -> Option<Length> {
        let lower = self.model.lower?;
        Some(lower.boundary.min(self.level()))
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
        let piped_m3_s = self.piped_in_m3_s - self.piped_out_m3_s;
        let flow_m3_s = self.model.inflow.value - self.model.outflow.value + piped_m3_s;
        let wanted_m3 = self.volume_m3 + flow_m3_s * seconds;
        self.short_m3_s = 0.0;
        if !(self.least_m3..=self.most_m3).contains(&wanted_m3) {
            self.overflowed_m3 += (wanted_m3 - self.most_m3).max(0.0);
            let short_m3 = (self.least_m3 - wanted_m3).max(0.0);
            self.not_drawn_m3 += short_m3;
            self.short_m3_s = short_m3 / seconds;
        }
        self.volume_m3 = wanted_m3.clamp(self.least_m3, self.most_m3);
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

    /// Something was done to it or around it.
    pub fn begin_anew(&mut self) {
        self.deeds = self.deeds.wrapping_add(1);
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
