//! A transfer: a tank is filled or drawn to a target, and somebody wants to be told in time.
//!
//! What always holds: one transfer at a time a tank; it ends by a person, or by itself once the target was
//! reached and the level stands or goes back. Past its target and still moving after the time that a stop may take, it is
//! overdue: an event, and the tank's alarm TRANSFER where the site file has one.

mod asked;

use super::Now;
use super::forecast::{self, Forecast};
use super::memory::{TransferMemory, TransferStart};
use super::plan::TankPlan;
use super::quality::Reason;
use super::rate::Rate;
use super::reading::Reading;
use crate::quantity::{Length, Volume, cubic_metres, metres};
use std::sync::Arc;
use std::time::Duration;

/// A rate must be this many standard errors to be a movement.
const SIGNIFICANT: f64 = 3.0;
/// Slower than this is standing still, m/s: 4 mm in an hour. Common practice, no source.
const STILL_M_S: f64 = 1e-6;
/// How long the level must stand past the target for the transfer to be over; and how long it may stand
/// before the target until that is told. Common practice, no source.
const STANDS: Duration = Duration::from_secs(60);
const STALLED: Duration = Duration::from_secs(600);
/// The least way back, or in the wrong direction, that counts, where the reading's own uncertainty is not larger.
/// Common practice, no source.
const AWAY_M: f64 = 0.02;

/// So many samples in a row must show that the level left the target again: one wild sample says nothing.
/// Common practice, no source.
const LEFT_SAMPLES: u8 = 3;

/// A transfer under way.
#[derive(Clone, Debug, PartialEq)]
pub struct Transfer {
    pub memory: TransferMemory,
    /// Still moving past its target for longer than a stop may take.
    pub overdue: bool,
    pub expected: Option<Forecast>,
    /// Moved so far, and left to the target; positive in the direction of the transfer.
    pub moved: Option<Volume>,
    pub left: Option<Volume>,
    /// Of what has moved, k = 2; at most, since two volumes of one tank are wrong much alike.
    pub moved_uncertainty: Option<Volume>,
    reached: Option<Duration>,
    /// How many samples in a row are before the target after it was reached.
    left_again: u8,
    stands_since: Option<Duration>,
    stalled_told: bool,
    away_told: bool,
}

/// What a reading brought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TransferChange {
    /// The end is near.
    Soon(Forecast),
    Reached,
    Stalled,
    Away,
    Overdue,
    /// It stopped after the target was reached.
    Ended,
    /// After the target was reached the level went back from it.
    Turned,
}

impl TransferChange {
    pub fn is_end(self) -> bool {
        matches!(self, TransferChange::Ended | TransferChange::Turned)
    }
}

impl Transfer {
    pub fn new(memory: TransferMemory, now: Now) -> Self {
        Self {
            // How long it moved on while nobody watched is not known: the stop's time runs anew.
            reached: memory.reached.then_some(now.up),
            memory,
            overdue: false,
            expected: None,
            moved: None,
            left: None,
            moved_uncertainty: None,
            left_again: 0,
            stands_since: None,
            stalled_told: false,
            away_told: false,
        }
    }

    pub fn target(&self) -> Length {
        metres(self.memory.target_m)
    }

    pub fn fills(&self) -> bool {
        self.memory.fills
    }

    /// +1 for a filling, −1 for a drawing.
    fn sign(&self) -> f64 {
        if self.fills() { 1.0 } else { -1.0 }
    }

    /// Follows the level; changes come in the order in which they are to be told.
    pub fn follow(&mut self, tank: &TankPlan, reading: &Reading, now: Now) -> Vec<TransferChange> {
        let mut changes = Vec::new();
        self.count(tank, reading);
        let Some(level) = reading.level else {
            self.expected = None;
            if self.is_past_unseen(reading) {
                self.reach(&mut changes, now);
            }
            return changes;
        };
        let rate = rate_of(reading);
        let moving = rate.map(|rate| {
            let moves = rate.per_second.abs() >= (SIGNIFICANT * rate.standard_error).max(STILL_M_S);
            if moves {
                rate.per_second.signum() * self.sign()
            } else {
                0.0
            }
        });
        self.stands(moving, now);
        let to_go_m = (self.target() - level).value * self.sign();
        if self.has_left(to_go_m, reading) {
            if moving.is_some_and(|moving| moving < 0.0) {
                changes.push(TransferChange::Turned);
                return changes;
            }
            (self.reached, self.memory.reached, self.overdue) = (None, false, false);
        }
        if to_go_m > 0.0 && self.reached.is_none() {
            self.before(tank, reading, level, rate, &mut changes, now);
        } else {
            self.expected = None;
            self.past(moving, to_go_m <= 0.0, &mut changes, now);
        }
        changes
    }

    /// Another density makes another level of what is in the tank: the step is not counted as moved, and the
    /// end is told anew.
    pub fn hold_other(&mut self, product: Option<Arc<str>>, was: &Reading, is: &Reading) {
        let step = was.level.zip(is.level).zip(was.volume.zip(is.volume));
        self.memory.product = product;
        self.memory.soon_told = false;
        self.memory.start = self.memory.start.zip(step).map(
            |(start, ((level_was, level), (volume_was, volume)))| TransferStart {
                level_m: start.level_m + (level - level_was).value,
                volume_m3: start.volume_m3 + (volume - volume_was).value,
                ..start
            },
        );
    }

