//! A liquid that stands under its own vapour, from rows of temperature, liquid and vapour density.
//!
//! Both columns keep to the rules of [`DensityTable`]: rising temperatures, positive densities, linear between rows,
//! and outside them the first or last row, flagged.

use super::{Conditions, Density, DensityTable, LiquidError};
use crate::quantity::{MassDensity, Temperature, kilograms_per_cubic_metre};

/// One row: temperature, density of the liquid, density of the vapour.
pub type SaturatedRow = (Temperature, MassDensity, MassDensity);

#[derive(Clone, Debug, PartialEq)]
pub struct SaturatedTable {
    liquid: DensityTable,
    vapour: DensityTable,
}

impl SaturatedTable {
    /// `uncertainty` is expanded (k = 2) and holds for the liquid; of the vapour's nothing is known.
    pub fn new(
        rows: &[SaturatedRow],
        uncertainty: Option<MassDensity>,
    ) -> Result<Self, LiquidError> {
        let lighter = |row: &SaturatedRow| row.2 < row.1;
        let liquid =
            DensityTable::new(rows.iter().map(|row| (row.0, row.1)).collect(), uncertainty)?;
        let vapour = DensityTable::new(rows.iter().map(|row| (row.0, row.2)).collect(), None)?;
        match rows.iter().position(|row| !lighter(row)) {
            Some(index) => Err(LiquidError::VapourTooDense { row: index + 1 }),
            None => Ok(Self { liquid, vapour }),
        }
    }

    pub(super) fn liquid(&self, at: Conditions) -> Density {
        self.liquid.density(at)
    }

    pub(super) fn vapour(&self, at: Conditions) -> Density {
        Density {
            uncertainty: kilograms_per_cubic_metre(0.0),
            ..self.vapour.density(at)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius};
    use approx::assert_relative_eq;

    fn row(temperature_c: f64, liquid: f64, vapour: f64) -> SaturatedRow {
        (
            celsius(temperature_c),
            kilograms_per_cubic_metre(liquid),
            kilograms_per_cubic_metre(vapour),
        )
    }

    fn at(temperature_c: f64) -> Conditions {
        Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(101_325.0),
        }
    }

    #[test]
    fn liquid_and_vapour_lie_between_their_rows() {
        let rows = [row(0.0, 528.0, 10.0), row(20.0, 500.0, 18.0)];
        let table = SaturatedTable::new(&rows, None).expect("rises");
        assert_relative_eq!(table.liquid(at(10.0)).value.value, 514.0);
        assert_relative_eq!(table.vapour(at(10.0)).value.value, 14.0);
        assert!(!table.liquid(at(21.0)).in_range && !table.vapour(at(-1.0)).in_range);
    }

    #[test]
    fn a_vapour_as_dense_as_its_liquid_is_refused_with_its_row() {
        let swapped = [row(0.0, 528.0, 10.0), row(20.0, 18.0, 500.0)];
        assert_eq!(
            SaturatedTable::new(&swapped, None),
            Err(LiquidError::VapourTooDense { row: 2 })
        );
        assert_eq!(
            SaturatedTable::new(&swapped[..1], None),
            Err(LiquidError::TooFewRows)
        );
    }
}
