//! A dry low leg that an overfill has flooded: the tank then reads empty, the most dangerous error of all.
//!
//! If the level was near the upper tap and then falls further than the largest draw can make it, the leg has filled:
//! the level is at least the upper tap until a person confirms that the leg is drained. Where it falls further than
//! what is known to run, half as much again for what pumps and meters are off, the leg is suspected: a flow may be known
//! wrongly, so the level is uncertain, not gone, and may be above what it reads. After a start,
//! "at or below the tap" means "empty, or low leg flooded" until a level was seen between the taps, and for twelve hours after
//! one near the upper tap: a leg that fills slowly looks like a tank that is drawn. A flooded leg, and
//! a level that was near the upper tap, are remembered over a restart.

use crate::engine::Now;
use crate::engine::memory::LowLegMemory;
use std::time::Duration;

/// Share of the span between the taps that counts as near the upper one, where the reading's own
/// uncertainty is not larger.
const NEAR: f64 = 0.03;
/// How long after a level near the upper tap a fall is judged, and how long that is remembered.
const REMEMBERED: Duration = Duration::from_secs(3600);
const SUSPECTED: Duration = Duration::from_secs(12 * 3600);
/// Where no largest draw is known: the whole span between the taps in this time.
/// Common practice, no source.
const EMPTIED_IN_S: f64 = 120.0;

/// Of a known draw: a pump's rate is stated, not measured. Common practice, no source.
const DRAWN: f64 = 1.5;
/// A slower fall than the whole span between the taps in this time may be a leak, or an outlet that nobody named:
/// legs fill faster. Common practice, no source.
const FILLED_IN_S: f64 = 4.0 * 3600.0;

/// What ran between two samples only is not seen: its fall must be below this share of what counts as near. Common
/// practice, no source.
const UNSEEN: f64 = 0.1;

/// How many samples in a row must show the fall: one wild sample floods no leg. Common practice, no source.
const SAMPLES: u8 = 3;

/// A level that stays near the upper tap is kept so often.
const KEPT_EVERY: Duration = Duration::from_secs(60);

/// What the watch knows of the leg.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Leg {
    /// No level between the taps was seen since the start.
    #[default]
    Unproven,
    Dry,
    Suspected,
    Flooded,
}

/// What a sample showed of the leg for the first time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LegChange {
    Suspected,
    Flooded,
}

/// The taps and flows that the watch goes by, in metres and m/s of level.
#[derive(Clone, Copy, Debug)]
pub struct LegBounds {
    pub tap_m: f64,
    pub upper_tap_m: f64,
    pub uncertainty_m: f64,
    /// The fastest that a draw lowers the level.
    pub fastest_fall_m_s: Option<f64>,
    /// What is known to be drawn now.
    pub drawn: Option<Drawn>,
}

/// A draw that is known.
#[derive(Clone, Copy, Debug)]
pub struct Drawn {
    /// How fast it lowers the level.
    pub m_s: f64,
    /// How old what says it may be.
    pub read_every: Duration,
}

/// A level near the upper tap.
#[derive(Clone, Copy, Debug)]
struct Near {
    /// From the start (before it, where it is remembered).
    at_s: f64,
    /// What it was solved to.
    level_m: f64,
    /// By how much it can have been drawn since, at most and by what is known, and until when that is counted.
    fastest_m: f64,
    drawn_m: f64,
    counted_s: f64,
}

#[derive(Clone, Copy, Debug, Default)]
pub struct LegWatch {
    leg: Leg,
    /// When the level was last near the upper tap.
    near: Option<Near>,
    /// What was known to be drawn at the sample before.
    drawn: Option<Drawn>,
    falls: u8,
    far_falls: u8,
    kept: Option<LowLegMemory>,
}

impl LegWatch {
    pub fn leg(&self) -> Leg {
        self.leg
    }

    /// At the tap nobody can tell empty from flooded: no level between the taps was seen, or one near the upper tap within
    /// twelve hours. A leg that fills slowly falls through all levels between.
    pub fn may_be_flooded(&self) -> bool {
        self.leg == Leg::Unproven || self.near.is_some()
    }

