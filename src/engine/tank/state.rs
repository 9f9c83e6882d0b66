//! A tank's memory, and its reading: the working with rate, jump and leg added.

use super::{Signals, Working, contents};
use crate::engine::Now;
use crate::engine::alarm::Alarm;
use crate::engine::checks::jump::{JumpChange, JumpSample, JumpWatch};
use crate::engine::checks::leg::{Leg, LegBounds, LegWatch};
use crate::engine::plan::{Measures, Plan, Reads, Source, TankPlan};
use crate::engine::quality::{Quality, Reason};
use crate::engine::rate::RateWindow;
use crate::engine::reading::Reading;
use crate::engine::restart::Removed;
use crate::physics::balance::UpperTap;
use crate::physics::budget::Budget;
use crate::quantity::{Length, Timestamp, VolumeRate, metres_per_second};

/// One tank as the engine remembers it.
#[derive(Clone, Debug)]
pub struct TankState {
    pub reading: Reading,
    pub alarms: Vec<Alarm>,
    /// Alarms that are gone from the site file.
    pub removed: Vec<Removed>,
    pub jump: JumpWatch,
    pub jump_since: Option<Timestamp>,
    pub leg: LegWatch,
    pub last_good: Option<Timestamp>,
    rate: RateWindow,
}

/// What a new reading brought, beyond itself.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Changes {
    pub quality_was: Option<Quality>,
    pub jump: Option<JumpChange>,
    pub leg_flooded: bool,
}

impl TankState {
    pub fn new(plan: &Plan, tank: &TankPlan, now: Now) -> Self {
        let polls = tank
            .hookup
            .transmitters()
            .map(|id| plan.transmitters[id.index()].poll_every);
        Self {
            reading: nothing_yet(now),
            alarms: vec![Alarm::default(); tank.alarms.len()],
            removed: Vec::new(),
            jump: JumpWatch::default(),
            jump_since: None,
            leg: LegWatch::default(),
            last_good: None,
            rate: RateWindow::new(polls.max().unwrap_or_default()),
        }
    }

    /// Works out a new reading. `sampled`: the tank's pressure was read just now, so that what looks at
    /// changes gets one more sample; without it only time has gone by.
    pub fn read(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        signals: &impl Signals,
        now: Now,
        sampled: bool,
    ) -> Changes {
        let mut working = Working::of(plan, tank, signals);
        let mut changes = Changes {
            leg_flooded: self.look_at_leg(tank, &mut working, now, sampled),
            ..Changes::default()
        };
        let usable = working.reasons.quality() < Quality::Bad;
        if let (Some(level), true, true) = (working.level, usable, sampled) {
            changes.jump = self.look_for_jump(plan, tank, &working, signals, level, now);
            if !self.jump.doubts() {
                self.rate.add(now.up, level.value);
            }
        }
        if self.jump.doubts() && working.level.is_some() {
            working.reasons.add(Reason::ImplausibleJump);
        }
        let (was, waited) = (
            self.reading.quality,
            self.reading.reasons.has(Reason::WaitingForData),
        );
        self.reading = self.reading_of(tank, &working, now, sampled);
        // That the first reading is good is no news.
        let news =
            was != self.reading.quality && !(waited && self.reading.quality == Quality::Good);
        changes.quality_was = news.then_some(was);
        if self.reading.quality == Quality::Good {
            self.last_good = Some(now.utc);
        }
        changes
    }

    /// A person has looked: the level counts as it stands.
    pub fn confirm_level(&mut self) -> bool {
        self.rate.clear();
        self.jump_since = None;
        self.jump.settle().is_some()
    }

    fn look_at_leg(
        &mut self,
        tank: &TankPlan,
        working: &mut Working,
        now: Now,
        sampled: bool,
    ) -> bool {
        if working.upper != UpperTap::Floods {
            return false;
        }
        let Some(solved) = working.solved else {
            return false;
        };
        let bounds = leg_bounds(tank, working);
        let found = sampled && self.leg.take(now.up, solved.value, &bounds);
        match self.leg.leg() {
            Leg::Flooded => {
                working.level = None;
                working.level_at_most = None;
                working.level_at_least = Some(working.balance.low.tap);
                working.reasons.add(Reason::LowLegFlooded);
            }
            Leg::Unproven if working.reasons.has(Reason::AtOrBelowTap) => {
                working.reasons.add(Reason::EmptyOrLowLegFlooded);
            }
            Leg::Unproven | Leg::Dry => {}
        }
        found
    }

