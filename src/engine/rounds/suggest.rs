//! The corrections that entries suggest, as the site file has them. Nothing is applied: a person decides.
//!
//! entry = gain·reading + offset by least squares, the reading before any correction ([`Points`]). Of several hookups
//! each has its own, by what it said when somebody looked.

use super::RowView;
use crate::engine::memory::{DriftMemory, EntryMemory};
use crate::engine::plan::{Correction, Gives, TankPlan};
use crate::physics::line::Points;
use std::sync::Arc;

/// The entries must spread over this share of the vessel's height before they tell a gain. Common practice,
/// no source.
const LEAST_SPREAD: f64 = 0.2;
const FEWEST: usize = 3;
/// A gain and an offset are written to so much, and nothing smaller is worth a correction.
const WRITTEN_GAIN: f64 = 1e-5;
const WRITTEN_M: f64 = 1e-4;

/// A gain and an offset with their standard errors.
#[derive(Clone, Debug, PartialEq)]
pub struct Suggestion {
    /// Which one it is for, where the tank has several.
    pub hookup: Option<Arc<str>>,
    /// Entries that it is made of.
    pub entries: usize,
    pub gain: f64,
    /// None where the entries are too alike in level, and the gain is taken to be 1.
    pub gain_standard_error: Option<f64>,
    pub offset_m: f64,
    pub offset_standard_error_m: f64,
    /// Standard deviation of what is left.
    pub left_m: f64,
    /// Whether it is more than its own errors (k = 2) from what is in force.
    pub worth_it: bool,
    /// A key of the tank's hookup.
    pub text: String,
}

pub(super) fn suggestions(
    tank: &TankPlan,
    rows: &[RowView],
    drift: &DriftMemory,
) -> Vec<Suggestion> {
    // Before a shift it was another instrument.
    let charted = rows.iter().enumerate().rev();
    let mut charted = charted.filter(|(_, row)| row.charted.is_some());
    let from = match drift.run() as usize {
        0 => 0,
        run => charted.nth(run - 1).map_or(0, |(place, _)| place),
    };
    let rows = &rows[from..];
    if let [only] = &tank.hookups[..] {
        let said = |entry: &EntryMemory| Some(entry.reading?.uncorrected_m);
        let one = suggestion(tank, &only.correction, None, pairs(rows, said));
        return one.into_iter().collect();
    }
    let tell = tank
        .hookups
        .iter()
        .filter(|plan| plan.gives == Gives::Level);
    tell.filter_map(|plan| {
        let said = |entry: &EntryMemory| {
            let mut all = entry.hookups.iter();
            Some(all.find(|said| said.name == plan.name)?.uncorrected_m)
        };
        let name = Some(Arc::clone(&plan.name));
        suggestion(tank, &plan.correction, name, pairs(rows, said))
    })
    .collect()
}

/// What was said before any correction, and what was seen.
fn pairs(rows: &[RowView], said: impl Fn(&EntryMemory) -> Option<f64>) -> Vec<(f64, f64)> {
    let pairs = rows
        .iter()
        .filter_map(|row| Some((said(&row.entry)?, row.entry.level_m)));
    pairs.collect()
}

fn suggestion(
    tank: &TankPlan,
    in_force: &Correction,
    hookup: Option<Arc<str>>,
    pairs: Vec<(f64, f64)>,
) -> Option<Suggestion> {
    if pairs.len() < FEWEST {
        return None;
    }
    let mut points = Points::default();
    pairs.iter().for_each(|(x, y)| points.add(*x, *y));
    let reach = |pick: fn(f64, f64) -> f64| pairs.iter().map(|pair| pair.0).reduce(pick);
    let spread_m = reach(f64::max)? - reach(f64::min)?;
    let height_m = (tank.vessel.top() - tank.vessel.bottom()).value;
    let line = points
        .line()
        .filter(|_| spread_m >= LEAST_SPREAD * height_m);
    let (gain, gain_standard_error, offset_m, offset_standard_error_m, left_m) = match line {
        Some(line) => (
            line.gain,
            Some(line.gain_standard_error),
            line.offset,
            line.offset_standard_error,
            line.residual,
        ),
        None => {
            let offset_m = points.mean_difference()?;
            let count = pairs.len() as f64;
            let squares = pairs.iter().map(|(x, y)| (y - x - offset_m).powi(2));
            let left_m = (squares.sum::<f64>() / (count - 1.0)).sqrt();
            (1.0, None, offset_m, left_m / count.sqrt(), left_m)
        }
    };
    // At the middle of the entries, where the two errors hang together least.
    let middle_m = pairs.iter().map(|pair| pair.0).sum::<f64>() / pairs.len() as f64;
    let change_m = (gain - in_force.gain) * middle_m + offset_m - in_force.offset.value;
    let error_m = left_m / (pairs.len() as f64).sqrt();
    let gain_differs = gain_standard_error
        .is_some_and(|error| (gain - in_force.gain).abs() > (2.0 * error).max(WRITTEN_GAIN));
    Some(Suggestion {
        hookup,
        entries: pairs.len(),
        gain,
        gain_standard_error,
        offset_m,
        offset_standard_error_m,
        left_m,
        worth_it: change_m.abs() > (2.0 * error_m).max(WRITTEN_M) || gain_differs,
        text: format!(
            "correction = {{ gain = {gain:.5}, offset = \"{:.1} mm\" }}",
            offset_m * 1e3
        ),
    })
}
