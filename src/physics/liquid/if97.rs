//! Water and steam under pressure: saturated water and steam, and water below its boiling point.
//!
//! Source: IAPWS R7-97(2012), the industrial formulation IF97, by the crate `seuif97`: region 1 (liquid), region 2
//! (steam), region 4 (the saturation line); above 16.529 MPa saturated states lie in region 3. Against the printed
//! check values and another implementation: 1e-8, in region 3 1e-5 (`tests/published/steam.rs`).

use super::{Conditions, Density, nearest};
use crate::quantity::{Temperature, ZERO_CELSIUS_K, celsius, kilograms_per_cubic_metre};
use std::ops::RangeInclusive;

pub(super) const SATURATED_SOURCE: &str =
    "saturated water at its pressure, 611.7 Pa to 18 MPa: IAPWS-IF97";
pub(super) const COMPRESSED_SOURCE: &str =
    "water below its boiling point, 0 to 350 °C, up to 100 MPa: IAPWS-IF97 region 1";

/// Triple point (IAPWS R6-95(2018), section 1) to 18 MPa, the most that was checked from outside.
const SATURATED_PA: RangeInclusive<f64> = 611.657..=18.0e6;
/// Region 1: 273.15 to 623.15 K, up to 100 MPa (R7-97, section 5); below the triple point there is no liquid.
const COMPRESSED_PA: RangeInclusive<f64> = 611.657..=100.0e6;
const COMPRESSED_K: RangeInclusive<f64> = ZERO_CELSIUS_K..=623.15;
/// Closer to boiling than this it counts as saturated, K: 1e-6 of the density.
const BOILING_K: f64 = 1e-3;

/// Shares of the density, k = 2, rounded up from how far IF97 and IAPWS-95 are apart on the saturation line
/// (2e-4 liquid, 5e-4 vapour; `tests/published/data/saturated-water-steam.csv`) and in cold water (2e-5).
const SATURATED_UNCERTAINTY: f64 = 3e-4;
const STEAM_UNCERTAINTY: f64 = 1e-3;
const COMPRESSED_UNCERTAINTY: f64 = 1e-4;

pub(super) fn saturated_water(at: Conditions) -> Density {
    on_the_line(at, 0.0, SATURATED_UNCERTAINTY)
}

/// Dry saturated steam at a pressure; its temperature follows.
pub(super) fn steam(at: Conditions) -> Density {
    on_the_line(at, 1.0, STEAM_UNCERTAINTY)
}

/// The temperature that water boils at.
pub(super) fn boiling_point(at: Conditions) -> Temperature {
    let (p_pa, _) = nearest(at.pressure.0.value, &SATURATED_PA);
    celsius(seuif97::px(p_pa / 1e6, 0.0, seuif97::OT))
}

/// Water at a temperature and pressure; hotter than it can be at that pressure it stands at its boiling point.
pub(super) fn compressed_water(at: Conditions) -> Density {
    let (p_pa, pressure_in_range) = nearest(at.pressure.0.value, &COMPRESSED_PA);
    let (t_k, temperature_in_range) = nearest(at.temperature.value, &COMPRESSED_K);
    if p_pa <= *SATURATED_PA.end() {
        let boiling_k = boiling_point(at).value;
        if t_k > boiling_k - BOILING_K {
            let water = saturated_water(at);
            let in_range = t_k <= boiling_k + BOILING_K && pressure_in_range;
            return Density {
                in_range: water.in_range && temperature_in_range && in_range,
                ..water
            };
        }
    }
    let rho_kg_m3 = seuif97::pt(p_pa / 1e6, t_k - ZERO_CELSIUS_K, seuif97::OD);
    of(
        rho_kg_m3,
        COMPRESSED_UNCERTAINTY,
        pressure_in_range && temperature_in_range,
    )
}

/// `x`: 0 for the liquid, 1 for the vapour.
fn on_the_line(at: Conditions, x: f64, uncertainty_share: f64) -> Density {
    let (p_pa, in_range) = nearest(at.pressure.0.value, &SATURATED_PA);
    of(
        seuif97::px(p_pa / 1e6, x, seuif97::OD),
        uncertainty_share,
        in_range,
    )
}

fn of(rho_kg_m3: f64, uncertainty_share: f64, in_range: bool) -> Density {
    Density {
        value: kilograms_per_cubic_metre(rho_kg_m3),
        uncertainty: kilograms_per_cubic_metre(rho_kg_m3 * uncertainty_share),
        in_range,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::AbsolutePressure;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn at(temperature_c: f64, pressure_pa: f64) -> Conditions {
        Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(pressure_pa),
        }
    }

    #[test]
    fn water_and_steam_at_ten_bar() {
        // Any steam table, from memory: 179.9 °C, 887.1 kg/m³, 5.145 kg/m³.
        let ten = at(0.0, 1e6);
        assert_relative_eq!(boiling_point(ten).value, 453.03, max_relative = 1e-4);
        assert_relative_eq!(saturated_water(ten).value.value, 887.1, max_relative = 1e-4);
        assert_relative_eq!(steam(ten).value.value, 5.145, max_relative = 1e-3);
    }

    #[test]
    fn vacuum_and_the_critical_point_are_out_of_range() {
        assert!(saturated_water(at(0.0, 612.0)).in_range && steam(at(0.0, 18e6)).in_range);
        for pressure_pa in [0.0, 610.0, 18.1e6, 25e6] {
            assert!(!saturated_water(at(0.0, pressure_pa)).in_range);
            assert!(!steam(at(0.0, pressure_pa)).in_range);
        }
    }

    #[test]
    fn hotter_than_boiling_is_the_boiling_liquid_and_says_so() {
        let boiling_c = boiling_point(at(0.0, 1e6)).value - ZERO_CELSIUS_K;
        let boiling = compressed_water(at(boiling_c, 1e6));
        assert!(boiling.in_range);
        assert_relative_eq!(
            boiling.value.value,
            saturated_water(at(0.0, 1e6)).value.value
        );
        let just_below = compressed_water(at(boiling_c - 0.002, 1e6));
        assert_relative_eq!(
            just_below.value.value,
            boiling.value.value,
            max_relative = 1e-5
        );
        let steam = compressed_water(at(boiling_c + 5.0, 1e6));
        assert!(!steam.in_range);
        assert_eq!(steam.value, boiling.value);
        assert!(!compressed_water(at(-1.0, 1e6)).in_range);
        assert!(!compressed_water(at(20.0, 101e6)).in_range);
    }

    proptest! {
        #[test]
        fn every_condition_gives_water_or_steam(t_k in -1e3..2e3f64, exponent in -3.0..12.0f64) {
            let state = at(t_k - ZERO_CELSIUS_K, 10f64.powf(exponent));
            for density in [saturated_water(state), compressed_water(state)] {
                prop_assert!((500.0..1100.0).contains(&density.value.value), "{density:?}");
            }
            let steam = steam(state).value.value;
            prop_assert!((0.004..140.0).contains(&steam), "{steam}");
        }

        #[test]
        fn density_follows_temperature_without_a_step(t_c in 10.0..349.0f64, p_mpa in 0.1..18.0f64) {
            let (cold, warm) = (compressed_water(at(t_c, p_mpa * 1e6)), compressed_water(at(t_c + 0.01, p_mpa * 1e6)));
            prop_assert!((cold.value - warm.value).value.abs() < 0.1);
        }
    }
}
