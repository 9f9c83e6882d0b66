//! What people do to a tank, and what goes wrong with its gas.

use super::{Air, HeadspaceFault, Setting, Tank};
use crate::physics::liquid::Conditions;
use crate::plant::headspace::Headspace;
use crate::plant::model::{GasModel, HeadspaceModel};
use crate::quantity::{AbsolutePressure, Temperature, cubic_metres_per_second, kelvin, metres};

impl Tank {
    pub fn set(&mut self, setting: Setting, value: f64, air: &Air) {
        self.begin_anew();
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
            Setting::LiquidTemperature => self.warm(kelvin(value), air),
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
            Setting::Interface => {
                let lower = model.lower.iter_mut();
                lower.for_each(|lower| lower.boundary = metres(value));
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
            Setting::Interface => model.lower.map_or(0.0, |lower| lower.boundary.value),
            Setting::Agitation => self.agitation_m,
        }
    }

    /// The liquid takes another temperature and keeps its mass: ρ·V before = ρ·V after. What then rises above the
    /// overflow runs off.
    fn warm(&mut self, to: Temperature, air: &Air) {
        let before_kg_m3 = self.told_density(air);
        self.model.liquid_temperature = to;
        let lower_m3 = self.lower_m3().min(self.volume_m3);
        let upper_m3 = self.volume_m3 - lower_m3;
        let warm_m3 = lower_m3 + upper_m3 * (before_kg_m3 / self.told_density(air));
        self.overflowed_m3 += (warm_m3 - self.most_m3).max(0.0);
        self.volume_m3 = warm_m3.clamp(self.least_m3, self.most_m3);
    }

    /// Of a heavier liquid below, which keeps its density.
    fn lower_m3(&self) -> f64 {
        let model = &self.model;
        model.lower.map_or(0.0, |lower| {
            let warm = model.vessel.at(Some(model.liquid_temperature));
            warm.volume(lower.boundary + model.zero).value
        })
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
        self.begin_anew();
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
                let gas = GasModel::shut(AbsolutePressure::pascals(pressure_pa));
                self.headspace = Some(Headspace::new(gas, pressure_pa, self.gas_state()));
                self.model.headspace = HeadspaceModel::Gas(gas);
            }
        }
    }

    /// Mend it; a time in the fault means nothing here.
    pub fn mend(&mut self, fault: HeadspaceFault) {
        self.begin_anew();
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
