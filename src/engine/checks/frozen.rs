//! Frozen: a transmitter whose number stays the same for longer than its own noise allows. No flow needs to
//! be known for it.
//!
//! A signal of noise σ, read in steps of q, repeats its number with a chance of at most
//! P = erf(q/(2√2·σ)), which it has while its mean stands in the middle of a step. Runs of n equal numbers
//! then begin about N·(1−P)·P^(n−1) times in N polls (Schilling, The Longest Run of Heads, College Math. J.
//! 21 (1990); from memory), so that fewer than one in N come at
//!
//! ```text
//!     n = 1 + ln(N·(1−P)) / −ln P         N: the polls of ten years
//! ```
//!
//! σ comes from second differences, which makes P too large, and so the test too slow rather than too
//! quick, where noise is correlated (damping): the next number of such a signal stays in its step with a
//! smaller chance than that P. Below σ = 0.2 q a healthy signal can stand for hours: the test is invalid and says
//! so. What was learnt counts for one to two days, the quietest of it decides. Never a verdict sooner than
//! twice the longest run that the signal has ended by itself. Devices refresh more slowly than they are
//! polled: where no run was shorter than k, n counts k at a time. What was learnt outlives a restart of the same site
//! file. A number that never moved since the start has told no noise: after a day of it it is possibly frozen.

use super::aged::{AGE, Largest};
use super::finding::{Ability, Confidence, Fault, Finding};
use super::quiet::{Heard, QuietBlock};
use crate::engine::Now;
use crate::engine::memory::FrozenMemory;
use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

pub const CHECK: &str = "frozen number";
/// One false verdict of a tag in this time at most, by the arithmetic above.
const INTERVAL_S: f64 = 10.0 * 365.25 * 86_400.0;
/// P at σ = 0.2 q: erf(1/(2√2·0.2)).
const INVALID: f64 = 0.987_58;
/// The shortest run, whatever the noise. Common practice, no source.
const LEAST: f64 = 10.0;
/// How many times the longest run that ended by itself. Common practice, no source.
const LONGER: f64 = 2.0;
/// A verdict is probable at so many times the run length, and once a day was learnt.
const SURE: f64 = 2.0;
const LEARNT: Duration = Duration::from_secs(86_400);
/// A number that never moved since the start is possibly frozen after this time. Common practice, no source.
const NEVER_MOVED: Duration = Duration::from_secs(86_400);
/// What was learnt is stored so often at most.
const STORED_EVERY: Duration = Duration::from_secs(6 * 3600);
/// Where a number may repeat that often, a signal that goes on where it stood was quiet, not frozen.
const CAN_REST: f64 = 0.13;
/// Steps within which it goes on where it stood.
const NEAR: f64 = 3.0;

/// What is known of one transmitter's numbers; under 400 bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct FrozenWatch {
    last: Option<f64>,
    begun: Option<Duration>,
    /// Of equal numbers, and since when.
    run: u32,
    since: Duration,
    block: QuietBlock,
    /// The largest chance of equal neighbours, and the longest run that ended by itself.
    repeats: Largest,
    longest: Largest,
    /// The shortest run, as its negative: so many polls a number of the device lasts.
    shortest: Largest,
    /// The smallest step, as its negative.
    step: Largest,
    declared: bool,
    two_levels: bool,
    kept_at: Option<Timestamp>,
}

/// How a transmitter is read, and what the site file says of it.
#[derive(Clone, Copy, Debug)]
pub struct Terms {
    pub poll_every: Duration,
    /// So long a number may stand; none: as its noise says.
    pub after: Option<Duration>,
}

/// How a transmitter's numbers stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standing {
    /// Its noise was not heard yet.
    Unknown,
    /// So coarse that a healthy signal stands still too.
    Coarse,
    Moves,
    Frozen(Confidence),
}

