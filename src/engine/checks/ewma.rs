//! The exponentially weighted moving average: zₜ = λ·xₜ + (1 − λ)·zₜ₋₁ (NIST/SEMATECH e-Handbook, 6.3.2.4).

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ewma {
    pub lambda: f64,
    pub value: f64,
}

impl Ewma {
    pub fn new(lambda: f64, value: f64) -> Self {
        Self { lambda, value }
    }

    pub fn take(&mut self, value: f64) -> f64 {
        self.value = self.lambda * value + (1.0 - self.lambda) * self.value;
        self.value
    }
}

/// How far from its target the average may be after so many values, of a standard deviation of 1:
/// ±L·√(λ/(2 − λ)·[1 − (1 − λ)²ⁿ]).
pub fn limit(lambda: f64, width: f64, count: u32) -> f64 {
    let settled = 1.0 - (1.0 - lambda).powf(2.0 * f64::from(count));
    width * (lambda / (2.0 - lambda) * settled).sqrt()
}
