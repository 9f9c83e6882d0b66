//! Gas above a liquid or in a dry leg: an ideal gas up to 2 bar(a), steam, the vapour of the liquid below.
//!
//! Source of the ideal ones: ideal gas law, molar gas constant of the SI (2019). Beyond its range the ideal value still
//! stands, flagged: it is nearer than any held back to 2 bar(a), yet 16 % low for saturated propane at
//! 20 °C. Where that matters a density is to be given outright.

use super::{Conditions, Density, SaturatedTable, if97, nearest};
use crate::quantity::{MassDensity, MolarMass, ZERO_CELSIUS_K, kilograms_per_cubic_metre};
use std::ops::RangeInclusive;

/// What lies above the liquid.
#[derive(Clone, Debug, PartialEq)]
pub enum Gas {
    /// Dry air; its uncertainty covers humidity.
    Air,
    Nitrogen,
    CarbonDioxide,
    MolarMass(MolarMass),
    /// Given outright: in range at any condition, and of its uncertainty nothing is known.
    Density(MassDensity),
    /// Saturated steam: its pressure alone tells the density.
    Steam,
    /// The vapour over a saturated liquid: its temperature alone tells the density.
    Vapour(SaturatedTable),
}

/// Molar gas constant, J/(mol K), exact (SI Brochure, 9th ed.: k · N_A).
const GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// Dry air, kg/mol: CIPM-2007, A. Picard et al., Metrologia 45 (2008) 149, at 400 µmol/mol of carbon dioxide.
const AIR_KG_MOL: f64 = 28.965_46e-3;
/// N2 and CO2, kg/mol, from the IUPAC abridged atomic weights 2021: N 14.007, C 12.011, O 15.999.
const NITROGEN_KG_MOL: f64 = 28.014e-3;
const CARBON_DIOXIDE_KG_MOL: f64 = 44.009e-3;

/// 2 bar(a); a vacuum weighs nothing.
const VALID_PA: RangeInclusive<f64> = 0.0..=200_000.0;
/// −50 to 400 °C: below, carbon dioxide nears condensation at 2 bar(a). Common practice, no source.
const VALID_K: RangeInclusive<f64> = ZERO_CELSIUS_K - 50.0..=ZERO_CELSIUS_K + 400.0;

/// Shares of the density, k = 2, for the whole range.
/// Air: saturated air at 30 °C is 1.6 % lighter than dry air (0.378 · 4.25 kPa of vapour in 101.3 kPa).
const AIR_UNCERTAINTY: f64 = 0.02;
/// Second virial coefficient −25 cm³/mol at −50 °C (from memory): 0.3 % at 2 bar(a).
const NITROGEN_UNCERTAINTY: f64 = 0.005;
/// Second virial coefficient −245 cm³/mol at −50 °C (from memory): 2.7 % at 2 bar(a).
const CARBON_DIOXIDE_UNCERTAINTY: f64 = 0.03;
/// Saturated vapours are the worst case: of propane, butane and ammonia up to 2 bar(a), n-butane is 6.5 % heavier
/// than the ideal gas at 1.76 bar(a) (`tests/published/densities.rs`), some 7 % at 2 bar(a).
const VAPOUR_UNCERTAINTY: f64 = 0.08;

impl Gas {
    pub fn density(&self, at: Conditions) -> Density {
        match self {
            Gas::Air => ideal(AIR_KG_MOL, AIR_UNCERTAINTY, at),
            Gas::Nitrogen => ideal(NITROGEN_KG_MOL, NITROGEN_UNCERTAINTY, at),
            Gas::CarbonDioxide => ideal(CARBON_DIOXIDE_KG_MOL, CARBON_DIOXIDE_UNCERTAINTY, at),
            Gas::MolarMass(mass) => ideal(mass.value, VAPOUR_UNCERTAINTY, at),
            Gas::Density(density) => Density::typed_in(*density, true),
            Gas::Steam => if97::steam(at),
            Gas::Vapour(table) => table.vapour(at),
        }
    }

    /// The gas in a dry leg at another temperature than the vessel's, `vessel` being its density there. A saturated
    /// vapour keeps the density that it has in the vessel: its pressure is that of the vessel, not of the leg.
    pub fn density_in_leg(&self, vessel: Density, leg: Conditions) -> Density {
        if self.is_saturated() {
            vessel
        } else {
            self.density(leg)
        }
    }

