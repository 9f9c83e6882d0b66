//! Two hookups of one tank that share no transmitter: whether their levels are further apart than both can be
//! wrong, and whether they drift apart.
//!
//! Means of an hour are compared. Apart: by more than twice the combined standard uncertainty, three hours
//! in a row (possible), by more than three times, six hours in a row (probable). Drift: a mean, a scatter and how an
//! hour hangs on the one before are learnt of three days (more where hours hang together), and of each later hour that is quiet; what an hour brings
//! anew, over the uncertainty of what was foretold and of the scatter itself, is summed (CUSUM, k = 0.5, h = 12: a
//! false one in some 60 years). One hour alone, however wild, is no drift. A drift alone is possible, and stands until
//! twelve hours in a row are as they were before. Work on one of the transmitters begins a new mean. What was learnt,
//! and the sums, outlive a restart.

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
/// And worth so many that do not hang together: n·(1 − r)/(1 + r) of them.
const WORTH: f64 = 24.0;
/// The most that one hour counts for, in standard deviations.
const WILDEST: f64 = 4.0;
/// Below this share of h the sums are quiet: what comes is learnt from.
const QUIET: f64 = 0.5;
/// So many hours in line end a drift; in line is within so many standard deviations.
const IN_LINE: (u8, f64) = (12, 2.0);
const K: f64 = 0.5;
const H: f64 = 12.0;
/// The least scatter of an hour's mean, m: below it lies rounding. Common practice, no source.
const LEAST_M: f64 = 2e-4;

/// Hours between two times that what is learnt is stored.
const STORED_EVERY: u32 = 6;

/// Memory of a pair; under 200 bytes.
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
    /// A drift stands, and so many hours in a row were in line again.
    drifts: bool,
    in_line: u8,
    /// Hours that are not stored yet.
    unsaved: u32,
}

#[derive(Clone, Copy, Debug)]
struct Hour {
    difference_m: f64,
    combined_m: f64,
}

