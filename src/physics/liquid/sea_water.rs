//! Sea water at atmospheric pressure, −2 to 40 °C, by its absolute salinity.
//!
//! Source: one-atmosphere equation of state of sea water EOS-80, F. J. Millero and A. Poisson, Deep-Sea Res. 28A
//! (1981) 625, as printed in UNESCO Technical Papers in Marine Science 44 (1983); constants from memory, held by the
//! check values beside the tests. It takes practical salinity and IPTS-68. Within 0.02 kg/m³ of TEOS-10
//! (`tests/published/fluids.rs`).

use super::{Conditions, Density, LiquidError, nearest};
use crate::quantity::{MassDensity, ZERO_CELSIUS_K, kilograms_per_cubic_metre};
use std::ops::RangeInclusive;

/// Sea water; its salinity lies within the formula's range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeaWater {
    /// Absolute salinity: mass of salt to that of the sea water.
    salinity: f64,
    uncertainty: Option<MassDensity>,
}

pub(super) const SOURCE: &str =
    "sea water at atmospheric pressure, -2 to 40 °C: UNESCO equation of state 1980";

/// Practical salinity 0 to 42 (UNESCO 44), as absolute salinity.
const VALID_SALINITY: RangeInclusive<f64> = 0.0..=42.0e-3 * ABSOLUTE_PER_PRACTICAL;
const VALID_K: RangeInclusive<f64> = ZERO_CELSIUS_K - 2.0..=ZERO_CELSIUS_K + 40.0;
/// Reference-composition salinity per practical salinity, (g/kg) (IOC, SCOR and IAPSO, TEOS-10 manual 2010, eq. 2.4.1).
const ABSOLUTE_PER_PRACTICAL: f64 = 35.165_04 / 35.0;
/// t68 / t90 (Saunders 1990; TEOS-10 manual 2010).
const T68_PER_T90: f64 = 1.000_24;

/// k = 2, kg/m³: distance from TEOS-10, and salts whose mixture is not that of the ocean (up to 0.02: TEOS-10
/// manual 2010, section 2.5).
const UNCERTAINTY_KG_M3: f64 = 0.04;
/// Standard atmosphere, Pa (ISO 2533), the pressure of the formula.
const FORMULA_PRESSURE_PA: f64 = 101_325.0;
/// Compressibility, at most, 1/Pa: that of fresh water at 0 °C; salt makes it less.
const COMPRESSIBILITY_PER_PA: f64 = 5.1e-10;

impl SeaWater {
    /// `salinity` is absolute: mass of salt to that of the sea water, 0.035 for 35 g/kg; `uncertainty` is k = 2.
    pub fn new(salinity: f64, uncertainty: Option<MassDensity>) -> Result<Self, LiquidError> {
        if !VALID_SALINITY.contains(&salinity) {
            return Err(LiquidError::Salinity);
        }
        Ok(Self {
            salinity,
            uncertainty,
        })
    }

    /// The density at atmospheric pressure; what another pressure could move goes into the uncertainty.
    pub(super) fn density(&self, at: Conditions) -> Density {
        let (t_k, in_range) = nearest(at.temperature.value, &VALID_K);
        let practical = self.salinity * 1e3 / ABSOLUTE_PER_PRACTICAL;
        let rho_kg_m3 = eos_80(practical, (t_k - ZERO_CELSIUS_K) * T68_PER_T90);
        // Δρ ≤ ρ κ |p − p0|
        let compression_kg_m3 =
            rho_kg_m3 * COMPRESSIBILITY_PER_PA * (at.pressure.0.value - FORMULA_PRESSURE_PA).abs();
        Density {
            value: kilograms_per_cubic_metre(rho_kg_m3),
            uncertainty: kilograms_per_cubic_metre(UNCERTAINTY_KG_M3 + compression_kg_m3),
            in_range,
        }
        .stated(self.uncertainty)
    }
}

/// ρ(S, t) = ρw + A S + B S^1.5 + C S², kg/m³; S practical salinity, t in °C (IPTS-68).
fn eos_80(s: f64, t: f64) -> f64 {
    const WATER: [f64; 6] = [
        999.842_594,
        6.793_952e-2,
        -9.095_290e-3,
        1.001_685e-4,
        -1.120_083e-6,
        6.536_332e-9,
    ];
    const A: [f64; 5] = [8.244_93e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9];
    const B: [f64; 3] = [-5.724_66e-3, 1.0227e-4, -1.6546e-6];
    const C: f64 = 4.8314e-4;
    let of = |coefficients: &[f64]| coefficients.iter().rev().fold(0.0, |sum, a| sum * t + a);
    of(&WATER) + of(&A) * s + of(&B) * s.powf(1.5) + C * s * s
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius};
    use approx::assert_abs_diff_eq;

    #[test]
    fn the_check_values_of_the_formula() {
        // UNESCO Technical Papers in Marine Science 44 (1983), check values at p = 0 (from memory).
        for (s, t, rho_kg_m3) in [
            (0.0, 5.0, 999.966_75),
            (0.0, 25.0, 997.047_96),
            (35.0, 5.0, 1_027.675_47),
            (35.0, 25.0, 1_023.343_06),
        ] {
            assert_abs_diff_eq!(eos_80(s, t), rho_kg_m3, epsilon = 1e-5);
        }
    }

    #[test]
    fn hot_or_brine_is_out_of_range() {
        let sea = SeaWater::new(0.035, None).expect("within the range");
        let at = |temperature_c| {
            sea.density(Conditions {
                temperature: celsius(temperature_c),
                pressure: AbsolutePressure::pascals(101_325.0),
            })
        };
        assert!(at(-2.0).in_range && at(40.0).in_range);
        assert!(!at(-2.1).in_range && !at(41.0).in_range);
        assert_eq!(at(90.0).value, at(40.0).value);
        for salinity in [-0.001, 0.0425, 35.0, f64::NAN] {
            assert_eq!(SeaWater::new(salinity, None), Err(LiquidError::Salinity));
        }
    }
}
