//! Control charts for residuals, and how long they run before they signal.
//!
//! CUSUM: S⁺ = max(0, S⁺ + z − k), S⁻ = max(0, S⁻ − z − k); a signal where one passes h.
//! EWMA: E = λ·z + (1 − λ)·E, with limits ±L·√(λ/(2 − λ)·[1 − (1 − λ)²ⁿ]).
//! Both as in the NIST/SEMATECH e-Handbook, 6.3.2.3 and 6.3.2.4; tests/published holds its worked example and
//! the published run lengths.

/// Half of the shift that is looked for, in standard deviations.
pub const K: f64 = 0.5;
/// Decision intervals for weekly, daily and hourly rounds.
const H: [f64; 3] = [5.0, 8.0, 12.0];
/// The least time in which one false signal of a healthy tank may be expected, s: 8 years.
const LEAST_RUN_S: f64 = 8.0 * 365.25 * 86_400.0;
/// Weight of the newest residual, and half-width of the limits in standard deviations: 500 entries in
/// control (Lucas and Saccucci, Technometrics 32 (1990) 1).
pub const LAMBDA: f64 = 0.2;
pub const L: f64 = 2.962;
/// The run length in control that this λ and L give.
pub const EWMA_RUN: f64 = 500.0;

/// Both sides of a CUSUM.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cusum {
    pub high: f64,
    pub low: f64,
}

impl Cusum {
    pub fn take(&mut self, z: f64, k: f64) {
        self.high = (self.high + z - k).max(0.0);
        self.low = (self.low - z - k).max(0.0);
    }
}

/// E after one more residual.
pub fn ewma(before: f64, z: f64, lambda: f64) -> f64 {
    lambda * z + (1.0 - lambda) * before
}

/// How far from zero E may be after so many residuals.
pub fn ewma_limit(lambda: f64, width: f64, count: u32) -> f64 {
    let settled = 1.0 - (1.0 - lambda).powf(2.0 * f64::from(count));
    width * (lambda / (2.0 - lambda) * settled).sqrt()
}

/// How many residuals on average until one side signals, with their mean shifted by so many standard
/// deviations towards it: ARL ≈ (e^(−2Δb) + 2Δb − 1)/(2Δ²), Δ = shift − k, b = h + 1.166
/// (Siegmund, Sequential Analysis (1985), 2.56 and 10.2).
pub fn run_length(k: f64, h: f64, shift: f64) -> f64 {
    let (delta, b) = (shift - k, h + 1.166);
    if delta.abs() < 1e-6 {
        return b * b;
    }
    ((-2.0 * delta * b).exp() + 2.0 * delta * b - 1.0) / (2.0 * delta * delta)
}

/// The same for both sides together: 1/ARL = 1/ARL⁺ + 1/ARL⁻.
pub fn run_length_both(k: f64, h: f64, shift: f64) -> f64 {
    1.0 / (1.0 / run_length(k, h, shift) + 1.0 / run_length(k, h, -shift))
}

/// The smallest decision interval of the three whose run length in control is long enough for rounds at this
/// interval: 5 for weekly, 8 for daily and 12 for hourly ones.
pub fn decision_interval(every_s: f64) -> f64 {
    let [weekly, daily, hourly] = H;
    let is_enough = |h: &f64| run_length_both(K, *h, 0.0) * every_s >= LEAST_RUN_S;
    [weekly, daily]
        .into_iter()
        .find(is_enough)
        .unwrap_or(hourly)
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
        let years = |h: f64, hours: f64| run_length_both(K, h, 0.0) * hours / 8766.0;
        // What is stated of them: about 9, 26 and 60 years.
        assert!((8.5..9.5).contains(&years(5.0, 168.0)));
        assert!((25.5..26.5).contains(&years(8.0, 24.0)));
        assert!((59.0..61.0).contains(&years(12.0, 1.0)));
    }

    #[test]
    fn a_larger_shift_is_found_sooner() {
        assert!(run_length(K, 8.0, 2.0) < run_length(K, 8.0, 1.0));
        assert!((run_length(K, 8.0, K) - run_length(K, 8.0, K + 1e-4)).abs() < 0.1);
    }
}
