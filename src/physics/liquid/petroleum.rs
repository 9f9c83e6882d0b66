//! Crude oil and petroleum products: the density at any temperature from the one at 15 °C or 60 °F.
//!
//! Source: API MPMS chapter 11.1 (ASTM D1250), 2004 procedure: base 60 °F, temperatures turned into IPTS-68; a base of
//! 15 °C is reached by iterating to 60 °F. Equations and constants as in open implementations of the procedure; the
//! standard itself was not seen. Not done here: its rounding of input and result (to 0.1 kg/m³, 0.1 °F, 1e-5), so
//! that the level does not move in steps.

use super::{Conditions, Density, LiquidError, nearest};
use crate::quantity::{
    MassDensity, Temperature, ZERO_CELSIUS_K, celsius, kelvin, kilograms_per_cubic_metre,
};
use std::ops::RangeInclusive;

/// The commodity groups of the standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PetroleumGroup {
    Crude,
    /// Fuel oil, jet fuel, gasoline: the density at 60 °F tells which.
    Refined,
    Lubricating,
}

/// The temperature that a density or a standard volume is told at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PetroleumBase {
    Celsius15,
    Fahrenheit60,
}

impl PetroleumBase {
    pub fn temperature(self) -> Temperature {
        match self {
            PetroleumBase::Celsius15 => celsius(15.0),
            PetroleumBase::Fahrenheit60 => kelvin(FAHRENHEIT_60_K),
        }
    }
}

/// A petroleum liquid; its density at 60 °F is known and lies within the standard's range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Petroleum {
    group: PetroleumGroup,
    base: PetroleumBase,
    base_density: MassDensity,
    /// At 60 °F, kg/m³.
    rho60_kg_m3: f64,
    uncertainty: Option<MassDensity>,
}

/// What a volume at some conditions is at the base temperature and one atmosphere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VolumeCorrection {
    /// Standard volume = factor · volume.
    pub factor: f64,
    pub base: Temperature,
    pub in_range: bool,
}

pub(super) const SOURCE: &str = "petroleum, -50 to 150 °C: API MPMS 11.1 (2004)";

/// 60 °F in K.
const FAHRENHEIT_60_K: f64 = 288.705_555_555_555_6;
/// −58 to 302 °F.
const VALID_K: RangeInclusive<f64> = ZERO_CELSIUS_K - 50.0..=ZERO_CELSIUS_K + 150.0;
/// Densities at 60 °F, kg/m³: crude and refined, and lubricating oils.
const VALID_KG_M3: RangeInclusive<f64> = 610.6..=1163.5;
const VALID_LUBRICATING_KG_M3: RangeInclusive<f64> = 800.9..=1163.5;
/// 1500 psig.
const MOST_GAUGE_PA: f64 = 1500.0 * PA_PER_PSI;
/// NIST SP 811 (2008), appendix B.8.
const PA_PER_PSI: f64 = 6_894.757_293_168;
/// Standard atmosphere, Pa: the standard counts pressures from it.
const ATMOSPHERE_PA: f64 = 101_325.0;
/// Share of the density, k = 2, for each kelvin away from the base: the standard states 0.05 % at 100 °F to 0.35 % at
/// 250 °F for 95 % confidence (from memory). How well the base density is known is not in it.
const UNCERTAINTY_PER_K: f64 = 3.5e-5;

impl Petroleum {
    /// From a density at one of the base temperatures; `uncertainty` is k = 2.
    pub fn new(
        group: PetroleumGroup,
        base_density: MassDensity,
        base: PetroleumBase,
        uncertainty: Option<MassDensity>,
    ) -> Result<Self, LiquidError> {
        let valid = match group {
            PetroleumGroup::Lubricating => &VALID_LUBRICATING_KG_M3,
            _ => &VALID_KG_M3,
        };
        let rho60_kg_m3 = match base {
            PetroleumBase::Fahrenheit60 => base_density.value,
            PetroleumBase::Celsius15 => to_60_fahrenheit(group, base_density.value),
        };
        if !valid.contains(&rho60_kg_m3) {
            return Err(LiquidError::PetroleumDensity);
        }
        Ok(Self {
            group,
            base,
            base_density,
            rho60_kg_m3,
            uncertainty,
        })
    }

    pub(super) fn density(&self, at: Conditions) -> Density {
        let correction = self.volume_correction(at);
        let away_k = (at.temperature.value - correction.base.value)
            .abs()
            .min(VALID_K.end() - VALID_K.start());
        // the mass stays: ρ = ρ_base · V_base/V
        let density = self.base_density * correction.factor;
        Density {
            value: density,
            uncertainty: kilograms_per_cubic_metre(density.value * UNCERTAINTY_PER_K * away_k),
            in_range: correction.in_range,
        }
        .stated(self.uncertainty)
    }

