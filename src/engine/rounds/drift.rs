//! Residuals of one series of entries, freed of what they share, and charted.
//!
//! A healthy reading is off by the same amount each time, within its uncertainty: residuals as they stand are
//! no noise. So residual = zero + gain·head + noise is followed as recursive Bayesian regression, zero and gain
//! beginning at 0 with the reading's own uncertainty, the noise being that of the entry. What each entry adds to
//! what the earlier ones foretell, over the uncertainty of both, is independent with mean 0 and variance 1 for a
//! healthy tank: that is charted. (Harvey, Forecasting, Structural Time Series Models and the Kalman Filter,
//! 1989, 3.2: standardised innovations.)
//!
//! What always holds: nothing is learnt while a signal stands; one entry alone, however wild, is no signal.

use super::chart;
use crate::engine::checks::cusum::Cusum;
use crate::engine::checks::ewma::{self, Ewma};
use crate::engine::memory::DriftMemory;

/// The most that one residual counts for, in standard deviations: a mistyped entry is no drift.
const WILDEST: f64 = 4.0;
/// So many residuals are added that are as scattered as stated, before their own scatter counts.
const STATED: f64 = 10.0;
/// Fewer residuals than this say nothing of how they hang together.
const FEWEST_FOR_LAG: u32 = 20;
/// The most that one residual may be taken to carry over into the next.
const LARGEST_LAG: f64 = 0.8;
/// So many entries in line end a signal.
const IN_LINE: u32 = 2;
/// In line is within so many standard deviations.
pub const NEAR: f64 = 2.0;

/// One compared entry, as the chart needs it. Standard uncertainties, k = 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// Reading − entry.
    pub residual_m: f64,
    /// The level above the lower tap.
    pub head_m: f64,
    pub entry_sigma_m: f64,
    /// Of the reading, and what of it is a share of the head.
    pub reading_sigma_m: f64,
    pub gain_sigma: f64,
}

/// What one entry showed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Charted {
    /// Standard deviation of what the earlier entries foretell and this one.
    pub sigma_m: f64,
    /// The residual freed of what it shares with earlier ones, in standard deviations.
    pub z: f64,
    pub high: f64,
    pub low: f64,
    pub ewma: f64,
    pub ewma_limit: f64,
    /// A signal stands: towards high, or towards low.
    pub signal: Option<Side>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    High,
    Low,
}

impl DriftMemory {
    /// Takes one more entry; `h`: the decision interval.
    pub fn take(&mut self, one: &Residual, h: f64) -> Charted {
        if self.entries == 0 {
            self.begin(one);
        }
        self.entries += 1;
        let head = one.head_m;
        let noise = one.entry_sigma_m.powi(2) * self.scatter();
        // S = H·P·Hᵀ + R, with H = (1, head)
        let (p_zero, p_gain) = (
            self.p_zero + head * self.p_cross,
            self.p_cross + head * self.p_gain,
        );
        let variance = p_zero + head * p_gain + noise;
        let sigma_m = variance.sqrt();
        let raw = (one.residual_m - self.foretold(head)) / sigma_m;
        let tamed = raw.clamp(-WILDEST, WILDEST);
        let lag = self.lag();
        let z = match self.last {
            Some(last) => (tamed - lag * last) / (1.0 - lag * lag).sqrt(),
            None => tamed,
        };
        let z = z.clamp(-WILDEST, WILDEST);
        let mut cusum = Cusum {
            high: self.high,
            low: self.low,
        };
        cusum.take(z, chart::K);
        self.count_runs(&cusum);
        (self.high, self.low) = (cusum.high, cusum.low);
        self.ewma = Ewma::new(chart::LAMBDA, self.ewma).take(z);
        self.settle(raw, h);
        if self.signal.is_none() {
            // Only what is quiet tells what is normal.
            if self.high.max(self.low) < h / 2.0 {
                self.learn(tamed);
            }
            let step_m = tamed * sigma_m;
            self.zero_m += p_zero / variance * step_m;
            self.gain += p_gain / variance * step_m;
            self.p_zero -= p_zero * p_zero / variance;
            self.p_cross -= p_zero * p_gain / variance;
            self.p_gain -= p_gain * p_gain / variance;
        }
        self.last = Some(tamed);
        Charted {
            sigma_m,
            z,
            high: self.high,
            low: self.low,
            ewma: self.ewma,
            ewma_limit: ewma::limit(chart::LAMBDA, chart::L, self.entries),
            signal: self.side(),
        }
    }

    /// What a residual is expected to be at this head.
    pub fn foretold(&self, head_m: f64) -> f64 {
        self.zero_m + self.gain * head_m
    }

    pub fn side(&self) -> Option<Side> {
        let high = self.signal?;
        Some(if high { Side::High } else { Side::Low })
    }

    /// How many of the last entries lead away from what was normal, on the side of the signal.
    pub fn run(&self) -> u32 {
        match self.side() {
            Some(Side::High) => self.run_high,
            Some(Side::Low) => self.run_low,
            None => 0,
        }
    }

