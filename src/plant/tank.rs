//! A tank as it truly is at a moment: its volume is the state, everything else follows from it.

use super::model::{AirModel, HeadspaceModel, TankModel};
use crate::physics::liquid::{Conditions, Density};
use crate::quantity::{
    AbsolutePressure, Acceleration, Length, MassDensity, Temperature, cubic_metres, metres,
};

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

#[derive(Clone, Debug)]
pub(super) struct Tank {
    pub model: TankModel,
    volume_m3: f64,
    least_m3: f64,
    most_m3: f64,
    overflowed_m3: f64,
    not_drawn_m3: f64,
}

impl Tank {
    pub fn new(model: TankModel) -> Self {
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
        Self {
            volume_m3,
            least_m3,
            most_m3,
            overflowed_m3: 0.0,
            not_drawn_m3: 0.0,
            model,
        }
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

    /// Above the tank's zero.
    pub fn level(&self) -> Length {
        let warm = (self.model.vessel).at(Some(self.model.liquid_temperature));
        warm.height(cubic_metres(self.volume_m3)) - self.model.zero
    }

    /// Let liquid flow for a time. Volume before + in − out = volume after + overflowed − not drawn.
    pub fn flow(&mut self, seconds: f64) {
        // ΔV = (Q_in − Q_out)·Δt
        let wanted_m3 =
            self.volume_m3 + (self.model.inflow.value - self.model.outflow.value) * seconds;
        self.volume_m3 = wanted_m3.clamp(self.least_m3, self.most_m3);
        self.overflowed_m3 += (wanted_m3 - self.most_m3).max(0.0);
        self.not_drawn_m3 += (self.least_m3 - wanted_m3).max(0.0);
    }

    /// The standing columns at this moment, made anew only as far as what they hang on is another than before:
    /// in most steps nothing is, or the volume alone.
    pub fn columns_after(&self, before: &Columns, air: &Air) -> Columns {
        let mut columns = match before.cause == self.cause(air) {
            true => *before,
            false => return self.columns(air),
        };
        if columns.volume_m3.to_bits() != self.volume_m3.to_bits() {
            columns.volume_m3 = self.volume_m3;
            columns.surface_m = self.surface_m();
        }
        debug_assert_eq!(columns, self.columns(air), "a cause is missing");
        columns
    }

    /// All that columns hang on, but for the volume.
    fn cause(&self, air: &Air) -> Cause {
        Cause {
            air: *air,
            headspace: self.model.headspace,
            temperatures: [self.model.liquid_temperature, self.model.gas_temperature],
            density: self.model.density,
        }
    }

    /// Elevation of the surface.
    fn surface_m(&self) -> f64 {
        self.model.vessel.elevation(self.level()).value
    }

    /// The standing columns at this moment.
    pub fn columns(&self, air: &Air) -> Columns {
        let top_m = self.top().value;
        let opening = match self.model.headspace {
            HeadspaceModel::Vented { at } => (at.value, air.pressure_pa(at.value)),
            HeadspaceModel::Closed { pressure } => (top_m, pressure.0.value),
        };
        let at = |temperature| Conditions {
            temperature,
            pressure: AbsolutePressure::pascals(opening.1),
        };
        let liquid = &self.model.liquid;
        let in_vessel = liquid.density(at(self.model.liquid_temperature));
        let in_lines = liquid.density_in_leg(at(air.model.temperature));
        let truly = |density: Density| self.model.density.unwrap_or(density.value).value;
        let gas = self.model.gas.density(at(self.model.gas_temperature));
        Columns {
            cause: self.cause(air),
            volume_m3: self.volume_m3,
            gravity_m_s2: air.gravity.value,
            surface_m: self.surface_m(),
            opening_m: opening.0,
            opening_pa: opening.1,
            liquid_kg_m3: truly(in_vessel),
            gas_kg_m3: gas.value.value,
            liquid_in_lines_kg_m3: truly(in_lines),
            gas_in_lines_kg_m3: self
                .model
                .gas
                .density_in_leg(gas, at(air.model.temperature))
                .value
                .value,
        }
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
}

/// What columns hang on, besides what never changes.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Cause {
    air: Air,
    headspace: HeadspaceModel,
    /// Of liquid and gas.
    temperatures: [Temperature; 2],
    density: Option<MassDensity>,
}

/// What stands in a tank and in its lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Columns {
    cause: Cause,
    volume_m3: f64,
    pub gravity_m_s2: f64,
    pub surface_m: f64,
    /// Where the pressure of the gas is known, and what it is there.
    pub opening_m: f64,
    pub opening_pa: f64,
    pub liquid_kg_m3: f64,
    pub gas_kg_m3: f64,
    pub liquid_in_lines_kg_m3: f64,
    pub gas_in_lines_kg_m3: f64,
}

impl Columns {
    /// The pressure in the vessel at an elevation: from the opening through the gas down to the surface, and
    /// from there through the liquid.
    pub fn pressure_pa(&self, elevation_m: f64) -> f64 {
        let end_of_gas_m = elevation_m.max(self.surface_m);
        // Going down by Δz through a column of density ρ adds ρ·g·Δz.
        let mut pressure_pa = self.opening_pa;
        pressure_pa += self.gas_kg_m3 * self.gravity_m_s2 * (self.opening_m - end_of_gas_m);
        pressure_pa += self.liquid_kg_m3 * self.gravity_m_s2 * (end_of_gas_m - elevation_m);
        pressure_pa
    }

    pub fn covers(&self, elevation_m: f64) -> bool {
        self.surface_m > elevation_m
    }
}