/// Running sums of the quiet hours.
#[derive(Clone, Copy, Debug, Default)]
struct Learnt {
    count: u32,
    /// Hours that the mean is of: those since the last work on a transmitter.
    mean_of: u32,
    mean: f64,
    squares: f64,
    products: f64,
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
        if up.saturating_sub(begun) >= 2 * HOUR {
            // Of the hours between nothing is known.
            self.last = None;
        }
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
        self.look_for_drift(hour.difference_m);
        self.last = Some(hour);
        self.unsaved += 1;
    }

    fn look_for_drift(&mut self, difference_m: f64) {
        let is_learnt = self.learnt.is_enough();
        if let Some(last) = self
            .last
            .filter(|_| is_learnt && self.learnt.worth() >= 1.0)
        {
            let fresh = self.learnt.innovation(last.difference_m, difference_m);
            self.cusum.take(fresh.clamp(-WILDEST, WILDEST), K);
        }
        if self.drifts {
            let is_in_line = self.learnt.off(difference_m).abs() <= IN_LINE.1;
            self.in_line = if is_in_line { self.in_line + 1 } else { 0 };
            if self.in_line >= IN_LINE.0 {
                (self.drifts, self.in_line, self.cusum) = (false, 0, Cusum::default());
            }
        } else if self.cusum.largest() > H {
            self.drifts = true;
        } else if self.cusum.largest() < QUIET * H {
            // Only what is quiet tells what is normal.
            let before_m = self.last.map(|last| last.difference_m);
            self.learnt.take(before_m, difference_m);
        }
    }

    /// Somebody works on one of the transmitters: what they were apart by says nothing of what they will be, how much
    /// they scatter does.
    pub fn renew(&mut self) {
        let knew = self.learnt.mean_of > 0;
        *self = Self {
            learnt: Learnt {
                mean_of: 0,
                ..self.learnt
            },
            unsaved: if knew { STORED_EVERY } else { self.unsaved },
            ..Self::default()
        };
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
            mean_of: Some(self.learnt.mean_of),
            mean_m: self.learnt.mean,
            squares: self.learnt.squares,
            products: self.learnt.products,
            high: self.cusum.high,
            low: self.cusum.low,
            drifts: self.drifts,
        }
    }

    /// The first hour after a restart says nothing of the one before it.
    pub fn restored(kept: &PairMemory) -> Self {
        Self {
            learnt: Learnt {
                count: kept.learnt,
                mean_of: kept.mean_of.unwrap_or(kept.learnt),
                mean: kept.mean_m,
                squares: kept.squares,
                products: kept.products,
            },
            cusum: Cusum {
                high: kept.high,
                low: kept.low,
            },
            drifts: kept.drifts,
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
        if self.drifts {
            return Pair::Drifts(format!(
                "{:+.1} mm apart, {:+.1} mm in the mean of {} quiet hours before; what is new added up to more than {H:.0} standard deviations, which comes by chance in {:.0} years",
                hour.difference_m * 1e3,
                self.learnt.mean * 1e3,
                self.learnt.mean_of,
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
        let drift = if !self.learnt.is_enough() {
            format!(
                "; of drift {} of {} hours are learnt",
                self.learnt.count,
                self.learnt.needed()
            )
        } else {
            // One σ more than k for h/1 hours.
            let scatter_m = self.learnt.scatter_at_most() / (1.0 - self.learnt.hangs_on());
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
    fn take(&mut self, before: Option<f64>, value: f64) {
        if self.mean_of == 0 {
            self.mean = value;
        }
        self.count += 1;
        self.mean_of += 1;
        let off = value - self.mean;
        self.mean += off / f64::from(self.mean_of);
        self.squares += off * (value - self.mean);
        if let Some(before) = before {
            self.products += (value - self.mean) * (before - self.mean);
        }
    }

    fn needed(&self) -> u32 {
        let r = self.hangs_on();
        LEARNT.max((WORTH * (1.0 + r) / (1.0 - r)).ceil() as u32)
    }

    fn is_enough(&self) -> bool {
        self.count >= LEARNT && self.count >= self.needed()
    }

    /// The correlation r of an hour with the one before; what n of them show is too small by (1 + 3r)/n (Kendall, Note
    /// on bias in the estimation of autocorrelation, Biometrika 41, 1954; from memory). One standard error more counts.
    fn hangs_on(&self) -> f64 {
        let shown = (self.products / self.squares.max(f64::MIN_POSITIVE)).clamp(-1.0, 1.0);
        let count = f64::from(self.count.max(1));
        let error = ((1.0 - shown * shown) / count).sqrt();
        (shown + (1.0 + 3.0 * shown) / count + error).clamp(0.0, 0.9)
    }

    /// Of what an hour brings anew.
    fn scatter(&self) -> f64 {
        let variance = self.squares / f64::from(self.count.max(2) - 1);
        (variance * (1.0 - self.hangs_on().powi(2)))
            .sqrt()
            .max(LEAST_M)
    }

    /// How many hours that do not hang together the mean is worth.
    fn worth(&self) -> f64 {
        let r = self.hangs_on();
        f64::from(self.mean_of) * (1.0 - r) / (1.0 + r)
    }

    /// The mean is as uncertain as its hours are few: the variance of what is foretold is that of an hour and a share of
    /// it. So is the scatter, by a share of 1/√(2n); it counts one such more.
    fn innovation(&self, before: f64, value: f64) -> f64 {
        let expected = self.mean + self.hangs_on() * (before - self.mean);
        (value - expected) / (self.scatter_at_most() * (1.0 + 1.0 / self.worth()).sqrt())
    }

    /// How far an hour is from the mean, in standard deviations of hours.
    fn off(&self, value: f64) -> f64 {
        let of_hours = self.scatter_at_most() / (1.0 - self.hangs_on().powi(2)).sqrt();
        (value - self.mean) / of_hours
    }

    fn scatter_at_most(&self) -> f64 {
        self.scatter() * (1.0 + 1.0 / (2.0 * f64::from(self.count)).sqrt())
    }
}