    /// Takes a solved level.
    pub fn take(&mut self, up: Duration, solved_m: f64, bounds: &LegBounds) -> Option<LegChange> {
        if self.leg == Leg::Flooded {
            return None;
        }
        let span_m = bounds.upper_tap_m - bounds.tap_m;
        let near_m = bounds.uncertainty_m.max(NEAR * span_m);
        let up_s = up.as_secs_f64();
        let drawn_before = std::mem::replace(&mut self.drawn, bounds.drawn);
        if solved_m >= bounds.upper_tap_m - near_m {
            self.near = Some(Near::at(up_s, solved_m));
            (self.falls, self.far_falls) = (0, 0);
            self.leg = Leg::Dry;
            return None;
        }
        if solved_m > bounds.tap_m + near_m && self.leg == Leg::Unproven {
            self.leg = Leg::Dry;
        }
        self.near = self
            .near
            .filter(|near| up_s - near.at_s <= SUSPECTED.as_secs_f64());
        let Some(near) = &mut self.near else {
            if self.leg == Leg::Suspected {
                self.leg = Leg::Dry;
            }
            return None;
        };
        near.count(up_s, bounds, drawn_before, near_m);
        let fell_m = near.level_m - solved_m - near_m;
        let is_judged = up_s - near.at_s <= REMEMBERED.as_secs_f64();
        let count = |falls: u8, beyond_m: f64| match is_judged && fell_m > beyond_m {
            true => falls.saturating_add(1),
            false => 0,
        };
        self.falls = count(self.falls, near.drawn_m);
        self.far_falls = count(self.far_falls, near.fastest_m);
        if self.far_falls == SAMPLES {
            self.leg = Leg::Flooded;
            self.near = None;
            return Some(LegChange::Flooded);
        }
        let begins = self.falls >= SAMPLES && self.leg != Leg::Suspected;
        begins.then(|| {
            self.leg = Leg::Suspected;
            LegChange::Suspected
        })
    }

    /// What is to be kept from now on, where that is something else than before; nothing of a dry leg.
    pub fn to_keep(&mut self, now: Now) -> Option<Option<LowLegMemory>> {
        let flooded = self.leg == Leg::Flooded;
        let near = self.near.filter(|_| !flooded).map(|near| {
            let ago = Duration::try_from_secs_f64(now.up.as_secs_f64() - near.at_s);
            (now.utc - ago.unwrap_or_default(), near.level_m)
        });
        let suspected = self.leg == Leg::Suspected;
        let wanted = (flooded || near.is_some()).then_some(LowLegMemory {
            flooded,
            suspected,
            near,
        });
        let is_as_kept = match (&self.kept, &wanted) {
            (None, None) => true,
            (Some(kept), Some(wanted)) => {
                let at = |memory: &LowLegMemory| memory.near.map(|(at, _)| at);
                let apart = at(kept).zip(at(wanted)).is_some_and(|(kept, wanted)| {
                    wanted.duration_since(kept).unsigned_abs() >= KEPT_EVERY
                });
                kept.flooded == wanted.flooded && kept.suspected == wanted.suspected && !apart
            }
            _ => false,
        };
        if is_as_kept {
            return None;
        }
        self.kept = wanted;
        Some(wanted)
    }

    /// As it was before a restart.
    pub fn restored(memory: &LowLegMemory, now: Now) -> Self {
        let near = memory.near.map(|(at, level_m)| {
            // A wall clock that was set back since makes it no younger than now.
            let ago_s = now.utc.duration_since(at).as_secs_f64().max(0.0);
            Near::at(now.up.as_secs_f64() - ago_s, level_m)
        });
        Self {
            leg: match (memory.flooded, memory.suspected) {
                (true, _) => Leg::Flooded,
                (false, true) => Leg::Suspected,
                (false, false) => Leg::Unproven,
            },
            near,
            kept: Some(*memory),
            ..Self::default()
        }
    }

    /// Levels from now on are not comparable with those before: a step between them is no fall.
    pub fn forget_levels(&mut self) {
        (self.near, self.falls, self.far_falls) = (None, 0, 0);
        if self.leg == Leg::Suspected {
            self.leg = Leg::Dry;
        }
    }

    /// A person has drained the leg. False where it was not held to be flooded, nor suspected.
    pub fn drained(&mut self) -> bool {
        let was = matches!(self.leg, Leg::Flooded | Leg::Suspected);
        if was {
            *self = Self {
                leg: Leg::Dry,
                kept: self.kept,
                ..Self::default()
            };
        }
        was
    }
}

impl Near {
    fn at(at_s: f64, level_m: f64) -> Self {
        Self {
            at_s,
            level_m,
            fastest_m: 0.0,
            drawn_m: 0.0,
            counted_s: at_s,
        }
    }