    /// Correction for temperature and pressure; at the nearest valid conditions, where these are out of range.
    pub(super) fn volume_correction(&self, at: Conditions) -> VolumeCorrection {
        let (t_k, temperature_in_range) = nearest(at.temperature.value, &VALID_K);
        let gauge_pa = at.pressure.0.value - ATMOSPHERE_PA;
        // Below one atmosphere nothing is to be squeezed.
        let (squeezing_pa, _) = nearest(gauge_pa, &(0.0..=MOST_GAUGE_PA));
        let base = self.base.temperature();
        let ctl = |t_k: f64| ctl(self.group, self.rho60_kg_m3, fahrenheit(t_k));
        let factor =
            ctl(t_k) * cpl(self.rho60_kg_m3, fahrenheit(t_k), squeezing_pa) / ctl(base.value);
        VolumeCorrection {
            factor,
            base,
            in_range: temperature_in_range && gauge_pa <= MOST_GAUGE_PA,
        }
    }
}

fn fahrenheit(t_k: f64) -> f64 {
    (t_k - ZERO_CELSIUS_K) * 1.8 + 32.0
}

/// The density at 60 °F of what has this one at 15 °C.
fn to_60_fahrenheit(group: PetroleumGroup, rho15_kg_m3: f64) -> f64 {
    // The two are 0.56 K apart, so each round gains three digits; the bounds keep what is no oil from running away.
    let bounded = |rho: f64| nearest(rho, &(100.0..=10_000.0)).0;
    let rho15 = bounded(rho15_kg_m3);
    (0..10).fold(rho15, |rho60, _| {
        // ρ60 = ρ15 / CTL(59 °F)
        bounded(rho15 / ctl(group, rho60, 59.0))
    })
}

/// K0, K1, K2 of the thermal expansion at 60 °F.
fn coefficients(group: PetroleumGroup, rho60_kg_m3: f64) -> [f64; 3] {
    match group {
        PetroleumGroup::Crude => [341.0957, 0.0, 0.0],
        PetroleumGroup::Lubricating => [0.0, 0.348_78, 0.0],
        // fuel oils, jet fuels, the transition zone, gasolines
        PetroleumGroup::Refined if rho60_kg_m3 >= 838.3127 => [103.8720, 0.2701, 0.0],
        PetroleumGroup::Refined if rho60_kg_m3 >= 787.5195 => [330.3010, 0.0, 0.0],
        PetroleumGroup::Refined if rho60_kg_m3 >= 770.3520 => [1489.0670, 0.0, -0.001_868_40],
        PetroleumGroup::Refined => [192.4571, 0.2438, 0.0],
    }
}

/// Correction of a volume for temperature, from t °F (ITS-90) to 60 °F.
fn ctl(group: PetroleumGroup, rho60: f64, t_f: f64) -> f64 {
    /// 60 °F by the scale that the constants were worked out on, less 60 °F.
    const DELTA_60: f64 = 0.013_749_795_47;
    /// 60 °F as IPTS-68.
    const T60_68_F: f64 = 60.006_874_9;
    let [k0, k1, k2] = coefficients(group, rho60);
    // A = δ60/2 · [(K0/ρ60 + K1)/ρ60 + K2]
    let a = DELTA_60 / 2.0 * ((k0 / rho60 + k1) / rho60 + k2);
    // B = (2 K0 + K1 ρ60) / (K0 + (K1 + K2 ρ60) ρ60)
    let b = (2.0 * k0 + k1 * rho60) / (k0 + (k1 + k2 * rho60) * rho60);
    // ρ* = ρ60 · {1 + [exp(A(1 + 0.8 A)) − 1] / [1 + A(1 + 1.6 A) B]}
    let rho = rho60 * (1.0 + (a * (1.0 + 0.8 * a)).exp_m1() / (1.0 + a * (1.0 + 1.6 * a) * b));
    // α60 = (K0/ρ* + K1)/ρ* + K2
    let alpha = (k0 / rho + k1) / rho + k2;
    let dt = to_ipts_68(t_f) - T60_68_F;
    // CTL = exp{−α60 Δt [1 + 0.8 α60 (Δt + δ60)]}
    (-alpha * dt * (1.0 + 0.8 * alpha * (dt + DELTA_60))).exp()
}

