//! The quantity types that signatures between rooms use, and how to make one from a number in SI units.

pub use uom::si::f64::{
    Acceleration, Angle, Area, Length, Mass, MassDensity, MolarMass, Pressure,
    TemperatureCoefficient, TemperatureInterval, ThermodynamicTemperature as Temperature, Time,
    Velocity, Volume, VolumeRate,
};
use uom::si::{
    acceleration::meter_per_second_squared, angle::radian, area::square_meter, length::meter,
    mass::kilogram, mass_density::kilogram_per_cubic_meter, molar_mass::kilogram_per_mole,
    pressure::pascal, temperature_coefficient::per_kelvin, temperature_interval::kelvin as kelvins,
    thermodynamic_temperature::kelvin as kelvin_scale, time::second, velocity::meter_per_second,
    volume::cubic_meter, volume_rate::cubic_meter_per_second,
};

/// 0 °C in kelvin (definition of the Celsius scale, SI Brochure 9th ed. section 2.3.1).
pub const ZERO_CELSIUS_K: f64 = 273.15;

pub fn metres(value: f64) -> Length {
    Length::new::<meter>(value)
}
pub fn square_metres(value: f64) -> Area {
    Area::new::<square_meter>(value)
}
pub fn cubic_metres(value: f64) -> Volume {
    Volume::new::<cubic_meter>(value)
}
pub fn kilograms(value: f64) -> Mass {
    Mass::new::<kilogram>(value)
}
pub fn kilograms_per_cubic_metre(value: f64) -> MassDensity {
    MassDensity::new::<kilogram_per_cubic_meter>(value)
}
pub fn kilograms_per_mole(value: f64) -> MolarMass {
    MolarMass::new::<kilogram_per_mole>(value)
}
pub fn pascals(value: f64) -> Pressure {
    Pressure::new::<pascal>(value)
}
pub fn kelvin(value: f64) -> Temperature {
    Temperature::new::<kelvin_scale>(value)
}
pub fn celsius(value: f64) -> Temperature {
    kelvin(value + ZERO_CELSIUS_K)
}
pub fn kelvin_difference(value: f64) -> TemperatureInterval {
    TemperatureInterval::new::<kelvins>(value)
}
pub fn per_kelvin_of(value: f64) -> TemperatureCoefficient {
    TemperatureCoefficient::new::<per_kelvin>(value)
}
pub fn seconds(value: f64) -> Time {
    Time::new::<second>(value)
}
pub fn metres_per_second(value: f64) -> Velocity {
    Velocity::new::<meter_per_second>(value)
}
pub fn cubic_metres_per_second(value: f64) -> VolumeRate {
    VolumeRate::new::<cubic_meter_per_second>(value)
}
pub fn metres_per_second_squared(value: f64) -> Acceleration {
    Acceleration::new::<meter_per_second_squared>(value)
}
pub fn radians(value: f64) -> Angle {
    Angle::new::<radian>(value)
}
