//! The cumulative sum: small shifts that stay add up.
//!
//! ```text
//!     hi = max(0, hi + x − k)        lo = max(0, lo − x − k)
//! ```
//!
//! of standardised values x (NIST/SEMATECH e-Handbook, 6.3.2.3); tests/published holds its worked example, and published
//! run lengths.

#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cusum {
    pub high: f64,
    pub low: f64,
}

impl Cusum {
    /// Takes a value that is counted from its target.
    pub fn take(&mut self, value: f64, k: f64) {
        self.high = (self.high + value - k).max(0.0);
        self.low = (self.low - value - k).max(0.0);
    }

    pub fn largest(&self) -> f64 {
        self.high.max(self.low)
    }
}

/// How many values on average until one side passes h though nothing has shifted: ARL ≈ (e^(2kb) − 2kb − 1)/(2k²),
/// b = h + 1.166 (Siegmund, Sequential Analysis (1985), 2.56 and 10.2).
pub fn run_length(k: f64, h: f64) -> f64 {
    let twice_kb = 2.0 * k * (h + 1.166);
    (twice_kb.exp() - twice_kb - 1.0) / (2.0 * k * k)
}

/// The same for both sides together, each as likely: half of it.
pub fn run_length_both(k: f64, h: f64) -> f64 {
    run_length(k, h) / 2.0
}
