//! What a plant consists of, as it truly is: the description that a simulated plant is started from.
//!
//! Types of the plant's own. Nothing here says how a level is worked out from a pressure; a line is a tube
//! with something in it. Elevations count from the tank's zero, which lies `zero` above the lowest inside
//! point of the vessel. Numbers without a type are in SI units.

use super::words::{Number, Order};
use crate::physics::liquid::{Conditions, Gas, Liquid};
use crate::physics::vessel::Vessel;
use crate::quantity::{
    AbsolutePressure, Acceleration, Length, MassDensity, Temperature, Unit, VolumeRate, kelvin,
};
use std::time::Duration;

#[derive(Clone, Debug)]
pub struct PlantModel {
    pub gravity: Acceleration,
    pub air: AirModel,
    /// Names of the links; a transmitter names its link by the place in this list.
    pub links: Vec<String>,
    pub tanks: Vec<TankModel>,
    pub transmitters: Vec<TransmitterModel>,
    pub contacts: Vec<ContactModel>,
    pub pipes: Vec<PipeModel>,
}

/// A pipe with a pump or a valve in it; none of its ends in a tank: it comes from or goes outside.
#[derive(Clone, Debug)]
pub struct PipeModel {
    pub name: String,
    pub from: Option<End>,
    pub to: Option<End>,
    pub drive: Drive,
    /// A pump's speed or a valve's opening at the start, 0 to 1.
    pub share: f64,
    /// A pump that a level starts and stops.
    pub switch: Option<LevelSwitch>,
    /// The contact that is on while it runs or is open, by its place in the model's list.
    pub contact: Option<usize>,
}

/// A nozzle of a tank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    pub tank: usize,
    /// Elevation above the tank's zero.
    pub at: Length,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    Pump {
        /// At full speed, without anything to lift against.
        rate: VolumeRate,
        /// What it lifts against at no flow; none: it displaces its rate against anything.
        shut_off: Option<Length>,
    },
    Valve {
        /// Of water at a difference of 1 bar, wide open.
        kv: VolumeRate,
        /// The pressure outside; none: that of the air.
        outside: Option<AbsolutePressure>,
    },
}

/// Above `stops` if it starts above it, so that it empties a tank; else it fills one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelSwitch {
    pub tank: usize,
    pub starts: Length,
    pub stops: Length,
}

/// An on/off input of a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ContactModel {
    pub tag: String,
    pub link: usize,
    pub device: u8,
    pub space: Space,
    pub address: u16,
    /// Which bit of a word, 0 the least; none in a space of bits.
    pub bit: Option<u8>,
    /// Its bit is 0 while it is on.
    pub inverted: bool,
    pub on: bool,
}

/// The air around the tanks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirModel {
    pub temperature: Temperature,
    pub pressure: AbsolutePressure,
    /// The elevation that the pressure holds at.
    pub pressure_at: Length,
}

impl AirModel {
    /// The pressure of the air at an elevation, at one density throughout.
    pub fn pressure(&self, at: Length, gravity: Acceleration) -> AbsolutePressure {
        self.pressure_by(self.density_kg_m3(), at, gravity)
    }

    /// The same, by a density that was worked out before.
    pub(super) fn pressure_by(
        &self,
        rho_kg_m3: f64,
        at: Length,
        gravity: Acceleration,
    ) -> AbsolutePressure {
        // p(z) = p_baro + ρair·g·(z_baro − z)
        let column_pa = rho_kg_m3 * gravity.value * (self.pressure_at - at).value;
        AbsolutePressure::pascals(self.pressure.0.value + column_pa)
    }

    pub(super) fn density_kg_m3(&self) -> f64 {
        let conditions = Conditions {
            temperature: self.temperature,
            pressure: self.pressure,
        };
        Gas::Air.density(conditions).value.value
    }
}

#[derive(Clone, Debug)]
pub struct TankModel {
    pub name: String,
    pub vessel: Vessel,
    /// Height of the tank's zero above the lowest inside point of the vessel.
    pub zero: Length,
    pub level: Length,
    /// What rises above this runs off and is lost; the top of the vessel at the latest.
    pub overflow: Option<Length>,
    pub inflow: VolumeRate,
    pub outflow: VolumeRate,
    pub liquid: Liquid,
    pub liquid_temperature: Temperature,
    /// The true density, where it differs from what the liquid should have.
    pub density: Option<MassDensity>,
    pub gas: Gas,
    pub gas_temperature: Temperature,
    pub headspace: HeadspaceModel,
    /// Of what settles on the bottom and flows like mud.
    pub sediment_density: MassDensity,
    /// Of foam, as a share of the liquid's density.
    pub foam_share: f64,
    /// Bore of the outlet, where the lower tap sits in it.
    pub tap_in_outlet: Option<Length>,
    /// A heavier liquid below, where there is one.
    pub lower: Option<LowerLiquid>,
}

/// It does not mix with what stands on it. What is filled and drawn is the upper liquid: the boundary moves only
/// as somebody sets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowerLiquid {
    pub density: MassDensity,
    /// Up to where it stands above the tank's zero, as far as there is liquid.
    pub boundary: Length,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HeadspaceModel {
    /// Open to the air at this elevation.
    Vented { at: Length },
    /// Closed, and somebody keeps this pressure at the top of the vessel.
    Closed { pressure: AbsolutePressure },
    /// Closed: gas that the liquid squeezes and lets expand.
    Gas(GasModel),
}

