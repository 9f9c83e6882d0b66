//! Control charts for residuals, and how long they run before they signal.
//!
//! CUSUM and EWMA themselves are those of [`checks`](crate::engine::checks).

use super::drift::NEAR;
use crate::engine::checks::cusum::run_length_both;
use crate::engine::checks::normal::within;

/// Half of the shift that is looked for, in standard deviations.
pub const K: f64 = 0.5;
/// Decision intervals for weekly, daily and hourly rounds.
const H: [f64; 3] = [5.0, 8.0, 12.0];
/// The least time in which one false signal of a healthy tank may be expected, s: 8 years.
const LEAST_RUN_S: f64 = 8.0 * YEAR_S;
const YEAR_S: f64 = 365.25 * 86_400.0;
/// Weight of the newest residual, and half-width of the limits in standard deviations: 500 entries in
/// control (Lucas and Saccucci, Technometrics 32 (1990) 1).
pub const LAMBDA: f64 = 0.2;
pub const L: f64 = 2.962;
/// The run length in control that this λ and L give.
pub const EWMA_RUN: f64 = 500.0;

/// The smallest decision interval of the three whose run length in control is long enough for rounds at this
/// interval: 5 for weekly, 8 for daily and 12 for hourly ones.
pub fn decision_interval(every_s: f64) -> f64 {
    let [weekly, daily, hourly] = H;
    let is_enough = |h: &f64| run_length_both(K, *h) * every_s >= LEAST_RUN_S;
    [weekly, daily]
        .into_iter()
        .find(is_enough)
        .unwrap_or(hourly)
}

/// How often a year a sound tank's signal is confirmed by chance, at rounds of this interval: the chart's false
/// signals, times the chance that an entry is off to the signal's side by itself before two in line end it.
///
/// With p = P(z > 2) to either side and q = 1 − 2p in line, from none in line a = p + q·b + p·a, from one in line
/// b = p + p·a.
pub fn false_probable_a_year(every_s: f64) -> f64 {
    let q = within(NEAR);
    let p = (1.0 - q) / 2.0;
    let confirmed = (p + q * p) / (1.0 - p - q * p);
    let run = run_length_both(K, decision_interval(every_s));
    confirmed * YEAR_S / (run * every_s)
}

/// The smallest shift, in standard deviations, that is found within so many entries: (shift − k)·n = h.
pub fn smallest_shift(h: f64, entries: f64) -> f64 {
    K + h / entries
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_S: f64 = 3600.0;

    #[test]
    fn the_decision_interval_follows_the_rounds() {
        let every = [168.0, 24.0, 8.0, 1.0].map(|hours| decision_interval(hours * HOUR_S) as u32);
        assert_eq!(every, [5, 8, 8, 12]);
        let years = |h: f64, hours: f64| run_length_both(K, h) * hours / 8766.0;
        // What is stated of them: about 9, 26 and 60 years.
        assert!((8.5..9.5).contains(&years(5.0, 168.0)));
        assert!((25.5..26.5).contains(&years(8.0, 24.0)));
        assert!((59.0..61.0).contains(&years(12.0, 1.0)));
    }

    /// By hand: P(z > 2) = 0.02275 (table of the normal distribution), a = 0.0465; rounds every eight hours have a
    /// false signal in 8.7 years, so 0.0053 a year.
    #[test]
    fn rounds_take_a_hundredth_of_the_budget_of_false_probables() {
        let eight_hours = false_probable_a_year(8.0 * HOUR_S);
        assert!((eight_hours - 0.0053).abs() < 0.0002, "{eight_hours}");
        for hours in [1.0, 8.0, 24.0, 168.0] {
            assert!(false_probable_a_year(hours * HOUR_S) < 0.01, "{hours} h");
        }
    }
}
