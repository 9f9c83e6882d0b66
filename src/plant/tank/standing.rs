//! What stands in a tank and its lines at a moment.

use super::{Air, Tank};
use crate::physics::liquid::{Conditions, Density};
use crate::plant::columns::Columns;
use crate::plant::model::HeadspaceModel;
use crate::quantity::{AbsolutePressure, Length, metres};
use std::f64::consts::PI;

/// What columns hang on, besides the volume, what moves in each step, and what never changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cause {
    /// What was done to the tank and around it.
    deeds: u32,
    /// Of gas that is closed in.
    gas_pa: Option<f64>,
}

impl Tank {
    /// The standing columns at this moment, made anew only as far as what they hang on is another than before:
    /// in most steps nothing is, or the volume alone. True where they are others now.
    pub fn refresh(&self, columns: &mut Columns, air: &Air) -> bool {
        let before = (columns.swell_m, columns.suction_pa);
        let mut is_other = columns.cause != self.cause();
        if is_other {
            *columns = self.columns(air);
        } else if columns.volume_m3.to_bits() != self.volume_m3.to_bits() {
            self.stand(columns);
            is_other = true;
        }
        columns.swell_m = self.swell_m;
        columns.suction_pa = self.suction_pa(columns.liquid_kg_m3);
        debug_assert_eq!(*columns, self.columns(air), "a cause is missing");
        is_other || before != (columns.swell_m, columns.suction_pa)
    }

    fn cause(&self) -> Cause {
        Cause {
            deeds: self.deeds,
            gas_pa: self.gas_pressure_pa(),
        }
    }

    fn gas_pressure_pa(&self) -> Option<f64> {
        let headspace = self.headspace.as_ref()?;
        Some(headspace.pressure_pa(self.gas_state()))
    }

    /// The standing columns at this moment.
    pub fn columns(&self, air: &Air) -> Columns {
        let top_m = self.top().value;
        let opening = match (self.model.headspace, self.gas_pressure_pa()) {
            (HeadspaceModel::Vented { at }, _) => (at.value, air.pressure_pa(at.value)),
            (_, Some(pressure_pa)) => (top_m, pressure_pa),
            (HeadspaceModel::Closed { pressure }, _) => (top_m, pressure.0.value),
            (HeadspaceModel::Gas(gas), None) => (top_m, gas.pressure.0.value),
        };
        let at = |temperature| Conditions {
            temperature,
            pressure: AbsolutePressure::pascals(opening.1),
        };
        let lines = self.line_temperature.unwrap_or(air.model.temperature);
        let liquid = &self.model.liquid;
        let in_vessel = liquid.density(at(self.model.liquid_temperature));
        let in_lines = liquid.density_in_leg(at(lines));
        let truly = |density: Density| density.value.value * self.density_ratio;
        let gas = self.model.gas.density(at(self.model.gas_temperature));
        let mut columns = Columns {
            cause: self.cause(),
            volume_m3: self.volume_m3,
            gravity_m_s2: air.gravity.value,
            surface_m: 0.0,
            opening_m: opening.0,
            opening_pa: opening.1,
            liquid_kg_m3: truly(in_vessel),
            gas_kg_m3: gas.value.value,
            liquid_in_lines_kg_m3: truly(in_lines),
            gas_in_lines_kg_m3: self.model.gas.density_in_leg(gas, at(lines)).value.value,
            lines_k: lines.value,
            lines_warmed_k: lines.value - self.lines_began.value,
            foam_m: 0.0,
            foam_kg_m3: self.model.foam_share * truly(in_vessel),
            lower_m: f64::NEG_INFINITY,
            lower_kg_m3: (self.model.lower).map_or(0.0, |lower| lower.density.value),
            sediment_m: f64::NEG_INFINITY,
            sediment_kg_m3: self.model.sediment_density.value,
            swell_m: self.swell_m,
            suction_pa: self.suction_pa(truly(in_vessel)),
        };
        self.stand(&mut columns);
        columns
    }

    /// How high everything stands.
    fn stand(&self, columns: &mut Columns) {
        let vessel = &self.model.vessel;
        let surface_m = vessel.elevation(self.level()).value;
        let room_m = (self.top().value - surface_m).max(0.0);
        columns.volume_m3 = self.volume_m3;
        columns.surface_m = surface_m;
        columns.foam_m = self.foam_m.min(room_m);
        let up_to_m = |level: Option<Length>| {
            level.map_or(f64::NEG_INFINITY, |level| {
                vessel.elevation(level).value.min(surface_m)
            })
        };
        columns.lower_m = up_to_m(self.model.lower.map(|lower| lower.boundary));
        columns.sediment_m = up_to_m(self.sediment_m.map(metres));
    }

    /// What the flow past a tap in the outlet takes from its pressure: ½·ρ·(Q/A)² (Bernoulli).
    fn suction_pa(&self, liquid_kg_m3: f64) -> f64 {
        self.model.tap_in_outlet.map_or(0.0, |bore| {
            let area_m2 = PI / 4.0 * bore.value * bore.value;
            let net_m3_s = self.piped_in_m3_s - self.piped_out_m3_s;
            let out_m3_s = self.model.outflow.value - net_m3_s.min(0.0);
            0.5 * liquid_kg_m3 * (out_m3_s / area_m2).powi(2)
        })
    }
}
