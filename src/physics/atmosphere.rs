//! Air pressure where no barometer is: the standard atmosphere at the site's elevation.
//!
//! Source: ISO 2533:1975 and U.S. Standard Atmosphere 1976, equation 33a (troposphere), constants of its
//! table 2. Weather moves the true pressure by some ±3 kPa about it (from memory).

use crate::quantity::{AbsolutePressure, Length};
use std::ops::RangeInclusive;

/// Elevations above mean sea level, m: from where the tables begin to the tropopause (11 000 geopotential metres).
pub const VALID_ELEVATION_M: RangeInclusive<f64> = -5_000.0..=11_019.0;

/// Pressure and temperature at sea level, Pa and K.
const P0_PA: f64 = 101_325.0;
const T0_K: f64 = 288.15;
/// Temperature gradient of the troposphere, K per geopotential metre.
const L_K_M: f64 = -0.0065;
/// Gravity of the geopotential metre, m/s².
const G0: f64 = 9.806_65;
/// Molar mass of air, kg/mol.
const M_KG_MOL: f64 = 28.9644e-3;
/// Gas constant as both standards have it, J/(mol K): not today's value, part of the definition.
const R: f64 = 8.314_32;
/// Radius of the earth in the geopotential, m.
const R0_M: f64 = 6_356_766.0;

/// Beyond [`VALID_ELEVATION_M`] the pressure at its nearer end.
pub fn standard_pressure(elevation: Length) -> AbsolutePressure {
    let z_m = elevation
        .value
        .max(*VALID_ELEVATION_M.start())
        .min(*VALID_ELEVATION_M.end());
    // H = r0 z / (r0 + z)
    let h_m = R0_M * z_m / (R0_M + z_m);
    // P = P0 [T0 / (T0 + L H)]^(g0 M / (R L))
    let ratio = T0_K / (T0_K + L_K_M * h_m);
    AbsolutePressure::pascals(P0_PA * ratio.powf(G0 * M_KG_MOL / (R * L_K_M)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::metres;
    use approx::assert_relative_eq;

    #[test]
    fn sea_level_is_one_atmosphere() {
        assert_relative_eq!(standard_pressure(metres(0.0)).0.value, 101_325.0);
    }

    #[test]
    fn pressure_falls_with_height_and_stands_beyond_the_range() {
        let at = |elevation_m| standard_pressure(metres(elevation_m)).0.value;
        assert!(at(-400.0) > at(0.0) && at(0.0) > at(4000.0));
        assert_relative_eq!(at(f64::MAX), at(11_019.0));
        assert_relative_eq!(at(-f64::MAX), at(-5_000.0));
    }
}