/// °F on ITS-90 to °F on IPTS-68.
fn to_ipts_68(t_f: f64) -> f64 {
    const A: [f64; 8] = [
        -0.148_759, -0.267_408, 1.080_760, 1.269_056, -4.089_591, -1.871_251, 7.438_081, -3.536_296,
    ];
    let t90_c = (t_f - 32.0) / 1.8;
    // Δ = (a1 + (a2 + …) τ) τ,  τ = t/630
    let tau = t90_c / 630.0;
    let difference = A.iter().rev().fold(0.0, |sum, a| (sum + a) * tau);
    (t90_c - difference) * 1.8 + 32.0
}

/// Correction of a volume for pressure above one atmosphere, Pa.
fn cpl(rho60: f64, t_f: f64, gauge_pa: f64) -> f64 {
    // F = exp[−1.9947 + 0.00013427 t + (793920 + 2326.0 t)/ρ60²], 1e-5 1/psi
    let f = (-1.9947 + 0.000_134_27 * t_f + (793_920.0 + 2326.0 * t_f) / (rho60 * rho60)).exp();
    // CPL = 1 / (1 − 1e-5 F p)
    1.0 / (1.0 - 1e-5 * f * (gauge_pa / PA_PER_PSI))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::AbsolutePressure;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn oil(rho_kg_m3: f64, base: PetroleumBase) -> Petroleum {
        let density = kilograms_per_cubic_metre(rho_kg_m3);
        Petroleum::new(PetroleumGroup::Crude, density, base, None).expect("within the range")
    }

    fn at(temperature_c: f64, pressure_pa: f64) -> Conditions {
        Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(pressure_pa),
        }
    }

    #[test]
    fn at_its_base_it_is_as_stated() {
        let base = oil(870.0, PetroleumBase::Celsius15);
        let density = base.density(at(15.0, ATMOSPHERE_PA));
        assert_relative_eq!(density.value.value, 870.0, max_relative = 1e-12);
        assert!(density.in_range && density.uncertainty.value < 1e-9);
        let base = oil(870.0, PetroleumBase::Fahrenheit60);
        let density = base.density(at(140.0 / 9.0, ATMOSPHERE_PA));
        assert_relative_eq!(density.value.value, 870.0, max_relative = 1e-8);
    }

    #[test]
    fn both_bases_tell_of_one_oil() {
        // An oil of 870 kg/m³ at 15 °C has the density at 60 °F that its own formula gives.
        let cold = oil(870.0, PetroleumBase::Celsius15);
        let at_60 = cold.density(at(140.0 / 9.0, ATMOSPHERE_PA)).value;
        let warm = oil(at_60.value, PetroleumBase::Fahrenheit60);
        for temperature_c in [-20.0, 0.0, 40.0, 90.0] {
            let state = at(temperature_c, ATMOSPHERE_PA);
            assert_relative_eq!(
                cold.density(state).value.value,
                warm.density(state).value.value,
                max_relative = 1e-9
            );
        }
    }

    #[test]
    fn what_is_no_oil_is_refused() {
        for (group, rho_kg_m3) in [
            (PetroleumGroup::Crude, 600.0),
            (PetroleumGroup::Refined, 1200.0),
            (PetroleumGroup::Lubricating, 750.0),
            (PetroleumGroup::Crude, 0.0),
            (PetroleumGroup::Crude, f64::NAN),
        ] {
            for base in [PetroleumBase::Celsius15, PetroleumBase::Fahrenheit60] {
                let density = kilograms_per_cubic_metre(rho_kg_m3);
                let refusal = Petroleum::new(group, density, base, None);
                assert_eq!(refusal, Err(LiquidError::PetroleumDensity), "{rho_kg_m3}");
            }
        }
    }

    #[test]
    fn beyond_the_standard_it_says_so() {
        let oil = oil(870.0, PetroleumBase::Celsius15);
        assert!(oil.density(at(-50.0, 1e5)).in_range && oil.density(at(150.0, 1e7)).in_range);
        assert!(!oil.density(at(-50.1, 1e5)).in_range);
        assert!(!oil.density(at(20.0, 1.1e7)).in_range);
        assert_eq!(
            oil.density(at(200.0, 1e5)).value,
            oil.density(at(150.0, 1e5)).value
        );
    }

    proptest! {
        #[test]
        fn any_oil_at_any_condition_has_a_density(
            rho in 605.0..1170.0f64, t_c in -300.0..1e3f64, p in -1e9..1e9f64, group in 0..3usize,
        ) {
            let group = [PetroleumGroup::Crude, PetroleumGroup::Refined, PetroleumGroup::Lubricating][group];
            let density = kilograms_per_cubic_metre(rho);
            if let Ok(oil) = Petroleum::new(group, density, PetroleumBase::Celsius15, None) {
                let density = oil.density(at(t_c, p));
                prop_assert!((400.0..1400.0).contains(&density.value.value), "{density:?}");
            }
        }
    }
}
