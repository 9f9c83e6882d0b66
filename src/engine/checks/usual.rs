//! What a tank at rest usually gains or loses at an hour of the day: the last seven days that it rested then.
//!
//! Warmth that the transmitter's stated effect does not cover, a leg in the sun, a pump's seal that is flushed each
//! night come again at the same hour. An hour counts from three days on, as their median with the scatter about it. A
//! loss that has gone on for days is usual too: what is usual is told beside a movement and keeps it from becoming
//! probable, it never takes one away. Hours are those of UTC.

use crate::engine::memory::RestMemory;
use crate::engine::rate::{Ordered, median};

const HOURS: usize = 24;
/// Days remembered of each hour, and how many make an hour usual.
const DAYS: usize = 7;
const FEWEST: usize = 3;
/// Seconds of an hour that must have been at rest.
const LEAST_S: f64 = 2700.0;

/// Memory of a tank; 0.8 kB.
#[derive(Clone, Debug, Default)]
pub struct Usual {
    hours: [Hour; HOURS],
    open: Open,
    unsaved: bool,
}

/// The last days' slopes of one hour, kg/s, the newest last.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Hour {
    rates: [f32; DAYS],
    count: u8,
}

/// The hour that is under way: the sums of a line through its masses.
#[derive(Clone, Copy, Debug, Default)]
struct Open {
    hour: Option<u8>,
    begun_s: f64,
    last_s: f64,
    from_kg: f64,
    count: f64,
    t: f64,
    m: f64,
    tt: f64,
    tm: f64,
}

/// An hour at rest that is over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RestHour {
    pub hour: u8,
    pub kg_s: f64,
}

/// What an hour usually brings, kg/s, with its standard deviation from day to day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualRate {
    pub kg_s: f64,
    pub sd_kg_s: f64,
}

impl Usual {
    /// Takes a mass at rest; the hour that it ended, where that was at rest for long enough.
    pub fn take(&mut self, hour: u8, up_s: f64, mass_kg: f64) -> Option<RestHour> {
        let mut over = None;
        if self.open.hour != Some(hour) {
            over = self.open.closed();
            self.open = Open {
                hour: Some(hour),
                begun_s: up_s,
                from_kg: mass_kg,
                ..Open::default()
            };
        }
        self.open.take(up_s, mass_kg);
        over
    }

    /// It is not at rest any more.
    pub fn interrupt(&mut self) {
        self.open = Open::default();
    }

    pub fn learn(&mut self, over: RestHour) {
        if let Some(hour) = self.hours.get_mut(usize::from(over.hour)) {
            hour.rates.rotate_left(1);
            hour.rates[DAYS - 1] = over.kg_s as f32;
            hour.count = (hour.count + 1).min(DAYS as u8);
            self.unsaved = true;
        }
    }

    /// None before three days of that hour.
    pub fn at(&self, hour: u8) -> Option<UsualRate> {
        let hour = self.hours.get(usize::from(hour))?;
        let count = usize::from(hour.count);
        if count < FEWEST {
            return None;
        }
        let rates = hour.rates.map(f64::from);
        let known = &rates[DAYS - count..];
        let kg_s = median(&mut rates.map(Ordered::of)[DAYS - count..]);
        let squares: f64 = known.iter().map(|rate| (rate - kg_s).powi(2)).sum();
        Some(UsualRate {
            kg_s,
            sd_kg_s: (squares / (count - 1) as f64).sqrt(),
        })
    }

    /// How many hours of the day are known.
    pub fn known(&self) -> usize {
        let known = |hour: &&Hour| usize::from(hour.count) >= FEWEST;
        self.hours.iter().filter(known).count()
    }

    /// Another liquid: what was usual is void.
    pub fn forget(&mut self) {
        let knew = self.hours.iter().any(|hour| hour.count > 0);
        *self = Self {
            unsaved: knew || self.unsaved,
            ..Self::default()
        };
    }

    /// What is to be kept over a restart, where that has changed.
    pub fn to_keep(&mut self) -> Option<RestMemory> {
        std::mem::take(&mut self.unsaved).then(|| RestMemory {
            hours: self
                .hours
                .iter()
                .map(|hour| hour.rates[DAYS - usize::from(hour.count)..].to_vec())
                .collect(),
        })
    }

    pub fn restored(memory: &RestMemory) -> Self {
        let mut usual = Self::default();
        for (hour, kept) in usual.hours.iter_mut().zip(&memory.hours) {
            let newest = &kept[kept.len().saturating_sub(DAYS)..];
            hour.rates[DAYS - newest.len()..].copy_from_slice(newest);
            hour.count = newest.len() as u8;
        }
        usual
    }
}

impl Open {
    fn take(&mut self, up_s: f64, mass_kg: f64) {
        let (t, m) = (up_s - self.begun_s, mass_kg - self.from_kg);
        self.last_s = up_s;
        self.count += 1.0;
        self.t += t;
        self.m += m;
        self.tt += t * t;
        self.tm += t * m;
    }

    fn closed(&self) -> Option<RestHour> {
        let hour = self.hour?;
        let spread = self.count * self.tt - self.t * self.t;
        let long_enough = self.last_s - self.begun_s >= LEAST_S && spread > 0.0;
        long_enough.then(|| RestHour {
            hour,
            kg_s: (self.count * self.tm - self.t * self.m) / spread,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days of rest that lose at night, from 0 to 6 h, and gain back by day.
    fn rested(usual: &mut Usual, from_day: u64, days: u64, also_kg_s: f64) {
        let mut mass_kg = 10_000.0;
        for minute in from_day * 1440..(from_day + days) * 1440 {
            let hour = (minute / 60 % 24) as u8;
            let rate = if hour < 6 { -0.003 } else { 0.001 };
            mass_kg += 60.0 * (rate + also_kg_s);
            if let Some(over) = usual.take(hour, 60.0 * minute as f64, mass_kg) {
                usual.learn(over);
            }
        }
    }

    #[test]
    fn an_hour_is_usual_after_three_days_of_it() {
        let mut usual = Usual::default();
        rested(&mut usual, 0, 2, 0.0);
        assert_eq!((usual.at(3), usual.known()), (None, 0));
        rested(&mut usual, 2, 2, 0.0);
        let night = usual.at(3).expect("four days");
        assert!((night.kg_s + 0.003).abs() < 1e-5 && night.sd_kg_s < 1e-5);
        let day = usual.at(12).expect("three days");
        assert!((day.kg_s - 0.001).abs() < 1e-5);
        assert!(usual.known() >= 23);
    }

    #[test]
    fn what_was_usual_outlives_a_restart_and_no_other_liquid() {
        let mut usual = Usual::default();
        rested(&mut usual, 0, 9, 0.0);
        let kept = usual.to_keep().expect("it has learnt");
        assert_eq!(usual.to_keep(), None);
        let text = serde_json::to_string(&kept).expect("it can be written");
        let back = Usual::restored(&serde_json::from_str(&text).expect("it can be read"));
        assert_eq!(back.hours, usual.hours);
        usual.forget();
        assert_eq!(usual.known(), 0);
        let kept = usual.to_keep().expect("that it is void is kept");
        assert_eq!(Usual::restored(&kept).known(), 0);
    }

    #[test]
    fn an_hour_that_was_not_at_rest_says_nothing() {
        let mut usual = Usual::default();
        for day in 0..5 {
            for minute in 0..40 {
                let second = 60.0 * (1440 * day + minute) as f64;
                let over = usual.take(0, second, 100.0);
                assert_eq!(over, None);
            }
            usual.interrupt();
        }
    }
}