    /// The same before the present run.
    pub fn normal(&self, head_m: f64) -> f64 {
        self.normal_zero_m + self.normal_gain * head_m
    }

    fn begin(&mut self, one: &Residual) {
        let of_head = one.gain_sigma * one.head_m;
        let rest = (one.reading_sigma_m.powi(2) - of_head * of_head).max(0.0);
        // A glass, too, may be off by the same amount each time.
        self.p_zero = rest + one.entry_sigma_m.powi(2);
        self.p_gain = one.gain_sigma.powi(2);
    }

    /// How much more the residuals scatter than is stated; never less.
    fn scatter(&self) -> f64 {
        ((STATED + self.squares) / (STATED + f64::from(self.learnt))).max(1.0)
    }

    /// How much of one residual carries over into the next.
    fn lag(&self) -> f64 {
        if self.learnt < FEWEST_FOR_LAG {
            return 0.0;
        }
        (self.products / (STATED + self.squares)).clamp(0.0, LARGEST_LAG)
    }

    fn learn(&mut self, z: f64) {
        self.learnt += 1;
        self.squares += z * z;
        self.products += z * self.last.unwrap_or(0.0);
    }

    fn count_runs(&mut self, cusum: &Cusum) {
        if self.signal.is_some() {
            self.run_high += u32::from(self.signal == Some(true));
            self.run_low += u32::from(self.signal == Some(false));
            return;
        }
        let count = |run: u32, sum: f64| if sum > 0.0 { run + 1 } else { 0 };
        self.run_high = count(self.run_high, cusum.high);
        self.run_low = count(self.run_low, cusum.low);
        if self.high.max(self.low) < 1.0 {
            (self.normal_zero_m, self.normal_gain) = (self.zero_m, self.gain);
            self.normal_of = self.entries - 1;
        }
    }

    fn settle(&mut self, raw: f64, h: f64) {
        if self.signal.is_none() {
            if self.high > h || self.low > h {
                self.signal = Some(self.high > self.low);
                (self.in_line, self.confirmed) = (0, 0);
            }
            return;
        }
        let off = if self.signal == Some(true) { raw } else { -raw };
        self.confirmed += u32::from(off > NEAR);
        self.in_line = if raw.abs() <= NEAR {
            self.in_line + 1
        } else {
            0
        };
        if self.in_line >= IN_LINE {
            self.signal = None;
            self.confirmed = 0;
            (self.high, self.low) = (0.0, 0.0);
            (self.run_high, self.run_low) = (0, 0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const H: f64 = 8.0;

    fn at(residual_m: f64) -> Residual {
        Residual {
            residual_m,
            head_m: 2.0,
            entry_sigma_m: 0.005,
            reading_sigma_m: 0.010,
            gain_sigma: 0.001,
        }
    }

    /// Scatter without chance: ± the same by turns.
    fn healthy(drift: &mut DriftMemory, entries: usize, bias_m: f64) {
        for entry in 0..entries {
            let noise_m = if entry % 2 == 0 { 0.004 } else { -0.004 };
            drift.take(&at(bias_m + noise_m), H);
        }
    }

    #[test]
    fn a_constant_error_within_the_uncertainty_is_no_drift() {
        let mut drift = DriftMemory::default();
        healthy(&mut drift, 400, 0.012);
        assert_eq!(drift.side(), None);
        assert!((drift.foretold(2.0) - 0.012).abs() < 0.001);
    }

    #[test]
    fn a_shift_is_found_in_three_entries_and_one_wild_entry_is_not() {
        let mut drift = DriftMemory::default();
        healthy(&mut drift, 30, -0.005);
        drift.take(&at(1.0), H);
        assert_eq!(drift.side(), None, "one mistyped entry");
        healthy(&mut drift, 20, -0.005);
        for entry in 1..=3 {
            let charted = drift.take(&at(0.095), H);
            let expected = (entry == 3).then_some(Side::High);
            assert_eq!(charted.signal, expected, "{entry}: {charted:?}");
        }
        assert_eq!(drift.run(), 3);
        assert!((drift.normal(2.0) + 0.005).abs() < 0.002, "{drift:?}");
        drift.take(&at(-0.005), H);
        assert_eq!(drift.side(), Some(Side::High));
        drift.take(&at(-0.004), H);
        assert_eq!(drift.side(), None, "back for two entries");
    }

    #[test]
    fn what_was_wrong_from_the_first_entry_is_found_too() {
        let mut drift = DriftMemory::default();
        for _ in 0..3 {
            drift.take(&at(-0.106), H);
        }
        assert_eq!(drift.side(), Some(Side::Low));
    }

    #[test]
    fn a_slow_drift_is_not_learnt_as_normal() {
        let mut drift = DriftMemory::default();
        healthy(&mut drift, 60, 0.0);
        let found = (1..200).find(|entry| {
            let residual = at(0.001 * f64::from(*entry));
            drift.take(&residual, H).signal.is_some()
        });
        assert!(found.is_some_and(|entry| entry < 25), "{found:?}");
    }
}
