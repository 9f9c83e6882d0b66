//! Strapping table: volumes measured or computed at a row of levels, linear between them, as tank
//! calibration standards use their tables (common practice; no clause was at hand).
//!
//! A table that exists has at least two rows whose levels and volumes both rise.

use super::body::{Body, Fill};
use super::error::VesselError;
use crate::quantity::{Length, Volume};
use std::f64::consts::PI;

/// The largest level or volume of a table, m or m³ (common practice, no source): beyond it the unit is
/// wrong. No arithmetic on a table can overflow below it.
const LARGEST: f64 = 1e12;

/// The least step of level between two rows (common practice, no source): no dip tape tells less apart.
const LEAST_STEP_M: f64 = 1e-6;

#[derive(Clone, Debug, PartialEq)]
pub struct StrappingTable {
    rows: Vec<Row>,
    uncertainty_m3: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Row {
    level_m: f64,
    volume_m3: f64,
}

impl StrappingTable {
    /// `uncertainty` is that of every volume of the table, k = 2.
    pub fn new(
        rows: Vec<(Length, Volume)>,
        uncertainty: Option<Volume>,
    ) -> Result<Self, VesselError> {
        let uncertainty_m3 = uncertainty.map_or(0.0, |volume| volume.value);
        if !(0.0..=LARGEST).contains(&uncertainty_m3) {
            let message = format!("must be 0 or more, not {uncertainty_m3} m3");
            return Err(VesselError::new("uncertainty", message));
        }
        let rows: Vec<Row> = rows.into_iter().map(Row::from).collect();
        check(&rows)?;
        Ok(Self {
            rows,
            uncertainty_m3,
        })
    }

    pub(super) fn uncertainty_m3(&self) -> f64 {
        self.uncertainty_m3
    }

    /// The two rows around whatever the first rows up to `place` lie at or below.
    fn around(&self, place: usize) -> (Row, Row) {
        let upper = place.clamp(1, self.rows.len() - 1);
        (self.rows[upper - 1], self.rows[upper])
    }
}

impl From<(Length, Volume)> for Row {
    fn from((level, volume): (Length, Volume)) -> Self {
        Self {
            level_m: level.value,
            volume_m3: volume.value,
        }
    }
}

fn check(rows: &[Row]) -> Result<(), VesselError> {
    let refuse = |message: String| Err(VesselError::new("rows", message));
    if rows.len() < 2 {
        return refuse(format!("need at least 2 entries, not {}", rows.len()));
    }
    for (index, row) in rows.iter().enumerate() {
        let within = |value: f64| value.abs() <= LARGEST;
        if !within(row.level_m) || !within(row.volume_m3) || row.volume_m3 < 0.0 {
            let Row { level_m, volume_m3 } = row;
            return refuse(format!(
                "need a level and a volume of 0 or more in entry {}, not {level_m} m and {volume_m3} m3",
                index + 1
            ));
        }
    }
    for (index, pair) in rows.windows(2).enumerate() {
        let (this, next) = (index + 1, index + 2);
        if pair[1].level_m - pair[0].level_m < LEAST_STEP_M {
            return refuse(format!(
                "must rise in level: entry {next} at {} m follows entry {this} at {} m",
                pair[1].level_m, pair[0].level_m
            ));
        }
        if pair[1].volume_m3 <= pair[0].volume_m3 {
            return refuse(format!(
                "must rise in volume: entry {next} with {} m3 follows entry {this} with {} m3",
                pair[1].volume_m3, pair[0].volume_m3
            ));
        }
    }
    Ok(())
}

impl Body for StrappingTable {
    fn bottom(&self) -> f64 {
        self.rows[0].level_m
    }

    fn top(&self) -> f64 {
        self.rows[self.rows.len() - 1].level_m
    }

    /// At a row, the surface is that of the interval above it (at the last row: below it).
    fn fill(&self, level_m: f64) -> Fill {
        let (low, high) = self.around(self.rows.partition_point(|row| row.level_m <= level_m));
        // A = (V2 − V1)/(h2 − h1)
        let surface_m2 = (high.volume_m3 - low.volume_m3) / (high.level_m - low.level_m);
        // V = V1 + (V2 − V1) (h − h1)/(h2 − h1)
        let share = (level_m - low.level_m) / (high.level_m - low.level_m);
        Fill {
            volume_m3: low.volume_m3 + (high.volume_m3 - low.volume_m3) * share,
            surface_m2,
        }
    }

    /// A table has no outline: the radius of the round column with the same surface, √(A/π).
    fn half_width(&self, level_m: f64) -> f64 {
        (self.fill(level_m).surface_m2 / PI).sqrt()
    }

    fn level_of(&self, volume_m3: f64) -> f64 {
        let (low, high) = self.around(self.rows.partition_point(|row| row.volume_m3 <= volume_m3));
        let share = (volume_m3 - low.volume_m3) / (high.volume_m3 - low.volume_m3);
        low.level_m + (high.level_m - low.level_m) * share
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Shape, Vessel};
    use super::*;
    use crate::quantity::{cubic_metres, metres};
    use approx::assert_relative_eq;

    fn table(rows: &[(f64, f64)]) -> Result<StrappingTable, VesselError> {
        let rows = rows
            .iter()
            .map(|&(level_m, volume_m3)| (metres(level_m), cubic_metres(volume_m3)))
            .collect();
        StrappingTable::new(rows, Some(cubic_metres(0.02)))
    }

    #[test]
    fn is_linear_between_rows() {
        let table = table(&[(0.1, 0.5), (1.0, 5.0), (2.0, 12.0)]).expect("the table rises");
        let basin = Vessel::new(Shape::Strapping(table)).expect("a table is checked already");
        assert_relative_eq!(basin.bottom().value, 0.1);
        assert_relative_eq!(basin.top().value, 2.0);
        assert_relative_eq!(basin.capacity().value, 12.0);
        assert_relative_eq!(basin.uncertainty().value, 0.02);
        assert_relative_eq!(basin.volume(metres(-3.0)).value, 0.5);
        assert_relative_eq!(basin.volume(metres(1.5)).value, 8.5);
        assert_relative_eq!(basin.area(metres(1.5)).value, 7.0);
        assert_relative_eq!(basin.area(metres(2.0)).value, 7.0);
        assert_relative_eq!(basin.area(metres(0.0)).value, 0.0);
        assert_relative_eq!(basin.height(cubic_metres(8.5)).value, 1.5);
        assert_relative_eq!(basin.height(cubic_metres(0.0)).value, 0.1);
    }

    #[test]
    fn refuses_what_does_not_rise() {
        let refusal = |rows: &[(f64, f64)]| table(rows).expect_err("refused").to_string();
        assert_eq!(
            refusal(&[(0.0, 0.0)]),
            "rows need at least 2 entries, not 1"
        );
        assert_eq!(
            refusal(&[(0.0, 0.0), (1.0, 3.0), (1.0, 4.0)]),
            "rows must rise in level: entry 3 at 1 m follows entry 2 at 1 m"
        );
        assert_eq!(
            refusal(&[(0.0, 0.0), (1.0, 3.0), (2.0, 2.5)]),
            "rows must rise in volume: entry 3 with 2.5 m3 follows entry 2 with 3 m3"
        );
        assert_eq!(
            refusal(&[(0.0, 0.0), (1.0, f64::NAN)]),
            "rows need a level and a volume of 0 or more in entry 2, not 1 m and NaN m3"
        );
    }
}
