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
        self.value += self.lambda * (value - self.value);
        self.value
    }
}
