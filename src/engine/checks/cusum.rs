//! The cumulative sum: small shifts that stay add up.
//!
//! ```text
//!     hi = max(0, hi + x − k)        lo = max(0, lo − x − k)
//! ```
//!
//! of standardised values x (NIST/SEMATECH e-Handbook, 6.3.2.3). How long it takes to pass h by chance alone
//! follows by Siegmund's formula (Sequential Analysis, 1985): with b = h + 1.166, one way in
//! (e^(2kb) − 2kb − 1)/(2k²) values, either way in half of that.

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

/// How many values pass on average before h is passed either way though nothing has shifted.
pub fn run_length(k: f64, h: f64) -> f64 {
    let b = h + 1.166;
    ((2.0 * k * b).exp() - 2.0 * k * b - 1.0) / (2.0 * k * k) / 2.0
}
