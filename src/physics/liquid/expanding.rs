//! A liquid of one density that expands evenly with temperature.
//!
//! Convention: β is the expansion of the *volume*, referred to the volume at the reference temperature.
//! Mass is kept, so the density is divided, not multiplied: ρ0 (1 − β ΔT) is only its first order and
//! is 0.25 % low at β ΔT = 0.05. Derived from V = V0 (1 + β ΔT).

use super::{Conditions, Density, nearest};
use crate::quantity::{MassDensity, Temperature, TemperatureCoefficient};
use std::ops::RangeInclusive;

/// Range of β ΔT. A coefficient is a slope at one temperature; where it would change the volume by more
/// than a tenth, a table is called for. Common practice, no source for the limit.
const VALID_EXPANSION: RangeInclusive<f64> = -0.1..=0.1;

pub(super) fn density(
    reference_density: MassDensity,
    reference: Temperature,
    coefficient: TemperatureCoefficient,
    at: Conditions,
) -> Density {
    let beta_per_k = coefficient.value;
    let difference_k = at.temperature.value - reference.value;
    let (expansion, in_range) = nearest(beta_per_k * difference_k, &VALID_EXPANSION);
    // ρ = ρ0 / (1 + β (T − T0))
    let density = reference_density / (1.0 + expansion);
    Density::typed_in(density, in_range && at.temperature.value > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius, kilograms_per_cubic_metre, per_kelvin_of};
    use approx::assert_relative_eq;

    fn oil(temperature_c: f64) -> Density {
        let at = Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(101_325.0),
        };
        let density = kilograms_per_cubic_metre(870.0);
        super::density(density, celsius(15.0), per_kelvin_of(7.0e-4), at)
    }

    #[test]
    fn mass_is_kept_when_the_volume_grows() {
        // By hand: 1 m³ at 15 °C holds 870 kg; at 65 °C it fills 1.035 m³; 870/1.035 = 840.5797.
        assert_relative_eq!(oil(65.0).value.value, 840.579_710, max_relative = 1e-9);
        assert_relative_eq!(oil(15.0).value.value, 870.0, max_relative = 1e-12);
        assert!(oil(65.0).in_range);
    }

    #[test]
    fn beyond_a_tenth_the_nearest_valid_density_stands_and_says_so() {
        assert_relative_eq!(oil(300.0).value.value, 870.0 / 1.1, max_relative = 1e-12);
        assert!(!oil(300.0).in_range);
        assert_relative_eq!(oil(-200.0).value.value, 870.0 / 0.9, max_relative = 1e-12);
        assert!(!oil(-200.0).in_range);
    }
}
