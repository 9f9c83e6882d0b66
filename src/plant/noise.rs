//! Gaussian noise that is the same to the bit for the same seed.
//!
//! Each transmitter, tank and link has a stream of its own, so that one more does not change the others.
//! Generator: PCG-XSH-RR 64/32 (O'Neill, "PCG: A Family of Simple Fast Space-Efficient Statistically Good
//! Algorithms for Random Number Generation", Harvey Mudd College HMC-CS-2014-0905, 2014), whose output is
//! fixed by its definition. Deviates: the ziggurat method (Marsaglia and Tsang, J. Stat. Software 5(8), 2000).

use rand_distr::{Distribution, StandardNormal, StandardUniform};
use rand_pcg::Pcg32;

#[derive(Clone, Debug)]
pub struct Noise(Pcg32);

impl Noise {
    pub fn new(seed: u64, stream: u64) -> Self {
        Self(Pcg32::new(seed, stream))
    }

    /// A deviate of mean 0 and standard deviation 1.
    pub(super) fn next(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Any number from 0 to 1, each as likely as the other.
    pub fn share(&mut self) -> f64 {
        StandardUniform.sample(&mut self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_and_spread_are_those_of_the_normal_distribution() {
        let mut noise = Noise::new(7, 3);
        let deviates: Vec<f64> = (0..100_000).map(|_| noise.next()).collect();
        let count = deviates.len() as f64;
        let mean = deviates.iter().sum::<f64>() / count;
        let variance = deviates.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / count;
        let beyond_two = deviates.iter().filter(|x| x.abs() > 2.0).count() as f64 / count;
        // Standard error of the mean is 1/√n = 0.003; P(|x| > 2) = 0.0455 (any table of the normal distribution).
        assert!(mean.abs() < 0.015, "{mean}");
        assert!((variance - 1.0).abs() < 0.03, "{variance}");
        assert!((beyond_two - 0.0455).abs() < 0.004, "{beyond_two}");
    }
}