    /// Where the density comes from, to show to people.
    pub fn source(&self) -> &'static str {
        match self {
            Gas::Air => "dry air as an ideal gas",
            Gas::Nitrogen => "nitrogen as an ideal gas",
            Gas::CarbonDioxide => "carbon dioxide as an ideal gas",
            Gas::MolarMass(_) => "ideal gas of the molar mass stated for the site",
            Gas::Density(_) => "density as stated for the site",
            Gas::Steam => "saturated steam: IAPWS-IF97",
            Gas::Vapour(_) => "vapour of the liquid's table",
        }
    }

    /// Whether it turns liquid where it is cooled.
    pub fn is_saturated(&self) -> bool {
        matches!(self, Gas::Steam | Gas::Vapour(_))
    }
}

fn ideal(m_kg_mol: f64, uncertainty_share: f64, at: Conditions) -> Density {
    let (t_k, temperature_in_range) = nearest(at.temperature.value, &VALID_K);
    let (p_pa, _) = nearest(at.pressure.0.value, &(0.0..=f64::MAX));
    // ρ = p M / (R T)
    let rho_kg_m3 = p_pa * (m_kg_mol / (GAS_CONSTANT * t_k));
    Density {
        value: kilograms_per_cubic_metre(rho_kg_m3),
        uncertainty: kilograms_per_cubic_metre(rho_kg_m3 * uncertainty_share),
        in_range: temperature_in_range && VALID_PA.contains(&at.pressure.0.value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius, kelvin, kilograms_per_mole};
    use approx::assert_relative_eq;

    fn at(temperature_c: f64, pressure_pa: f64) -> Conditions {
        Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(pressure_pa),
        }
    }

    #[test]
    fn densities_at_0_degc_and_one_atmosphere() {
        // Air 1.2931, nitrogen 1.2506, carbon dioxide 1.977 kg/m³ as measured, from memory of handbooks;
        // an ideal gas is 0.7 % low for the last.
        for (gas, rho_kg_m3, tolerance) in [
            (Gas::Air, 1.2931, 1e-3),
            (Gas::Nitrogen, 1.2506, 1e-3),
            (Gas::CarbonDioxide, 1.977, 8e-3),
        ] {
            let density = gas.density(at(0.0, 101_325.0));
            assert_relative_eq!(density.value.value, rho_kg_m3, max_relative = tolerance);
            assert!(density.in_range);
        }
    }

    #[test]
    fn a_molar_volume_holds_its_molar_mass() {
        // Molar volume of an ideal gas at 273.15 K and 101 325 Pa: 22.413 969 54 L/mol (CODATA 2018).
        let gas = Gas::MolarMass(kilograms_per_mole(22.413_969_54e-3));
        assert_relative_eq!(
            gas.density(at(0.0, 101_325.0)).value.value,
            1.0,
            max_relative = 1e-9
        );
    }

    #[test]
    fn range_ends_at_two_bar_and_at_vacuum() {
        let in_range = |pressure_pa| Gas::Air.density(at(20.0, pressure_pa)).in_range;
        assert!(in_range(0.0) && in_range(200_000.0));
        assert!(!in_range(-1.0) && !in_range(200_001.0));
        assert!(!Gas::Air.density(at(-60.0, 1e5)).in_range);
        let single = Gas::Air.density(at(20.0, 1e5)).value;
        let tenfold = Gas::Air.density(at(20.0, 1e6)).value;
        assert_relative_eq!(tenfold.value, 10.0 * single.value, max_relative = 1e-12);
    }

    #[test]
    fn a_density_given_outright_stands_at_any_condition() {
        let given = kilograms_per_cubic_metre(18.1);
        let density = Gas::Density(given).density(at(-200.0, 9e6));
        assert_eq!((density.value, density.in_range), (given, true));
    }

    #[test]
    fn every_finite_condition_gives_a_number() {
        for gas in [Gas::Air, Gas::Nitrogen, Gas::CarbonDioxide] {
            for temperature_k in [-f64::MAX, 0.0, 300.0, f64::MAX] {
                for pressure_pa in [-f64::MAX, 0.0, 1e5, f64::MAX] {
                    let density = gas.density(Conditions {
                        temperature: kelvin(temperature_k),
                        pressure: AbsolutePressure::pascals(pressure_pa),
                    });
                    assert!(density.value.value >= 0.0 && density.value.value.is_finite());
                }
            }
        }
    }
}
