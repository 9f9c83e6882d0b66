//! What holds for every liquid.

use super::*;
use crate::quantity::{celsius, kelvin, per_kelvin_of};
use proptest::prelude::*;

fn at(temperature_c: f64) -> Conditions {
    Conditions {
        temperature: celsius(temperature_c),
        pressure: AbsolutePressure::pascals(101_325.0),
    }
}

fn every_liquid() -> Vec<Liquid> {
    let density = kilograms_per_cubic_metre(850.0);
    let rows = vec![(celsius(10.0), density), (celsius(30.0), density * 0.98)];
    let vapours = [
        (celsius(0.0), density, density * 0.01),
        (celsius(20.0), density * 0.98, density * 0.02),
    ];
    vec![
        Liquid::Water { uncertainty: None },
        Liquid::Constant {
            density,
            uncertainty: None,
        },
        Liquid::Expanding {
            density,
            at: celsius(15.0),
            coefficient: per_kelvin_of(9.0e-4),
            uncertainty: None,
        },
        Liquid::Table(DensityTable::new(rows, None).expect("rows rise")),
        Liquid::SaturatedWater { uncertainty: None },
        Liquid::CompressedWater { uncertainty: None },
        Liquid::Petroleum(
            Petroleum::new(
                PetroleumGroup::Refined,
                density,
                PetroleumBase::Celsius15,
                None,
            )
            .expect("a fuel oil"),
        ),
        Liquid::Glycol(Glycol::new(GlycolKind::Ethylene, 0.4, None).expect("a mixture")),
        Liquid::SeaWater(SeaWater::new(0.035, None).expect("sea water")),
        Liquid::SaturatedTable(SaturatedTable::new(&vapours, None).expect("rows rise")),
        Liquid::Measured { otherwise: None },
        Liquid::Measured {
            otherwise: Some(Box::new(Liquid::Water { uncertainty: None })),
        },
    ]
}

#[test]
fn a_stated_uncertainty_replaces_the_formula_s_own() {
    let stated = kilograms_per_cubic_metre(0.5);
    let water = Liquid::Water {
        uncertainty: Some(stated),
    };
    assert_eq!(water.density(at(20.0)).uncertainty, stated);
}

#[test]
fn a_constant_keeps_its_density_and_has_no_range() {
    let liquid = &every_liquid()[1];
    assert!(!liquid.needs_temperature());
    assert_eq!(liquid.density(at(-200.0)), liquid.density(at(900.0)));
    assert!(liquid.density(at(900.0)).in_range);
}

#[test]
fn every_finite_condition_gives_a_positive_number() {
    let temperatures_k = [-f64::MAX, -1.0, 0.0, 273.15, 300.0, 1e6, f64::MAX];
    let pressures_pa = [-f64::MAX, 0.0, 101_325.0, 1e9, f64::MAX];
    for liquid in every_liquid() {
        for temperature_k in temperatures_k {
            for pressure_pa in pressures_pa {
                let density = liquid.density(Conditions {
                    temperature: kelvin(temperature_k),
                    pressure: AbsolutePressure::pascals(pressure_pa),
                });
                let value = density.value.value;
                assert!(
                    value.is_finite() && value > 0.0 && density.uncertainty.value >= 0.0,
                    "{} at {temperature_k} K, {pressure_pa} Pa: {density:?}",
                    liquid.name(),
                );
            }
        }
    }
}

#[test]
fn conditions_that_are_no_number_give_a_density_all_the_same() {
    let nothing = Conditions {
        temperature: kelvin(f64::NAN),
        pressure: AbsolutePressure::pascals(f64::NAN),
    };
    for liquid in every_liquid() {
        let density = liquid.density(nothing);
        assert!(density.value.value > 0.0, "{}", liquid.name());
        let hangs_on_them = liquid.needs_temperature() || liquid.needs_pressure();
        let unknown = liquid == Liquid::Measured { otherwise: None };
        assert_eq!(
            density.in_range,
            !hangs_on_them && !unknown,
            "{}",
            liquid.name()
        );
    }
}

#[test]
fn boiling_water_is_cold_in_its_leg() {
    let drum = Conditions {
        temperature: celsius(40.0),
        pressure: AbsolutePressure::pascals(6e6),
    };
    let water = Liquid::SaturatedWater { uncertainty: None };
    let cold = Liquid::CompressedWater { uncertainty: None };
    assert_eq!(water.density_in_leg(drum), cold.density(drum));
    assert!(water.density(drum).value.value < 760.0);
    assert!(water.boiling_point(drum).expect("it boils").value > 540.0);
    assert_eq!(cold.boiling_point(drum), None);
}

#[test]
fn petroleum_alone_has_a_standard_volume() {
    for liquid in every_liquid() {
        let has_one = liquid.volume_correction(at(40.0)).is_some();
        assert_eq!(has_one, liquid.name() == "petroleum", "{}", liquid.name());
    }
}

proptest! {
    #[test]
    fn no_condition_brings_any_liquid_down(t_k in proptest::num::f64::NORMAL, p_pa in proptest::num::f64::NORMAL) {
        let state = Conditions {
            temperature: kelvin(t_k),
            pressure: AbsolutePressure::pascals(p_pa),
        };
        for liquid in every_liquid() {
            for density in [liquid.density(state), liquid.density_in_leg(state)] {
                prop_assert!(density.value.value.is_finite() && density.value.value > 0.0, "{liquid:?}");
                prop_assert!(density.uncertainty.value >= 0.0, "{liquid:?}");
            }
        }
        for gas in [Gas::Steam, Gas::Air] {
            prop_assert!(gas.density(state).value.value.is_finite());
        }
    }
}
