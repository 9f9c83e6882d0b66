//! Density of what is in tanks and legs, with its uncertainty and its range.
//!
//! What always holds: for any finite condition a density is a number, nothing panics or allocates, and a
//! temperature outside the range gives the value at the nearest valid temperature with
//! [`Density::in_range`] false, so that a reading can say so; never an extrapolated number without a flag.
//! An uncertainty is expanded (k = 2) and covers the density at the given conditions; what an uncertain
//! temperature adds is for the budget.
//!
//! **Where the uncertainty comes from.** The one stated with a liquid is taken as it is. Where none is
//! stated, a formula brings its own (water: see `water.rs`; gases: see `gas.rs`), and a density that
//! somebody typed in (constant, expanding, table) has zero. Zero then means that nothing is known,
//! not that the density is exact.
//!
//! **To add a liquid:** a file with `fn density(…, at: Conditions) -> Density`, its source, valid range as
//! a named constant and default uncertainty with the reason; a variant of [`Liquid`] holding what the site
//! file says about it (checked values only: a constructor that returns [`LiquidError`] where they can be
//! wrong); one arm in each method of [`Liquid`]; its published values under `tests/published`.
//! [`Conditions`] carries the pressure, so compressed and saturated liquids fit in the same way.

mod error;
mod expanding;
mod gas;
mod table;
mod water;

pub use error::LiquidError;
pub use gas::Gas;
pub use table::DensityTable;

use crate::quantity::{
    AbsolutePressure, MassDensity, Temperature, TemperatureCoefficient, kilograms_per_cubic_metre,
};
use std::ops::RangeInclusive;

/// What the density of a fluid depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    pub temperature: Temperature,
    pub pressure: AbsolutePressure,
}

/// A density and how far to trust it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Density {
    pub value: MassDensity,
    /// Expanded, k = 2. Zero where a typed-in density came without one: then nothing is known.
    pub uncertainty: MassDensity,
    /// False: the value is that of the nearest valid temperature, or of a gas at conditions where the
    /// ideal gas law no longer holds.
    pub in_range: bool,
}

/// What a tank or a leg is filled with. An `uncertainty` is expanded (k = 2).
#[derive(Clone, Debug, PartialEq)]
pub enum Liquid {
    /// Water, 0 to 100 °C, at atmospheric pressure.
    Water { uncertainty: Option<MassDensity> },
    /// One density at every temperature.
    Constant {
        density: MassDensity,
        uncertainty: Option<MassDensity>,
    },
    /// ρ = ρ0 / (1 + β (T − T0)): the coefficient is that of the volume, V = V0 (1 + β (T − T0)), as
    /// handbooks give it, referred to the volume at `at`.
    Expanding {
        density: MassDensity,
        at: Temperature,
        coefficient: TemperatureCoefficient,
        uncertainty: Option<MassDensity>,
    },
    /// Rows of temperature and density, linear between them.
    Table(DensityTable),
}

impl Liquid {
    pub fn density(&self, at: Conditions) -> Density {
        match self {
            Liquid::Water { uncertainty } => water::density(at).stated(*uncertainty),
            Liquid::Constant {
                density,
                uncertainty,
            } => Density::typed_in(*density, true).stated(*uncertainty),
            Liquid::Expanding {
                density,
                at: reference,
                coefficient,
                uncertainty,
            } => expanding::density(*density, *reference, *coefficient, at).stated(*uncertainty),
            Liquid::Table(table) => table.density(at),
        }
    }

    /// The kind, as the site file writes it.
    pub fn name(&self) -> &'static str {
        match self {
            Liquid::Water { .. } => "water",
            Liquid::Constant { .. } => "constant",
            Liquid::Expanding { .. } => "expanding",
            Liquid::Table(_) => "table",
        }
    }

    /// Where the density comes from, to show to people.
    pub fn source(&self) -> &'static str {
        match self {
            Liquid::Water { .. } => water::SOURCE,
            Liquid::Constant { .. } => "density as stated for the site",
            Liquid::Expanding { .. } => {
                "density and coefficient of expansion as stated for the site"
            }
            Liquid::Table(_) => "table as stated for the site, linear between its rows",
        }
    }

    pub fn needs_temperature(&self) -> bool {
        !matches!(self, Liquid::Constant { .. })
    }
}

impl Density {
    /// A density that somebody typed in: of its uncertainty nothing is known, which is written as zero.
    fn typed_in(value: MassDensity, in_range: bool) -> Self {
        let uncertainty = kilograms_per_cubic_metre(0.0);
        Self {
            value,
            uncertainty,
            in_range,
        }
    }

    /// The same with the uncertainty stated for the site, where there is one.
    fn stated(self, uncertainty: Option<MassDensity>) -> Self {
        Self {
            uncertainty: uncertainty.unwrap_or(self.uncertainty),
            ..self
        }
    }
}

/// The value of `range` nearest to `value`, and whether `value` lies within. Never not-a-number while the
/// bounds are numbers: `f64::max` passes over one.
fn nearest(value: f64, range: &RangeInclusive<f64>) -> (f64, bool) {
    let near = value.max(*range.start()).min(*range.end());
    (near, range.contains(&value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{celsius, kelvin, per_kelvin_of};

    fn at(temperature_c: f64) -> Conditions {
        Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(101_325.0),
        }
    }

    fn every_liquid() -> Vec<Liquid> {
        let density = kilograms_per_cubic_metre(850.0);
        let rows = vec![(celsius(10.0), density), (celsius(30.0), density * 0.98)];
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
    fn a_temperature_that_is_no_number_is_out_of_range() {
        for liquid in every_liquid() {
            let density = liquid.density(at(f64::NAN));
            assert!(density.value.value > 0.0);
            assert_eq!(
                density.in_range,
                !liquid.needs_temperature(),
                "{}",
                liquid.name()
            );
        }
    }
}
