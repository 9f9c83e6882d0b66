//! Water from 0 to 100 °C at atmospheric pressure.
//!
//! Formula: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, air-free water at 101 325 Pa on IPTS-68,
//! recalculated to ITS-90 by H. Bettin and F. Spieweck, PTB-Mitteilungen 100 (1990) 195; constants as
//! reprinted in IP Standard Methods 1998, appendix G. (A reprint of Kell's own formula, J. Res. NIST 97
//! (1992) 335, has 16.897850e-3 for its divisor; 16.879850e-3 is meant. Not used here.)
//! Error: within 0.006 kg/m³ of IAPWS-95 over the whole range (`tests/published/densities.rs`).

use super::{Conditions, Density, nearest};
use crate::quantity::{ZERO_CELSIUS_K, kilograms_per_cubic_metre};
use std::ops::RangeInclusive;

pub(super) const SOURCE: &str = "water at atmospheric pressure, 0 to 100 °C: Kell 1975, ITS-90";

/// Range of the recalculated formula, K.
const VALID_K: RangeInclusive<f64> = ZERO_CELSIUS_K..=ZERO_CELSIUS_K + 100.0;

/// k = 2, kg/m³. The formula itself (0.006), dissolved air (lowers by up to 0.005: Tanaka et al., Metrologia
/// 38 (2001) 301) and the isotopes of natural water (some 0.005, from memory), rounded up. Dissolved salts
/// are not in it.
const UNCERTAINTY_KG_M3: f64 = 0.02;

/// Standard atmosphere, Pa (ISO 2533), the pressure of the formula.
const FORMULA_PRESSURE_PA: f64 = 101_325.0;

/// Largest isothermal compressibility of water in the range, at 0 °C, 1/Pa (5.09e-10, Kell 1975, from memory).
const COMPRESSIBILITY_PER_PA: f64 = 5.1e-10;

/// The density at atmospheric pressure. A pressure beside it does not move the value, but what it could
/// move is added to the uncertainty (0.05 kg/m³ a bar).
pub(super) fn density(at: Conditions) -> Density {
    let (t_k, in_range) = nearest(at.temperature.value, &VALID_K);
    let rho_kg_m3 = kell_its90(t_k - ZERO_CELSIUS_K);
    // Δρ ≤ ρ κ |p − p0|
    let compression_kg_m3 =
        rho_kg_m3 * COMPRESSIBILITY_PER_PA * (at.pressure.0.value - FORMULA_PRESSURE_PA).abs();
    Density {
        value: kilograms_per_cubic_metre(rho_kg_m3),
        uncertainty: kilograms_per_cubic_metre(UNCERTAINTY_KG_M3 + compression_kg_m3),
        in_range,
    }
}

/// ρ(t) = (a0 + a1 t + a2 t² + a3 t³ + a4 t⁴ + a5 t⁵) / (1 + b t), kg/m³, t in °C (ITS-90).
fn kell_its90(t: f64) -> f64 {
    const A: [f64; 6] = [
        999.839_52,
        16.952_577,
        -7.990_512_7e-3,
        -46.241_757e-6,
        105.846_01e-9,
        -281.030_06e-12,
    ];
    const B: f64 = 16.887_236e-3;
    let numerator = A.iter().rev().fold(0.0, |sum, a| sum * t + a);
    numerator / (1.0 + B * t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius};
    use approx::assert_abs_diff_eq;

    fn water(temperature_c: f64, pressure_pa: f64) -> Density {
        density(Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(pressure_pa),
        })
    }

    #[test]
    fn handbook_densities() {
        // Rounded values found in any handbook, from memory: 4 °C 999.97, 20 °C 998.21, 100 °C 958.4.
        for (t_c, rho_kg_m3, tolerance) in [
            (4.0, 999.97, 0.005),
            (20.0, 998.21, 0.01),
            (100.0, 958.4, 0.1),
        ] {
            assert_abs_diff_eq!(
                water(t_c, 101_325.0).value.value,
                rho_kg_m3,
                epsilon = tolerance
            );
        }
    }

    #[test]
    fn both_ends_belong_to_the_range() {
        assert!(water(0.0, 101_325.0).in_range && water(100.0, 101_325.0).in_range);
    }

    #[test]
    fn ice_and_steam_give_the_nearest_water() {
        let (cold, hot) = (water(-0.1, 101_325.0), water(180.0, 101_325.0));
        assert_eq!(cold.value, water(0.0, 101_325.0).value);
        assert_eq!(hot.value, water(100.0, 101_325.0).value);
        assert!(!cold.in_range && !hot.in_range);
    }

    #[test]
    fn pressure_widens_the_uncertainty_alone() {
        let (open, closed) = (water(20.0, 101_325.0), water(20.0, 601_325.0));
        assert_eq!(open.value, closed.value);
        assert_abs_diff_eq!(open.uncertainty.value, 0.02, epsilon = 1e-12);
        assert_abs_diff_eq!(closed.uncertainty.value, 0.2745, epsilon = 1e-3);
    }
}