    /// Counts what can have been drawn since the sample before.
    fn count(&mut self, up_s: f64, bounds: &LegBounds, before: Option<Drawn>, near_m: f64) {
        let seconds = up_s - std::mem::replace(&mut self.counted_s, up_s);
        let span_m = bounds.upper_tap_m - bounds.tap_m;
        let fastest = bounds.fastest_fall_m_s.unwrap_or(span_m / EMPTIED_IN_S);
        let known = before.zip(bounds.drawn).filter(|(_, drawn)| {
            let unseen_s = seconds.max(drawn.read_every.as_secs_f64());
            fastest * unseen_s <= UNSEEN * near_m
        });
        let drawn = known.map_or(fastest, |(before, now)| {
            (DRAWN * before.m_s.max(now.m_s)).max(span_m / FILLED_IN_S)
        });
        self.fastest_m += fastest * seconds;
        self.drawn_m += drawn * seconds;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOUNDS: LegBounds = LegBounds {
        tap_m: 0.3,
        upper_tap_m: 4.3,
        uncertainty_m: 0.01,
        fastest_fall_m_s: Some(0.002),
        drawn: None,
    };

    fn run(levels: &[f64]) -> Leg {
        let mut watch = LegWatch::default();
        for (second, level) in levels.iter().enumerate() {
            watch.take(Duration::from_secs(second as u64), *level, &BOUNDS);
        }
        watch.leg()
    }

    #[test]
    fn an_empty_reading_after_a_start_proves_nothing() {
        assert_eq!(run(&[0.3, 0.3]), Leg::Unproven);
        assert_eq!(run(&[0.3, 2.0, 0.3]), Leg::Dry);
    }

    #[test]
    fn near_the_upper_tap_and_then_empty_is_a_flooded_leg() {
        assert_eq!(run(&[4.2, 4.25, 0.3, 0.3, 0.3]), Leg::Flooded);
    }

    #[test]
    fn one_wild_sample_floods_no_leg() {
        assert_eq!(run(&[4.2, 4.25, 0.3, 4.25, 4.24, 4.24]), Leg::Dry);
    }

    #[test]
    fn a_draw_that_the_pump_can_make_is_a_draw() {
        let falling: Vec<f64> = (0..1500)
            .map(|second| 4.25 - 0.002 * f64::from(second))
            .collect();
        assert_eq!(run(&falling), Leg::Dry);
    }

    /// A fall of so much a second, with a draw that is known in one way or another.
    fn falls(fall_m_s: f64, seconds: u64, drawn: impl Fn(u64) -> Option<Drawn>) -> Leg {
        let mut watch = LegWatch::default();
        for second in 0..seconds {
            let bounds = LegBounds {
                drawn: drawn(second),
                ..BOUNDS
            };
            let level_m = 4.25 - fall_m_s * second as f64;
            watch.take(Duration::from_secs(second), level_m, &bounds);
        }
        watch.leg()
    }

    fn known(m_s: f64, read_every_s: u64) -> Option<Drawn> {
        let read_every = Duration::from_secs(read_every_s);
        Some(Drawn { m_s, read_every })
    }

    #[test]
    fn a_fall_beyond_the_known_draw_is_suspected_only() {
        assert_eq!(falls(0.001, 600, |_| known(0.0, 1)), Leg::Suspected);
        // The meter is dead at zero: no level is taken away.
        assert_eq!(falls(0.002, 600, |_| known(0.0, 1)), Leg::Suspected);
        assert_eq!(falls(0.001, 600, |_| known(0.0008, 1)), Leg::Dry);
        assert_eq!(falls(0.001, 600, |_| None), Leg::Dry);
    }

    #[test]
    fn what_is_read_seldom_knows_no_draw() {
        // It runs, and its contact says so a minute later.
        let late = |second| known(if second < 60 { 0.0 } else { 0.002 }, 60);
        assert_eq!(falls(0.002, 600, late), Leg::Dry);
        assert_eq!(falls(0.002, 600, |_| known(0.0, 60)), Leg::Dry);
    }

    #[test]
    fn a_person_says_that_it_is_drained() {
        let mut watch = LegWatch::default();
        watch.take(Duration::from_secs(0), 4.25, &BOUNDS);
        let mut at = |second| watch.take(Duration::from_secs(second), 0.3, &BOUNDS);
        assert_eq!(
            [at(1), at(2), at(3)],
            [None, None, Some(LegChange::Flooded)]
        );
        assert!(watch.drained());
        assert_eq!(watch.leg(), Leg::Dry);
        assert!(!watch.drained());
    }
}
