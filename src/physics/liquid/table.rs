//! Density from rows of temperature and density, linear between them.
//!
//! Holds at least two rows of rising temperature and positive density; outside them the first or last row
//! stands, flagged.

use super::{Conditions, Density, LiquidError, nearest};
use crate::quantity::{MassDensity, Temperature, kilograms_per_cubic_metre};

#[derive(Clone, Debug, PartialEq)]
pub struct DensityTable {
    rows: Vec<(Temperature, MassDensity)>,
    uncertainty: Option<MassDensity>,
}

impl DensityTable {
    /// `uncertainty` is expanded (k = 2) and holds for every row and between them.
    pub fn new(
        rows: Vec<(Temperature, MassDensity)>,
        uncertainty: Option<MassDensity>,
    ) -> Result<Self, LiquidError> {
        if rows.len() < 2 {
            return Err(LiquidError::TooFewRows);
        }
        let mut below_k = 0.0;
        for (index, (temperature, density)) in rows.iter().enumerate() {
            let row = index + 1;
            if !(temperature.value.is_finite() && temperature.value > 0.0) {
                return Err(LiquidError::Temperature { row });
            }
            if temperature.value <= below_k {
                return Err(LiquidError::NotRising { row });
            }
            if !(density.value.is_finite() && density.value > 0.0) {
                return Err(LiquidError::Density { row });
            }
            below_k = temperature.value;
        }
        if uncertainty.is_some_and(|u| !(u.value.is_finite() && u.value >= 0.0)) {
            return Err(LiquidError::Uncertainty);
        }
        Ok(Self { rows, uncertainty })
    }

    pub fn rows(&self) -> &[(Temperature, MassDensity)] {
        &self.rows
    }

    pub(super) fn density(&self, at: Conditions) -> Density {
        let coldest_k = self.rows[0].0.value;
        let hottest_k = self.rows[self.rows.len() - 1].0.value;
        let (t_k, in_range) = nearest(at.temperature.value, &(coldest_k..=hottest_k));
        Density::typed_in(self.between_rows(t_k), in_range).stated(self.uncertainty)
    }

    /// For a temperature within the table.
    fn between_rows(&self, t_k: f64) -> MassDensity {
        let above = self.rows.partition_point(|(row, _)| row.value < t_k);
        let above = above.clamp(1, self.rows.len() - 1);
        let ((t1, rho1), (t2, rho2)) = (self.rows[above - 1], self.rows[above]);
        let share = (t_k - t1.value) / (t2.value - t1.value);
        // ρ = ρ1 (1 − s) + ρ2 s,  s = (T − T1)/(T2 − T1): gives the rows themselves exactly
        kilograms_per_cubic_metre(rho1.value * (1.0 - share) + rho2.value * share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius, kelvin};
    use approx::assert_relative_eq;

    fn row(temperature_c: f64, rho_kg_m3: f64) -> (Temperature, MassDensity) {
        let density = kilograms_per_cubic_metre(rho_kg_m3);
        (celsius(temperature_c), density)
    }

    fn density(temperature_c: f64) -> Density {
        let rows = vec![row(10.0, 850.0), row(20.0, 843.0), row(50.0, 821.0)];
        let table = DensityTable::new(rows, Some(kilograms_per_cubic_metre(1.5))).expect("rises");
        table.density(Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(101_325.0),
        })
    }

    #[test]
    fn rows_stand_and_the_middle_lies_between() {
        for (t_c, rho_kg_m3) in [
            (10.0, 850.0),
            (15.0, 846.5),
            (20.0, 843.0),
            (35.0, 832.0),
            (50.0, 821.0),
        ] {
            let found = density(t_c);
            assert_relative_eq!(found.value.value, rho_kg_m3, max_relative = 1e-12);
            assert!(found.in_range, "{t_c} °C");
            assert_relative_eq!(found.uncertainty.value, 1.5);
        }
    }

    #[test]
    fn outside_the_last_row_stands_and_says_so() {
        assert_relative_eq!(density(-5.0).value.value, 850.0);
        assert_relative_eq!(density(50.1).value.value, 821.0);
        assert!(!density(-5.0).in_range && !density(50.1).in_range);
    }

    #[test]
    fn a_wrong_table_is_refused_with_its_row() {
        let refusal = |rows| DensityTable::new(rows, None).expect_err("wrong table");
        assert_eq!(refusal(vec![row(10.0, 850.0)]), LiquidError::TooFewRows);
        let level = vec![row(10.0, 850.0), row(10.0, 840.0)];
        assert_eq!(refusal(level), LiquidError::NotRising { row: 2 });
        let nothing = vec![row(10.0, 0.0), row(20.0, 840.0)];
        assert_eq!(refusal(nothing), LiquidError::Density { row: 1 });
        let cold = vec![(kelvin(-1.0), row(0.0, 1.0).1), row(20.0, 840.0)];
        assert_eq!(refusal(cold), LiquidError::Temperature { row: 1 });
        let rows = vec![row(10.0, 850.0), row(20.0, 840.0)];
        let negative = Some(kilograms_per_cubic_metre(-1.0));
        assert_eq!(
            DensityTable::new(rows, negative),
            Err(LiquidError::Uncertainty)
        );
    }
}
