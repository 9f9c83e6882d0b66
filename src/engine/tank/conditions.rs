//! The conditions that densities are taken at: temperatures, the gas pressure, the outside air.
//!
//! A source that gives no value is replaced by its last value or by the ambient one, and says so; the
//! level is then uncertain, not lost.

use crate::engine::contact::ContactValue;
use crate::engine::ids::{ContactId, TransmitterId};
use crate::engine::plan::{
    LegFill, LiquidPlan, LiquidPressure, MeasuredDensity, Measures, Plan, Reads, Source, TankPlan,
};
use crate::engine::quality::{Reason, Reasons};
use crate::engine::signal::SignalValue;
use crate::physics::budget::{COVERAGE, rectangular};
use crate::physics::liquid::{Conditions, Density, Gas};
use crate::quantity::{AbsolutePressure, Length, Temperature, kelvin, kilograms_per_cubic_metre};
use std::ops::RangeInclusive;

/// A register that says less or more than this tells no liquid's density (common practice, no source), kg/m³.
pub const LIQUID_KG_M3: RangeInclusive<f64> = 100.0..=20_000.0;

/// What the arrangement reads transmitters through: the running engine's signals, or stated values.
pub trait Signals {
    fn value(&self, transmitter: TransmitterId) -> SignalValue;
    /// The last value ever measured, however old.
    fn last(&self, transmitter: TransmitterId) -> Option<f64>;
    /// Not known where nobody reads contacts.
    fn contact(&self, _contact: ContactId) -> ContactValue {
        ContactValue {
            on: None,
            reasons: Reason::WaitingForData.into(),
        }
    }
}

/// The air outside at one moment.
#[derive(Clone, Copy, Debug)]
pub struct OutsideAir {
    pub temperature: Temperature,
    /// At the height of the barometer.
    pub barometer: AbsolutePressure,
    pub density: Density,
}

impl OutsideAir {
    /// What stands in for signals that are missing is taken without a word: a reading says it.
    pub fn of(plan: &Plan, signals: &impl Signals) -> Self {
        let mut sources = Sources {
            plan,
            signals,
            reasons: Reasons::NONE,
        };
        sources.outside_air()
    }

    /// `p(z) = p_baro + ρair·g·(z_baro − z)`
    pub fn pressure(&self, plan: &Plan, at: Length) -> AbsolutePressure {
        let rise_m = plan.ambient.pressure_at.value - at.value;
        AbsolutePressure::pascals(
            self.barometer.0.value + self.density.value.value * plan.gravity.value * rise_m,
        )
    }
}

/// The air and gas of one tank at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Surroundings {
    pub ambient: Temperature,
    /// At the height of the barometer.
    pub barometer: AbsolutePressure,
    pub air: Density,
    pub gas_pressure: AbsolutePressure,
    pub gas: Density,
    /// The same gas at ambient temperature: what fills a dry leg.
    pub leg_gas: Density,
    pub liquid_temperature: Temperature,
    pub liquid: Density,
    pub reasons: Reasons,
}

impl Surroundings {
    pub fn of(plan: &Plan, tank: &TankPlan, signals: &impl Signals) -> Self {
        let mut sources = Sources {
            plan,
            signals,
            reasons: Reasons::NONE,
        };
        let outside = sources.outside_air();
        let (ambient, barometer) = (outside.temperature, outside.barometer);
        let air = outside.density;
        let gas_pressure = sources.gas_pressure(&tank.gas.pressure, barometer);
        let gas_temperature = sources.temperature(&tank.gas.temperature, ambient);
        let in_vessel = sources.conditions(&tank.liquid, ambient, gas_pressure, barometer);
        let liquid = sources.density(&tank.liquid, in_vessel);
        let boiling = tank.liquid.liquid.boiling_point(in_vessel);
        let gas = tank.gas.gas.density(Conditions {
            temperature: gas_temperature,
            pressure: gas_pressure,
        });
        let in_leg = Conditions {
            temperature: ambient,
            pressure: gas_pressure,
        };
        let leg_gas = tank.gas.gas.density_in_leg(gas, in_leg);
        let mut reasons = sources.reasons;
        if !(liquid.in_range && gas.in_range && air.in_range) {
            reasons.add(Reason::DensityOutOfRange);
        }
        Self {
            ambient,
            barometer,
            air,
            gas_pressure,
            gas,
            leg_gas,
            liquid_temperature: boiling.unwrap_or(in_vessel.temperature),
            liquid,
            reasons,
        }
    }

    /// Pressure of the outside air at a height.
    pub fn air_pressure(&self, plan: &Plan, at: Length) -> AbsolutePressure {
        let outside = OutsideAir {
            temperature: self.ambient,
            barometer: self.barometer,
            density: self.air,
        };
        outside.pressure(plan, at)
    }

    /// Density of what fills a leg, and of what it must be taken at.
    pub fn leg(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        fill: &LegFill,
        signals: &impl Signals,
    ) -> Density {
        let at_ambient = Conditions {
            temperature: self.ambient,
            pressure: self.gas_pressure,
        };
        let density = match fill {
            LegFill::Gas => self.leg_gas,
            // It is read at one temperature only.
            LegFill::OwnLiquid if tank.liquid.measured.is_some() => self.liquid,
            LegFill::OwnLiquid => tank.liquid.liquid.density_in_leg(at_ambient),
            LegFill::Filled(fill) => {
                let mut sources = Sources {
                    plan,
                    signals,
                    reasons: Reasons::NONE,
                };
                let at = sources.conditions(fill, self.ambient, self.gas_pressure, self.barometer);
                let density = sources.density(fill, at);
                self.reasons.merge(sources.reasons);
                density
            }
        };
        if !density.in_range {
            self.reasons.add(Reason::DensityOutOfRange);
        }
        density
    }
}

