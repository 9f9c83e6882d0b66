//! How the level moves, for what is shown and for what is foretold.
//!
//! What is shown is the rate of the last minute. A forecast goes by ten minutes, which see a movement some thirty
//! times slower; and by the last minute alone from where the flow has changed until the longer window has
//! filled again. Where the two are apart by more than chance and less than a change, the one that reaches a limit sooner is
//! believed.

use super::rate::{Rate, RateWindow};
use std::time::Duration;

/// Rates so many standard errors apart are no longer the same, and are those of another flow. At each close of a
/// long bucket, chance alone makes a change of the latter once in some 16,000 (of normal errors).
const IN_DOUBT: f64 = 2.0;
const CHANGED: f64 = 4.0;
/// Rates this near to each other, as a share, are the same: a vessel's sides bend.
const ALIKE: f64 = 0.1;

/// Memory of one tank's movement; 6 kB.
#[derive(Clone, Debug)]
pub struct Trend {
    recent: RateWindow,
    long: RateWindow,
    ahead: [Option<Rate>; 2],
}

impl Trend {
    pub fn new(poll_every: Duration) -> Self {
        Self {
            recent: RateWindow::new(poll_every),
            long: RateWindow::long(poll_every),
            ahead: [None; 2],
        }
    }

    pub fn add(&mut self, up: Duration, value: f64) {
        let recent_is_new = self.recent.add(up, value);
        let long_is_new = self.long.add(up, value);
        if recent_is_new || long_is_new {
            if self.apart() > CHANGED {
                // What is in it belongs to another flow.
                self.long.clear();
            }
            self.ahead = self.look_ahead();
        }
    }

    /// Forgets everything: what came before does not belong to what comes.
    pub fn clear(&mut self) {
        self.recent.clear();
        self.long.clear();
        self.ahead = [None; 2];
    }

    /// The rate of the last minute.
    pub fn rate(&self) -> Option<Rate> {
        self.recent.rate()
    }

    /// What a forecast goes by; of two, whichever reaches a limit sooner.
    pub fn ahead(&self) -> [Option<Rate>; 2] {
        self.ahead
    }

    fn look_ahead(&self) -> [Option<Rate>; 2] {
        match (self.long.rate(), self.recent.rate()) {
            (Some(long), recent) if self.apart() <= IN_DOUBT => [
                Some(long),
                // The longer one shows no direction yet.
                recent.filter(|recent| !long.has_direction() && recent.has_direction()),
            ],
            both => both.into(),
        }
    }

    /// In standard errors of both; 0 where one of them is not known.
    fn apart(&self) -> f64 {
        let Some((recent, long)) = self.recent.rate().zip(self.long.rate()) else {
            return 0.0;
        };
        let apart = (recent.per_second - long.per_second).abs();
        let largest = recent.per_second.abs().max(long.per_second.abs());
        if apart <= ALIKE * largest {
            return 0.0;
        }
        // Of a dozen points a standard error is a rough guess. White noise makes it go as T^(−3/2), so the longer window
        // tells it too.
        let longer = (self.long.span_s() / self.recent.span_s()).powf(1.5);
        let of_recent = recent.standard_error.max(long.standard_error * longer);
        apart / of_recent.hypot(long.standard_error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2 mm of noise in steps that add up to nothing, and a level by the second.
    fn run(trend: &mut Trend, from_s: u64, to_s: u64, level: impl Fn(f64) -> f64) {
        for second in from_s..to_s {
            let mut state = second.wrapping_mul(0x9e37_79b9_7f4a_7c15);
            state ^= state >> 29;
            state = state.wrapping_mul(0xbf58_476d_1ce4_e5b9);
            let uniform = (state >> 11) as f64 / (1_u64 << 53) as f64;
            let noise = 0.002 * (uniform - 0.5) * 12.0_f64.sqrt();
            trend.add(Duration::from_secs(second), level(second as f64) + noise);
        }
    }

    fn trend() -> Trend {
        Trend::new(Duration::from_secs(1))
    }

    fn told(trend: &Trend) -> Option<f64> {
        let mut ahead = trend.ahead().into_iter().flatten();
        let told = ahead.find(|rate| rate.has_direction());
        told.map(|rate| rate.per_second)
    }

    /// 0.01 mm/s, 36 mm an hour: the last minute alone can't tell it from noise.
    #[test]
    fn ten_minutes_see_what_one_minute_does_not() {
        let mut trend = trend();
        run(&mut trend, 0, 900, |second| 2.0 + 1e-5 * second);
        let told = told(&trend).expect("it is told");
        assert!((told - 1e-5).abs() < 2e-6, "{told}");
    }

    #[test]
    fn a_fill_that_begins_is_told_as_soon_as_the_last_minute_shows_it() {
        let mut trend = trend();
        run(&mut trend, 0, 1800, |_| 2.0);
        assert_eq!(told(&trend), None);
        let fill = |second: f64| 2.0 + 0.001 * (second - 1800.0);
        let mut after = None;
        for second in 1800..1900 {
            run(&mut trend, second, second + 1, fill);
            let near = told(&trend).is_some_and(|rate| (0.0007..0.0013).contains(&rate));
            after = after.or(near.then_some(second - 1800));
        }
        assert!(after.is_some_and(|seconds| seconds <= 60), "{after:?}");
        // And it stays so while the longer window fills again.
        for second in 1900..3000 {
            run(&mut trend, second, second + 1, fill);
            let rate = told(&trend).expect("it rises");
            assert!((rate - 0.001).abs() < 0.0003, "{second}: {rate}");
        }
    }

    #[test]
    fn a_fill_that_ends_is_no_longer_foretold() {
        let mut trend = trend();
        run(&mut trend, 0, 1800, |second| 0.001 * second);
        run(&mut trend, 1800, 1900, |_| 1.8);
        assert_eq!(told(&trend), None);
    }

    #[test]
    fn a_level_at_rest_is_going_nowhere() {
        let mut trend = trend();
        let mut seconds_told = 0;
        for second in 0..20_000 {
            run(&mut trend, second, second + 1, |_| 2.0);
            seconds_told += u32::from(told(&trend).is_some());
        }
        // Three standard errors are not never; what is told then is far away.
        assert!(seconds_told < 2000, "{seconds_told}");
    }
}
