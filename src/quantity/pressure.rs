//! Gauge, absolute and differential pressure, kept apart by type.
//!
//! What may be added to what is the whole content: a gauge reading becomes absolute only with the air
//! pressure at its own place, and two absolute pressures differ by a differential one.

use super::si::{Pressure, pascals};
use std::ops::{Add, Neg, Sub};

/// Pressure above that of the air around the transmitter.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct GaugePressure(pub Pressure);

/// Pressure above vacuum.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct AbsolutePressure(pub Pressure);

/// Pressure of a high side above a low side.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct DifferentialPressure(pub Pressure);

impl GaugePressure {
    pub fn pascals(value: f64) -> Self {
        Self(pascals(value))
    }
    /// What a gauge of absolute pressure would read at the same place.
    pub fn absolute(self, air: AbsolutePressure) -> AbsolutePressure {
        AbsolutePressure(self.0 + air.0)
    }
}

impl AbsolutePressure {
    pub fn pascals(value: f64) -> Self {
        Self(pascals(value))
    }
    /// What a gauge vented to `air` would read at the same place.
    pub fn gauge(self, air: AbsolutePressure) -> GaugePressure {
        GaugePressure(self.0 - air.0)
    }
}

impl DifferentialPressure {
    pub fn pascals(value: f64) -> Self {
        Self(pascals(value))
    }
}

impl Sub for AbsolutePressure {
    type Output = DifferentialPressure;
    fn sub(self, low: Self) -> DifferentialPressure {
        DifferentialPressure(self.0 - low.0)
    }
}

impl Add<DifferentialPressure> for AbsolutePressure {
    type Output = AbsolutePressure;
    fn add(self, difference: DifferentialPressure) -> AbsolutePressure {
        AbsolutePressure(self.0 + difference.0)
    }
}

impl Add for DifferentialPressure {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for DifferentialPressure {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for DifferentialPressure {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