    fn look_for_jump(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        working: &Working,
        signals: &impl Signals,
        level: Length,
        now: Now,
    ) -> Option<JumpChange> {
        let check = tank.jump.as_ref()?;
        let balance = &working.balance;
        let sample = JumpSample {
            up: now.up,
            level,
            headspace_pa: headspace(plan, tank, signals),
            pascals_per_metre: balance.gravity.value * (balance.liquid - balance.gas).value,
        };
        let change = self.jump.take(check, &tank.vessel, tank.zero, sample);
        match change {
            Some(JumpChange::Opened(_)) => self.jump_since = Some(now.utc),
            Some(JumpChange::Returned(_)) => self.jump_since = None,
            None => {}
        }
        change
    }

    fn reading_of(&self, tank: &TankPlan, working: &Working, now: Now, sampled: bool) -> Reading {
        let quality = working.reasons.quality();
        let level = working.level.filter(|_| quality < Quality::Bad);
        // A bound stands even where the level itself is bad: above the vessel, a flooded leg.
        let bound = |bound: Option<Length>| {
            bound.filter(|_| level.is_none() && !working.reasons.has(Reason::WaitingForData))
        };
        let contents = level.map(|level| contents(tank, working, level));
        let rate = self
            .rate
            .rate()
            .filter(|_| level.is_some())
            .map(|rate| metres_per_second(rate.per_second));
        let net_flow = rate
            .zip(level)
            .map(|(rate, level)| rate * tank.vessel.area(level + tank.zero));
        Reading {
            number: self.reading.number + u64::from(sampled),
            time: now.utc,
            quality,
            reasons: working.reasons,
            level,
            level_at_least: bound(working.level_at_least),
            level_at_most: bound(working.level_at_most),
            fill: contents.map(|contents| contents.fill),
            volume: contents.map(|contents| contents.volume),
            usable: contents.map(|contents| contents.usable),
            ullage: contents.map(|contents| contents.ullage),
            mass: contents.map(|contents| contents.mass),
            density: Some(working.surroundings.liquid.value),
            temperature: tank
                .liquid
                .liquid
                .needs_temperature()
                .then_some(working.surroundings.liquid_temperature),
            rate,
            net_flow,
            differential_pressure: working.difference,
            level_uncertainty: level.map(|_| working.level_uncertainty()),
            volume_uncertainty: contents.map(|contents| contents.volume_uncertainty),
            terms: working.terms,
            budget: if working.terms.is_some() {
                working.budget
            } else {
                Budget::default()
            },
        }
    }
}

/// What is known before anything was read.
fn nothing_yet(now: Now) -> Reading {
    Reading {
        number: 0,
        time: now.utc,
        quality: Quality::Bad,
        reasons: Reason::WaitingForData.into(),
        level: None,
        level_at_least: None,
        level_at_most: None,
        fill: None,
        volume: None,
        usable: None,
        ullage: None,
        mass: None,
        density: None,
        temperature: None,
        rate: None,
        net_flow: None,
        differential_pressure: None,
        level_uncertainty: None,
        volume_uncertainty: None,
        terms: None,
        budget: Budget::default(),
    }
}

fn leg_bounds(tank: &TankPlan, working: &Working) -> LegBounds {
    let upper = working.balance.low.tap;
    // v = Q/A, at the upper tap where the level would begin to fall.
    let fastest = largest_draw(tank).map(|draw| (draw / tank.vessel.area(upper + tank.zero)).value);
    LegBounds {
        tap_m: working.balance.high.tap.value,
        upper_tap_m: upper.value,
        uncertainty_m: working.level_uncertainty().value,
        fastest_fall_m_s: fastest.filter(|fall| fall.is_finite()),
    }
}

/// From the jump check, or else the streams that draw; none where one of them has no limit.
fn largest_draw(tank: &TankPlan) -> Option<VolumeRate> {
    let mut draws = tank
        .streams
        .iter()
        .filter(|stream| !stream.fills)
        .peekable();
    let streams = draws
        .peek()
        .is_some()
        .then(|| {
            draws
                .map(|stream| stream.at_most)
                .sum::<Option<VolumeRate>>()
        })
        .flatten();
    tank.jump.map(|jump| jump.draw_at_most).or(streams)
}

/// The pressure of the gas, where a transmitter of its own reads it, in Pa.
fn headspace(plan: &Plan, tank: &TankPlan, signals: &impl Signals) -> Option<f64> {
    let Source::Tags(tags) = &tank.gas.pressure else {
        return None;
    };
    let tag = tags.first()?;
    match plan.transmitters[tag.index()].reads {
        Reads::Pressure(Measures::Gauge | Measures::Absolute | Measures::SealedGauge(_)) => {
            signals.value(*tag).value
        }
        _ => None,
    }
}
