//! Seeded noise.

use rand_distr::{Distribution, StandardNormal, Uniform};
use rand_pcg::Pcg32;

pub struct Chance(Pcg32);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(Pcg32::new(seed, 7))
    }

    /// A deviate of mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        let between = Uniform::new(low, high).expect("low below high");
        between.sample(&mut self.0)
    }
}

/// Noise of unit variance, each value correlated with the one before: what damping makes of white noise.
pub struct Damped {
    correlation: f64,
    value: f64,
}

impl Damped {
    pub fn new(correlation: f64) -> Self {
        Self {
            correlation,
            value: 0.0,
        }
    }

    pub fn next(&mut self, chance: &mut Chance) -> f64 {
        let own = (1.0 - self.correlation * self.correlation).sqrt();
        self.value = self.correlation * self.value + own * chance.normal();
        self.value
    }
}