/// What is fitted to a closed headspace. Flows are those of the gas at the pressure of the headspace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasModel {
    /// At the top of the vessel, at the start.
    pub pressure: AbsolutePressure,
    /// Lets gas in under this pressure, so much of it at most.
    pub blanket: Option<(AbsolutePressure, VolumeRate)>,
    /// Lets gas out above this pressure, so much of it at most.
    pub vent: Option<(AbsolutePressure, VolumeRate)>,
    /// A leak to the air: in this time the pressure above the air's falls to 1/e while the liquid stands.
    pub leak: Option<Duration>,
}

/// The tube between a tank or the air and a diaphragm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LineModel {
    Tapped {
        tap: Length,
        diaphragm: Length,
        fill: Fill,
    },
    OpenToAir {
        diaphragm: Length,
    },
}

/// What fills a line when all is well. Lines have the temperature of the air, unless they are warmed or cooled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fill {
    /// The tank's liquid.
    Liquid,
    /// The gas above the liquid: a dry line.
    Gas,
    /// A seal or fill liquid of this density.
    Seal(MassDensity),
    /// One that has this density at the start and expands by so much a kelvin that the line gets warmer.
    Expanding(MassDensity, f64),
}

impl Fill {
    /// A seal liquid in a line that has this temperature at the start.
    pub fn seal(liquid: &Liquid, temperature: Temperature, air: &AirModel) -> Self {
        let pressure = air.pressure;
        let density = |temperature: Temperature| {
            let conditions = Conditions {
                temperature,
                pressure,
            };
            liquid.density(conditions).value
        };
        // ρ(T) = ρ0 / (1 + β·(T − T0)); β over the next ten kelvin.
        let here = density(temperature);
        let warmer = density(kelvin(temperature.value + 10.0));
        match (here / warmer).value - 1.0 {
            0.0 => Fill::Seal(here),
            over_ten_kelvin => Fill::Expanding(here, over_ten_kelvin / 10.0),
        }
    }

    /// The purge of a dip tube at the pressure of the gas above the liquid. The plant keeps its density,
    /// though the pressure in a tube moves with the level.
    pub fn purge(gas: &Gas, pressure: AbsolutePressure, air: &AirModel) -> Self {
        let temperature = air.temperature;
        Fill::Seal(
            gas.density(Conditions {
                temperature,
                pressure,
            })
            .value,
        )
    }
}

#[derive(Clone, Debug)]
pub struct TransmitterModel {
    pub tag: String,
    pub senses: Senses,
    /// Standard deviation of the noise on its value.
    pub noise: f64,
    /// Added to the true value.
    pub zero_offset: f64,
    /// What it tells of a change, less 1: 0.01 where it tells 1 % too much.
    pub span_error: f64,
    /// Its value goes in steps of this; 0: in none.
    pub resolution: f64,
    /// Time constant of the first-order damping.
    pub damping: Duration,
    pub output: OutputModel,
}

/// What a transmitter is connected to; tanks by their place in the plant's list.
#[derive(Clone, Debug, PartialEq)]
pub enum Senses {
    /// Pressure above that of the air at the diaphragm.
    Gauge {
        tank: usize,
        line: LineModel,
    },
    Absolute {
        tank: usize,
        line: LineModel,
    },
    /// Pressure above that which the transmitter was sealed at.
    SealedGauge {
        tank: usize,
        line: LineModel,
        sealed_at: AbsolutePressure,
    },
    /// Pressure of the high port above the low port.
    Differential {
        tank: usize,
        high: LineModel,
        low: LineModel,
    },
    LiquidTemperature {
        tank: usize,
    },
    /// The density of the liquid, of the upper one of two.
    LiquidDensity {
        tank: usize,
    },
    Level {
        tank: usize,
        ranging: Ranging,
    },
    /// All that comes into a tank.
    Inflow {
        tank: usize,
    },
    /// All that is drawn from a tank, without what runs over.
    Outflow {
        tank: usize,
    },
    /// Through a pipe, either way.
    PipeFlow {
        pipe: usize,
    },
    AirTemperature,
    AirPressure,
    /// Connected to nothing in this plant: its register says failure.
    Nothing,
}

/// How a transmitter that shows a level comes to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ranging {
    /// The level that it begins at.
    pub zero: Length,
    /// It shows a share of the range that ends here; none: a length.
    pub full: Option<Length>,
    /// It feels the pressure above that of the gas and takes the liquid for one of this density; none: it sees
    /// the surface itself.
    pub ranged_for: Option<MassDensity>,
}

impl Ranging {
    /// Of a transmitter that sees the surface and shows its level.
    pub fn of_the_surface() -> Self {
        Self {
            zero: Length::default(),
            full: None,
            ranged_for: None,
        }
    }
}

/// How a value stands in the registers.
#[derive(Clone, Debug)]
pub struct OutputModel {
    pub link: usize,
    pub device: u8,
    pub space: Space,
    pub address: u16,
    pub number: Number,
    pub order: Order,
    pub unit: &'static Unit,
    /// Two register numbers and the values in `unit` that they stand for; none: the value itself.
    pub scale: Option<[(f64, f64); 2]>,
    /// Register numbers that the signal cannot leave, low and high.
    pub saturates: Option<(f64, f64)>,
    /// The register number that says failure; not-a-number in a floating-point register.
    pub failure: f64,
    /// That of a failure current below the measuring band, where there is one.
    pub failure_low: Option<f64>,
}

/// The tables of the Modbus application protocol (V1.1b3, section 4.3): of 16-bit words and of bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Space {
    Input,
    Holding,
    Discrete,
    Coil,
}

impl Space {
    pub fn is_bits(self) -> bool {
        matches!(self, Space::Discrete | Space::Coil)
    }
}