    /// How much has moved, and is left.
    fn count(&mut self, tank: &TankPlan, reading: &Reading) {
        let sign = self.sign();
        let vessel = tank.vessel.at(reading.temperature);
        let target = vessel.volume(self.target() + tank.zero);
        self.left = reading.volume.map(|volume| (target - volume) * sign);
        let start = self.memory.start.as_ref();
        let both = start.zip(reading.volume);
        self.moved = both.map(|(start, volume)| (volume - cubic_metres(start.volume_m3)) * sign);
        // U² = U₀² + U₁² without what the two have in common, which cancels.
        let uncertainties = start.and_then(|start| start.uncertainty_m3);
        let uncertainties = uncertainties.zip(reading.volume_uncertainty);
        self.moved_uncertainty =
            uncertainties.map(|(start_m3, now)| cubic_metres(start_m3.hypot(now.value)));
    }

    /// The level itself is not known, but that it is past the target is.
    fn is_past_unseen(&self, reading: &Reading) -> bool {
        if self.fills() {
            let least = reading.level_at_least;
            least.is_some_and(|least| least >= self.target())
        } else {
            let most = reading.level_at_most;
            most.is_some_and(|most| most <= self.target())
                && !reading.reasons.has(Reason::EmptyOrLowLegFlooded)
        }
    }

    /// Whether the level, once at the target, is clearly before it again.
    fn has_left(&mut self, to_go_m: f64, reading: &Reading) -> bool {
        let is_before = self.reached.is_some() && to_go_m > margin_m(reading);
        self.left_again = if is_before { self.left_again + 1 } else { 0 };
        self.left_again == LEFT_SAMPLES
    }

    fn before(
        &mut self,
        tank: &TankPlan,
        reading: &Reading,
        level: Length,
        rate: Option<Rate>,
        changes: &mut Vec<TransferChange>,
        now: Now,
    ) {
        let vessel = tank.vessel.at(reading.temperature);
        self.expected =
            rate.and_then(|rate| forecast::reach((vessel, tank.zero), level, rate, self.target()));
        let tell = self.memory.tell;
        if let Some(expected) = self.expected
            && !self.memory.soon_told
            && expected.after.value <= tell.as_secs_f64()
        {
            self.memory.soon_told = true;
            changes.push(TransferChange::Soon(expected));
        }
        let start = self.memory.start;
        let away_m = start.map(|start| (start.level_m - level.value) * self.sign());
        if away_m.is_some_and(|away_m| away_m > margin_m(reading)) && !self.away_told {
            self.away_told = true;
            changes.push(TransferChange::Away);
        }
        let stands = self.stands_since.map(|since| now.up.saturating_sub(since));
        if stands.is_some_and(|stands| stands >= STALLED) && !self.stalled_told {
            self.stalled_told = true;
            changes.push(TransferChange::Stalled);
        }
        self.stalled_told &= self.stands_since.is_some();
    }

    fn reach(&mut self, changes: &mut Vec<TransferChange>, now: Now) {
        if self.reached.is_none() {
            self.reached = Some(now.up);
            self.memory.reached = true;
            changes.push(TransferChange::Reached);
        }
    }

    /// `is_past`: the level is there now, not only was.
    fn past(
        &mut self,
        moving: Option<f64>,
        is_past: bool,
        changes: &mut Vec<TransferChange>,
        now: Now,
    ) {
        self.reach(changes, now);
        let reached = self.reached.unwrap_or(now.up);
        let since = now.up.saturating_sub(reached);
        let moves_on = moving.is_some_and(|moving| moving > 0.0) && is_past;
        if moves_on && since >= self.memory.stop_within && !self.overdue {
            self.overdue = true;
            changes.push(TransferChange::Overdue);
        }
        // On its way back it is not to be stopped any more.
        self.overdue &= moving.is_none_or(|moving| moving >= 0.0);
        if self
            .stands_since
            .is_some_and(|at| now.up.saturating_sub(at.max(reached)) >= STANDS)
        {
            self.overdue = false;
            changes.push(TransferChange::Ended);
        }
    }

    fn stands(&mut self, moving: Option<f64>, now: Now) {
        match moving {
            Some(moving) if moving.abs() < 0.5 => {
                self.stands_since.get_or_insert(now.up);
            }
            Some(_) => self.stands_since = None,
            // Not known: neither begins nor ends it.
            None => {}
        }
    }
}

/// What the level must differ by to be told as elsewhere, m.
fn margin_m(reading: &Reading) -> f64 {
    let uncertainty = reading.level_uncertainty;
    uncertainty.map_or(AWAY_M, |expanded| expanded.value.max(AWAY_M))
}

fn rate_of(reading: &Reading) -> Option<Rate> {
    let (rate, error) = reading.rate.zip(reading.rate_standard_error)?;
    Some(Rate {
        per_second: rate.value,
        standard_error: error.value,
    })
}