impl FrozenWatch {
    /// Takes one number; true where a verdict was just come to.
    pub fn take(&mut self, up: Duration, number: f64, terms: Terms) -> bool {
        self.begun.get_or_insert(up);
        if self.last == Some(number) {
            self.run = self.run.saturating_add(1);
        } else {
            self.end_run(up, number);
            self.last = Some(number);
            self.run = 1;
            self.since = up;
        }
        if !self.declared {
            self.listen(up, number);
        }
        // No shorter run is a verdict, whatever the noise: most samples need not ask how long one must be.
        let can_be = terms.after.is_some() || f64::from(self.run) >= LEAST;
        let frozen = can_be && matches!(self.standing(up, terms), Standing::Frozen(_));
        let begins = frozen && !self.declared;
        self.declared |= frozen;
        begins
    }

    /// What comes next does not belong to what was: at an end of its range a number may stand.
    pub fn interrupt(&mut self) {
        self.last = None;
        self.run = 0;
        self.declared = false;
        self.block = QuietBlock::default();
    }

    fn end_run(&mut self, up: Duration, number: f64) {
        let Some(last) = self.last else { return };
        let step = (number - last).abs();
        let rests = self
            .repeats
            .value()
            .is_none_or(|repeats| repeats > CAN_REST);
        let near = self.step().is_some_and(|least| step <= NEAR * least);
        if !self.declared {
            self.longest.take(up, f64::from(self.run));
            self.shortest.take(up, -f64::from(self.run));
        } else if rests && near {
            // It was quiet; so it may be again.
            self.repeats.take(up, 1.0);
        }
        if !self.declared || self.step().is_none() {
            self.step.take(up, -step);
        }
        if self.declared {
            self.declared = false;
            self.block = QuietBlock::default();
        }
    }

    fn listen(&mut self, up: Duration, number: f64) {
        let Some(step) = self.step() else {
            // Nothing but equal numbers so far: it may be frozen since before the start.
            return;
        };
        match self.block.take(number, step) {
            None => {}
            Some(Heard::Repeats(chance)) => {
                self.repeats.take(up, chance);
                self.two_levels = false;
            }
            Some(Heard::TwoLevels) => self.two_levels = true,
            // A whole block of one number: quiet, unless its run ends as a verdict.
            Some(Heard::Still) if self.length_is_unknown() => self.repeats.take(up, 1.0),
            Some(Heard::Still | Heard::Moving) => {}
        }
    }

    fn length_is_unknown(&self) -> bool {
        self.repeats.value().is_none_or(|repeats| repeats > INVALID)
    }

    fn step(&self) -> Option<f64> {
        self.step.value().map(|negative| -negative)
    }

    /// The run that is a verdict; none where the noise is not known or too small.
    pub fn length(&self, terms: Terms) -> Option<f64> {
        let repeats = self.repeats.value().filter(|repeats| *repeats <= INVALID)?;
        let polls = INTERVAL_S / terms.poll_every.as_secs_f64().max(0.001);
        let longest = self.longest.value().unwrap_or(0.0);
        let each = self.shortest.value().map_or(1.0, |negative| -negative);
        let by_noise = each * run_length(repeats, polls / each).max(LEAST);
        Some(by_noise.max(LONGER * longest).ceil())
    }

    pub fn standing(&self, up: Duration, terms: Terms) -> Standing {
        if let Some(after) = terms.after {
            let stands = self.run > 1 && up.saturating_sub(self.since) >= after;
            return if stands {
                Standing::Frozen(Confidence::Probable)
            } else {
                Standing::Moves
            };
        }
        let Some(length) = self.length(terms) else {
            if self.never_moved(up) {
                return Standing::Frozen(Confidence::Possible);
            }
            let coarse = self.two_levels || self.repeats.value().is_some();
            return if coarse {
                Standing::Coarse
            } else {
                Standing::Unknown
            };
        };
        let run = f64::from(self.run);
        let learnt = self
            .begun
            .is_some_and(|begun| up.saturating_sub(begun) >= LEARNT);
        if run >= SURE * length && learnt {
            Standing::Frozen(Confidence::Probable)
        } else if run >= length {
            Standing::Frozen(Confidence::Possible)
        } else {
            Standing::Moves
        }
    }

