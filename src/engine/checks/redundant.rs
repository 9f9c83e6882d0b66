//! Two hookups of one tank that share no transmitter: whether their levels are further apart than both can be
//! wrong, and whether they drift apart.
//!
//! Means of an hour are compared. Apart: by more than twice the combined standard uncertainty, three hours
//! in a row (possible), by more than three times, six hours in a row (probable). Drift: of three days a
//! mean, a scatter and how an hour hangs on the one before are learnt; what each later hour
//! brings anew is summed (CUSUM, k = 0.5, h = 12: a false one in some 60 years). A drift alone is possible. What
//! was learnt, and the sums, outlive a restart.

use super::cusum::{Cusum, run_length_both};
use super::finding::Confidence;
use crate::engine::memory::PairMemory;
use std::time::Duration;

const HOUR: Duration = Duration::from_secs(3600);
/// Readings that an hour must have.
const FEWEST: u32 = 12;
const POSSIBLE: (f64, u32) = (2.0, 3);
const PROBABLE: (f64, u32) = (3.0, 6);
const LEARNT: u32 = 72;
const K: f64 = 0.5;
const H: f64 = 12.0;
/// The least scatter of an hour's mean, m: below it lies rounding. Common practice, no source.
const LEAST_M: f64 = 2e-4;

/// Hours between two times that what is learnt is stored.
const STORED_EVERY: u32 = 6;

/// Memory of a pair; under 250 bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct PairWatch {
    begun: Option<Duration>,
    sum_m: f64,
    count: u32,
    /// Hours in a row that were as far apart.
    apart: u32,
    far_apart: u32,
    last: Option<Hour>,
    learnt: Learnt,
    cusum: Cusum,
    /// Hours that are not stored yet.
    unsaved: u32,
}

#[derive(Clone, Copy, Debug)]
struct Hour {
    difference_m: f64,
    combined_m: f64,
}

/// Running sums of the first three days.
#[derive(Clone, Copy, Debug, Default)]
struct Learnt {
    count: u32,
    mean: f64,
    squares: f64,
    products: f64,
    before: f64,
}

/// What a pair shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Pair {
    Agrees,
    Apart(Confidence, String),
    Drifts(String),
}

impl PairWatch {
    /// Takes the difference of two levels over a period; `combined_m`: its standard uncertainty.
    pub fn take(&mut self, up: Duration, difference_m: f64, combined_m: f64) {
        let begun = *self.begun.get_or_insert(up);
        if up.saturating_sub(begun) >= HOUR {
            if self.count >= FEWEST {
                self.close(Hour {
                    difference_m: self.sum_m / f64::from(self.count),
                    combined_m,
                });
            }
            (self.begun, self.sum_m, self.count) = (Some(up), 0.0, 0);
        }
        self.sum_m += difference_m;
        self.count += 1;
    }

    fn close(&mut self, hour: Hour) {
        let share = hour.difference_m.abs() / hour.combined_m;
        self.apart = if share > POSSIBLE.0 {
            self.apart + 1
        } else {
            0
        };
        self.far_apart = if share > PROBABLE.0 {
            self.far_apart + 1
        } else {
            0
        };
        if self.learnt.count < LEARNT {
            self.learnt.take(hour.difference_m);
        } else if let Some(last) = self.last {
            let fresh = self.learnt.innovation(last.difference_m, hour.difference_m);
            self.cusum.take(fresh, K);
        }
        self.last = Some(hour);
        self.unsaved += 1;
    }

    /// Whether enough has come to be kept over a restart.
    pub fn is_to_keep(&self) -> bool {
        self.unsaved >= STORED_EVERY
    }

    pub fn memory(&mut self, basis: u64) -> PairMemory {
        self.unsaved = 0;
        PairMemory {
            basis,
            learnt: self.learnt.count,
            mean_m: self.learnt.mean,
            squares: self.learnt.squares,
            products: self.learnt.products,
            before_m: self.learnt.before,
            high: self.cusum.high,
            low: self.cusum.low,
        }
    }

    /// The first hour after a restart says nothing of the one before it.
    pub fn restored(kept: &PairMemory) -> Self {
        Self {
            learnt: Learnt {
                count: kept.learnt,
                mean: kept.mean_m,
                squares: kept.squares,
                products: kept.products,
                before: kept.before_m,
            },
            cusum: Cusum {
                high: kept.high,
                low: kept.low,
            },
            ..Self::default()
        }
    }

    /// The levels are not comparable any more with what they were; that is to be kept too.
    pub fn forget(&mut self) {
        *self = Self {
            unsaved: STORED_EVERY,
            ..Self::default()
        };
    }

    pub fn shows(&self) -> Pair {
        let Some(hour) = self.last else {
            return Pair::Agrees;
        };
        let text = format!(
            "{:+.1} mm apart over the last hour, together they are good for {:.1} mm (k = 2)",
            hour.difference_m * 1e3,
            2.0 * hour.combined_m * 1e3
        );
        if self.far_apart >= PROBABLE.1 {
            return Pair::Apart(Confidence::Probable, text);
        }
        if self.apart >= POSSIBLE.1 {
            return Pair::Apart(Confidence::Possible, text);
        }
        if self.cusum.largest() > H {
            return Pair::Drifts(format!(
                "{:+.1} mm apart, {:+.1} mm in the first three days; the sum of what is new stands at {:.1}, {H:.0} comes by chance in {:.0} years",
                hour.difference_m * 1e3,
                self.learnt.mean * 1e3,
                self.cusum.largest(),
                run_length_both(K, H) / (24.0 * 365.25)
            ));
        }
        Pair::Agrees
    }

    /// What it could show, or why it can't yet.
    pub fn text(&self) -> Result<String, String> {
        let Some(hour) = self.last else {
            return Err("no hour of both levels yet".to_owned());
        };
        let drift = if self.learnt.count < LEARNT {
            format!(
                "; of drift {} of {LEARNT} hours are learnt",
                self.learnt.count
            )
        } else {
            // One σ more than k for h/1 hours.
            let scatter_m = self.learnt.scatter() / (1.0 - self.learnt.hangs_on());
            format!(
                "; a drift of {:.1} mm within a day",
                (K + H / 24.0) * scatter_m * 1e3
            )
        };
        Ok(format!(
            "{:.1} mm for three hours{drift}",
            POSSIBLE.0 * hour.combined_m * 1e3
        ))
    }
}

impl Learnt {
    fn take(&mut self, value: f64) {
        self.count += 1;
        let off = value - self.mean;
        self.mean += off / f64::from(self.count);
        self.squares += off * (value - self.mean);
        if self.count > 1 {
            self.products += (value - self.mean) * (self.before - self.mean);
        }
        self.before = value;
    }

    /// The correlation of an hour with the one before.
    fn hangs_on(&self) -> f64 {
        (self.products / self.squares.max(f64::MIN_POSITIVE)).clamp(0.0, 0.9)
    }

    /// Of what an hour brings anew.
    fn scatter(&self) -> f64 {
        let variance = self.squares / f64::from(self.count.max(2) - 1);
        (variance * (1.0 - self.hangs_on().powi(2)))
            .sqrt()
            .max(LEAST_M)
    }

    fn innovation(&self, before: f64, value: f64) -> f64 {
        let expected = self.mean + self.hangs_on() * (before - self.mean);
        (value - expected) / self.scatter()
    }
}
