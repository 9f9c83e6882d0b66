//! A transfer: a tank is filled or drawn to a target, and somebody wants to be told in time.
//!
//! What always holds: one transfer at a time a tank; it ends by a person, or by itself once the target was
//! reached and the level stands. Past its target and still moving after the time that a stop may take, it is
//! overdue: an event, and the tank's alarm TRANSFER where the site file has one.

mod asked;

use super::Now;
use super::forecast::{self, Forecast};
use super::memory::TransferMemory;
use super::plan::TankPlan;
use super::rate::Rate;
use super::reading::Reading;
use crate::quantity::{Length, Volume, cubic_metres, metres};
use std::time::Duration;

/// A rate must be this many standard errors to be a movement.
const SIGNIFICANT: f64 = 3.0;
/// Slower than this is standing still, m/s: 4 mm in an hour. Common practice, no source.
const STILL_M_S: f64 = 1e-6;
/// How long the level must stand past the target for the transfer to be over; and how long it may stand
/// before the target until that is told. Common practice, no source.
const STANDS: Duration = Duration::from_secs(60);
const STALLED: Duration = Duration::from_secs(600);
/// The least way in the wrong direction that is told, where the reading's own uncertainty is not larger.
/// Common practice, no source.
const AWAY_M: f64 = 0.02;

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
    reached: Option<Duration>,
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
            stands_since: None,
            stalled_told: false,
            away_told: false,
        }
    }

    pub fn target(&self) -> Length {
        metres(self.memory.target_m)
    }

    pub fn fills(&self) -> bool {
        self.memory.target_m > self.memory.start_m
    }

    /// Follows the level; changes come in the order in which they are to be told.
    pub fn follow(&mut self, tank: &TankPlan, reading: &Reading, now: Now) -> Vec<TransferChange> {
        let mut changes = Vec::new();
        let Some(level) = reading.level else {
            (self.expected, self.moved, self.left) = (None, None, None);
            return changes;
        };
        let sign = if self.fills() { 1.0 } else { -1.0 };
        let vessel = tank.vessel.at(reading.temperature);
        let volume = |level: Length| vessel.volume(level + tank.zero);
        self.moved = Some((volume(level) - cubic_metres(self.memory.start_m3)) * sign);
        self.left = Some((volume(self.target()) - volume(level)) * sign);
        let rate = rate_of(reading);
        let moving = rate.map(|rate| {
            let moves = rate.per_second.abs() >= (SIGNIFICANT * rate.standard_error).max(STILL_M_S);
            if moves {
                rate.per_second.signum() * sign
            } else {
                0.0
            }
        });
        self.stands(moving, now);
        if (level - self.target()).value * sign < 0.0 && self.reached.is_none() {
            self.before(tank, reading, level, rate, &mut changes, now);
        } else {
            self.expected = None;
            self.past(moving, &mut changes, now);
        }
        changes
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
        let sign = if self.fills() { 1.0 } else { -1.0 };
        let margin_m = reading
            .level_uncertainty
            .map_or(0.0, |expanded| expanded.value);
        let away_m = (metres(self.memory.start_m) - level).value * sign;
        if away_m > AWAY_M.max(margin_m) && !self.away_told {
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

    fn past(&mut self, moving: Option<f64>, changes: &mut Vec<TransferChange>, now: Now) {
        if self.reached.is_none() {
            self.memory.reached = true;
            changes.push(TransferChange::Reached);
        }
        let reached = *self.reached.get_or_insert(now.up);
        let since = now.up.saturating_sub(reached);
        let moves_on = moving.is_some_and(|moving| moving > 0.0);
        if moves_on && since >= self.memory.stop_within && !self.overdue {
            self.overdue = true;
            changes.push(TransferChange::Overdue);
        }
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

fn rate_of(reading: &Reading) -> Option<Rate> {
    let (rate, error) = reading.rate.zip(reading.rate_standard_error)?;
    Some(Rate {
        per_second: rate.value,
        standard_error: error.value,
    })
}