    /// There was no other number since the start, a day ago.
    fn never_moved(&self, up: Duration) -> bool {
        let unheard = self.step().is_none() && self.repeats.value().is_none();
        unheard && self.run > 1 && up.saturating_sub(self.since) >= NEVER_MOVED
    }

    /// What is to be kept over a restart: once something is learnt, then each few hours.
    pub fn to_keep(&mut self, now: Now) -> Option<FrozenMemory> {
        let repeats = self.repeats.value()?;
        let since = |at: Timestamp| now.utc.duration_since(at).unsigned_abs();
        if self.kept_at.is_some_and(|at| since(at) < STORED_EVERY) {
            return None;
        }
        self.kept_at = Some(now.utc);
        Some(FrozenMemory {
            at: now.utc,
            repeats,
            longest: self.longest.value(),
            shortest: self.shortest.value().map(|negative| -negative),
            step: self.step(),
        })
    }

    /// As it was before a restart; none of what is too old.
    pub fn restored(kept: &FrozenMemory, now: Now) -> Option<Self> {
        if now.utc.duration_since(kept.at).unsigned_abs() > AGE {
            return None;
        }
        let mut watch = Self {
            kept_at: Some(kept.at),
            ..Self::default()
        };
        watch.repeats.take(now.up, kept.repeats);
        let negative = |value: Option<f64>| value.map(|value| -value);
        for (largest, value) in [
            (&mut watch.longest, kept.longest),
            (&mut watch.shortest, negative(kept.shortest)),
            (&mut watch.step, negative(kept.step)),
        ] {
            if let Some(value) = value {
                largest.take(now.up, value);
            }
        }
        Some(watch)
    }

    pub fn finding(&self, tag: &Arc<str>, up: Duration, terms: Terms) -> Option<Finding> {
        let Standing::Frozen(confidence) = self.standing(up, terms) else {
            return None;
        };
        let seconds = up.saturating_sub(self.since).as_secs_f64();
        let asked = match (terms.after, self.length(terms)) {
            (Some(after), _) => format!("the site file allows {:.0} s", after.as_secs_f64()),
            (None, None) => "there was no other since the start: it is frozen since before, or coarser than all that happens; compare it with the sight glass".to_owned(),
            (None, Some(length)) => format!(
                "its own noise allows {:.0} in a row once in ten years, two neighbours are equal with a chance of {:.3} at most",
                length,
                self.repeats.value().unwrap_or_default()
            ),
        };
        let evidence = format!("{} equal numbers in {seconds:.0} s; {asked}", self.run);
        Some(Finding::of(Fault::Frozen, tag, confidence, evidence))
    }

    pub fn ability(&self, tag: &str, up: Duration, terms: Terms) -> Ability {
        if let Some(after) = terms.after {
            let text = format!(
                "{tag}: after {:.0} s of equal numbers, as the site file says",
                after.as_secs_f64()
            );
            return Ability::can(CHECK, text);
        }
        match (self.standing(up, terms), self.length(terms)) {
            (Standing::Unknown, _) => {
                Ability::cannot(CHECK, format!("{tag}: its noise is not known yet"))
            }
            (Standing::Frozen(_), None) => Ability::cannot(
                CHECK,
                format!("{tag}: its noise is not known, it has never moved"),
            ),
            (Standing::Coarse, _) | (_, None) => Ability::cannot(
                CHECK,
                format!(
                    "{tag}: its noise is below 0.2 of a step, so that a healthy number stands still too; a finer register would help"
                ),
            ),
            (_, Some(length)) => Ability::can(
                CHECK,
                format!(
                    "{tag}: after {:.0} equal numbers ({:.0} s); a healthy one repeats itself with a chance of {:.3} at most",
                    length,
                    length * terms.poll_every.as_secs_f64(),
                    self.repeats.value().unwrap_or_default()
                ),
            ),
        }
    }
}

/// The run of equal numbers that `polls` polls have less than once, by the chance that one repeats itself.
pub fn run_length(repeats: f64, polls: f64) -> f64 {
    1.0 + (polls * (1.0 - repeats)).ln() / -repeats.max(f64::MIN_POSITIVE).ln()
}