struct Sources<'a, S: Signals> {
    plan: &'a Plan,
    signals: &'a S,
    reasons: Reasons,
}

impl<S: Signals> Sources<'_, S> {
    fn outside_air(&mut self) -> OutsideAir {
        let (temperature, barometer) = (self.ambient_temperature(), self.barometer());
        let at = Conditions {
            temperature,
            pressure: barometer,
        };
        OutsideAir {
            temperature,
            barometer,
            density: Gas::Air.density(at),
        }
    }

    fn ambient_temperature(&mut self) -> Temperature {
        let otherwise = self.plan.ambient.temperature_otherwise;
        match &self.plan.ambient.temperature {
            Source::Fixed(value) => kelvin(*value),
            Source::Ambient => otherwise,
            Source::Tags(tags) => kelvin(self.mean(tags, otherwise.value, |_, value| value)),
        }
    }

    fn temperature(&mut self, source: &Source, ambient: Temperature) -> Temperature {
        match source {
            Source::Fixed(value) => kelvin(*value),
            Source::Ambient => ambient,
            Source::Tags(tags) => kelvin(self.mean(tags, ambient.value, |_, value| value)),
        }
    }

    fn barometer(&mut self) -> AbsolutePressure {
        let otherwise = self.plan.ambient.pressure_otherwise;
        match &self.plan.ambient.pressure {
            Source::Fixed(value) => AbsolutePressure::pascals(*value),
            Source::Ambient => otherwise,
            Source::Tags(tags) => {
                AbsolutePressure::pascals(self.mean(tags, otherwise.0.value, |_, value| value))
            }
        }
    }

    /// What a liquid's density is taken at.
    fn conditions(
        &mut self,
        liquid: &LiquidPlan,
        ambient: Temperature,
        vessel: AbsolutePressure,
        barometer: AbsolutePressure,
    ) -> Conditions {
        Conditions {
            temperature: self.temperature(&liquid.temperature, ambient),
            pressure: match &liquid.pressure {
                None => vessel,
                Some(LiquidPressure::Of(source)) => self.gas_pressure(source, barometer),
                Some(LiquidPressure::AboveAir(gauge_pa)) => {
                    AbsolutePressure::pascals(barometer.0.value + gauge_pa)
                }
            },
        }
    }

    fn density(&mut self, liquid: &LiquidPlan, at: Conditions) -> Density {
        match &liquid.measured {
            Some(measured) => self.measured(*measured, liquid, at),
            None => liquid.liquid.density(at),
        }
    }

    /// What the transmitter reads; else what it last read; else what the site file states; else nothing.
    fn measured(
        &mut self,
        measured: MeasuredDensity,
        liquid: &LiquidPlan,
        at: Conditions,
    ) -> Density {
        let id = measured.transmitter;
        let said = self.signals.value(id);
        let trusted = |value: Option<f64>| value.filter(|value| LIQUID_KG_M3.contains(value));
        let read = |rho_kg_m3: f64| Density {
            value: kilograms_per_cubic_metre(rho_kg_m3),
            uncertainty: measured.uncertainty.unwrap_or_else(|| {
                let accuracy = self.plan.transmitters[id.index()].accuracy;
                kilograms_per_cubic_metre(COVERAGE * accuracy.map_or(0.0, rectangular))
            }),
            in_range: true,
        };
        if let Some(rho_kg_m3) = trusted(said.value) {
            let density = read(rho_kg_m3);
            self.reasons.merge(said.reasons);
            return density;
        }
        if let Some(rho_kg_m3) = trusted(self.signals.last(id)) {
            let density = read(rho_kg_m3);
            self.reasons.add(Reason::DensityKept);
            return density;
        }
        let otherwise = liquid.liquid.density(at);
        self.reasons.add(if liquid.liquid.is_known() {
            Reason::DensityAssumed
        } else if said.is_waiting() {
            Reason::WaitingForData
        } else {
            Reason::DensityUnknown
        });
        otherwise
    }

    fn gas_pressure(&mut self, source: &Source, barometer: AbsolutePressure) -> AbsolutePressure {
        let air = barometer.0.value;
        AbsolutePressure::pascals(match source {
            Source::Fixed(value) => *value,
            Source::Ambient => air,
            Source::Tags(tags) => self.mean(tags, air, |reads, value| match reads {
                Reads::Pressure(Measures::Absolute) => value,
                Reads::Pressure(Measures::SealedGauge(sealed)) => value + sealed.0.value,
                _ => value + air,
            }),
        })
    }

    /// The mean of the tags that have a value; else of their last values; else `otherwise`.
    fn mean(
        &mut self,
        tags: &[TransmitterId],
        otherwise: f64,
        as_needed: impl Fn(Reads, f64) -> f64,
    ) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for tag in tags {
            let said = self.signals.value(*tag);
            if let Some(value) = said.value.or_else(|| self.signals.last(*tag)) {
                sum += as_needed(self.plan.transmitters[tag.index()].reads, value);
                count += 1.0;
            }
            // What is doubtful of a value is doubtful of what is made of it: the worst input wins.
            if said.value.is_some() {
                self.reasons.merge(said.reasons);
            } else {
                self.reasons.add(if said.is_waiting() {
                    Reason::WaitingForData
                } else {
                    Reason::ConditionAssumed
                });
            }
        }
        if count > 0.0 { sum / count } else { otherwise }
    }
}
