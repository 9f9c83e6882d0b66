//! A tank's memory, and its reading: the working with rate, jump and leg added.

use super::again::Again;
use super::contents::Marked;
use super::felt::{felt, seen_of};
use super::memory::{Apart, HookupMemory};
use super::reading::{MadeOf, nothing_yet};
use super::{Pick, Signals, Working, choose};
use crate::engine::Now;
use crate::engine::alarm::Alarm;
use crate::engine::checks::diagnosis::Diagnosis;
use crate::engine::checks::finding::Finding;
use crate::engine::checks::jump::{JumpChange, JumpSample, JumpVerdict, JumpWatch};
use crate::engine::checks::leg::LegChange;
use crate::engine::checks::seen::Seen;
use crate::engine::checks::spike::SpikeWatch;
use crate::engine::checks::tank::Checks;
use crate::engine::checks::terms::{Place, largest_flow_m3_s};
use crate::engine::checks::verdict::{self, Felt};
use crate::engine::frame::Frame;
use crate::engine::plan::{
    Choose, Correction, HookupPlan, Measures, Plan, Reads, Source, TankPlan,
};
use crate::engine::quality::{Quality, Reason};
use crate::engine::reading::Reading;
use crate::engine::rounds::Rounds;
use crate::engine::snapshot::{Ability, HookupView};
use crate::engine::transfer::Transfer;
use crate::engine::trend::Trend;
use crate::physics::budget::Budget;
use crate::quantity::{Length, Timestamp};
use std::sync::Arc;
use std::time::Duration;

/// One tank as the engine remembers it.
#[derive(Clone, Debug)]
pub struct TankState {
    pub reading: Reading,
    pub alarms: Vec<Alarm>,
    pub jump: JumpWatch,
    pub jump_since: Option<Timestamp>,
    pub spike: SpikeWatch,
    pub last_good: Option<Timestamp>,
    pub checks: Checks,
    /// The product that was chosen is gone, and nobody has chosen another.
    pub product_doubted: bool,
    pub transfer: Option<Transfer>,
    pub diagnosis: Diagnosis,
    pub rounds: Rounds,
    /// What it looks like.
    pub frame: Arc<Frame>,
    /// The hookup that the reading was made from, by its place in the plan.
    pub leading: usize,
    /// The hookup whose uncertainty it has.
    uncertainty_of: usize,
    pub(super) hookups: Vec<HookupMemory>,
    /// Of each hookup, as it came from its pressures.
    again: Vec<Again>,
    /// Of each hookup, with what is remembered of it.
    workings: Vec<Working>,
    apart: Apart,
    /// What was felt while lines were sound, and what a reading outside of that is.
    sound: Option<Felt>,
    outside: Option<JumpVerdict>,
    pub(super) trend: Trend,
    /// g·(ρl − ρv), as last worked out.
    pascals_per_metre: f64,
    /// The volumes at the marks of a vessel that does not expand: they never change.
    pub(super) marked: Option<Marked>,
    /// What the reading was made of.
    made_of: Option<MadeOf>,
}

/// What a new reading brought, beyond itself.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Changes {
    pub quality_was: Option<Quality>,
    pub jump: Option<JumpChange>,
    pub leg: Option<LegChange>,
    /// The hookups began to disagree for good, or agree again.
    pub disagree: Option<bool>,
}

impl TankState {
    /// `index`: its place in the plan.
    pub fn new(plan: &Plan, index: usize, now: Now) -> Self {
        let tank = &plan.tanks[index];
        let polls = tank
            .transmitters()
            .map(|id| plan.transmitters[id.index()].poll_every);
        Self {
            reading: nothing_yet(now),
            alarms: vec![Alarm::default(); tank.alarms.len()],
            jump: JumpWatch::default(),
            jump_since: None,
            spike: SpikeWatch::default(),
            last_good: None,
            checks: Checks::default(),
            product_doubted: false,
            transfer: None,
            diagnosis: Diagnosis::new(index, now),
            rounds: Rounds::new(tank, now.utc),
            frame: Arc::new(Frame::of(plan, tank)),
            leading: match tank.choice.level {
                Choose::One(place) => place,
                _ => 0,
            },
            uncertainty_of: 0,
            hookups: vec![HookupMemory::default(); tank.hookups.len()],
            again: vec![Again::default(); tank.hookups.len()],
            workings: Vec::with_capacity(tank.hookups.len()),
            apart: Apart::default(),
            sound: None,
            outside: None,
            trend: Trend::new(polls.max().unwrap_or_default()),
            pascals_per_metre: 0.0,
            marked: (!tank.vessel.expands()).then(|| Marked::of(tank, tank.vessel.at(None))),
            made_of: None,
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
        let mut changes = Changes::default();
        let is_other = self.work_out(plan, tank, signals, now, sampled, &mut changes);
        if changes.leg == Some(LegChange::Flooded) {
            // The flood explains the fall: no jump is left to be explained.
            self.jump.restart();
            self.jump_since = None;
        }
        let chosen = choose(tank, &mut self.workings);
        self.follow(tank, chosen.pick);
        self.uncertainty_of = chosen.pick.uncertainty_of;
        let working = &mut chosen.pick.of(&self.workings);
        let balance = &working.balance;
        // g·(ρl − ρv)
        self.pascals_per_metre = (balance.gravity * (balance.liquid - balance.gas)).value;
        changes.disagree = self.apart.watch(tank, chosen.spread, now);
        if self.apart.told {
            working.reasons.add(Reason::HookupsDisagree);
        }
        if self.product_doubted {
            working.reasons.add(Reason::ProductNotConfirmed);
        }
        if sampled {
            self.look_outside(tank, working, chosen.pick.hookup, signals);
        }
        let usable = working.reasons.quality() < Quality::Bad;
        let seen = working.seen_level().filter(|_| usable);
        if let (Some(seen), true) = (seen, sampled) {
            let was_steady = self.jump.is_steady();
            changes.jump = self.look_for_jump(plan, tank, working, signals, seen, now);
            self.look_for_spike(tank, working, seen, now);
            let by_step = self.jump.open().is_some() && !(was_steady && self.jump.is_steady());
            if by_step || matches!(changes.jump, Some(JumpChange::Returned(_))) {
                // The step itself is no rate.
                self.trend.clear();
            }
            let steady = self.jump.is_steady() && !self.spike.is_flagged();
            if let (Some(level), true) = (working.level, steady) {
                self.trend.add(now.up, level.value);
            }
        }
        if self.jump.doubts() && seen.is_some() {
            working.reasons.add(Reason::ImplausibleJump);
        }
        if self.spike.is_flagged() && seen.is_some() {
            working.reasons.add(Reason::SingleSpike);
        }
        let (was, waited) = (
            self.reading.quality,
            self.reading.reasons.has(Reason::WaitingForData),
        );
        let made_of = self.made_of(&chosen, working);
        if is_other || self.made_of != Some(made_of) {
            self.reading = self.reading_of(tank, &chosen, working);
            self.made_of = Some(made_of);
        }
        self.reading.number += u64::from(sampled);
        self.reading.time = now.utc;
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
        let open = self.jump.settle().is_some();
        if open {
            self.trend.clear();
            self.jump_since = None;
        }
        open
    }

    /// Another liquid: nothing that was learnt from levels before belongs to those after. A flooded leg
    /// stays flooded. True where a jump stood open, which is over by it.
    pub fn begin_product(&mut self) -> bool {
        let jump_was_open = self.jump.open().is_some();
        self.product_doubted = false;
        self.begin_anew();
        for hookup in &mut self.hookups {
            hookup.density = None;
            hookup.leg.forget_levels();
        }
        jump_was_open
    }

    /// The level begins anew: what was seen before says nothing of what comes.
    pub fn begin_anew(&mut self) {
        self.trend.clear();
        self.spike.interrupt();
        self.jump.begin_anew();
        self.jump_since = None;
        self.checks.begin_product();
        self.sound = None;
        self.outside = None;
    }

    /// The correction that is in the reading's level, where there is one.
    pub fn correction<'t>(&self, tank: &'t TankPlan) -> Option<&'t Correction> {
        let correction = |hookup: &'t HookupPlan| Some(&hookup.correction);
        let is_set = |correction: &&Correction| correction.is_set();
        match tank.choice.level {
            // The mean has all of them.
            Choose::Mean => tank.hookups.iter().filter_map(correction).find(is_set),
            _ => tank
                .hookups
                .get(self.leading)
                .and_then(correction)
                .filter(is_set),
        }
    }

    /// A person has drained the low leg: what was seen before says nothing of what comes.
    pub fn confirm_leg_drained(&mut self) -> bool {
        let drained = self.hookups.iter_mut().map(|hookup| hookup.leg.drained());
        let was_flooded = drained.fold(false, |any, drained| any | drained);
        if was_flooded {
            self.trend.clear();
            self.spike.interrupt();
            self.jump.restart();
            self.jump_since = None;
        }
        was_flooded
    }

    /// g·(ρl − ρv): what a metre of level is worth, Pa.
    pub fn pascals_per_metre(&self) -> f64 {
        self.pascals_per_metre
    }

    /// Shows the tank's checks a reading.
    pub fn show_checks(&mut self, plan: &Plan, tank: &TankPlan, seen: &Seen) {
        let Some(place) = self.place(plan, tank) else {
            return;
        };
        let hookups = self.workings.iter().map(seen_of);
        self.checks.take(&place, seen, hookups);
    }

    /// What the tank's checks find.
    pub fn findings(&self, plan: &Plan, tank: &TankPlan, seen: &Seen) -> Vec<Finding> {
        let place = self.place(plan, tank);
        place.map_or_else(Vec::new, |place| self.checks.findings(&place, seen))
    }

    /// What they could find.
    pub fn abilities(&self, plan: &Plan, tank: &TankPlan, seen: &Seen) -> Vec<Ability> {
        let Some(place) = self.place(plan, tank) else {
            return Vec::new();
        };
        let mut abilities = self.checks.abilities(&place, seen);
        abilities.push(self.spike.ability(tank.checks.spike));
        abilities
    }

    fn place<'a>(&self, plan: &'a Plan, tank: &'a TankPlan) -> Option<Place<'a>> {
        let vessel = self.workings.get(self.leading)?.vessel(tank);
        Some(Place { plan, tank, vessel })
    }

    /// A reading outside what intact lines give, judged by what was felt before it.
    fn look_outside(
        &mut self,
        tank: &TankPlan,
        working: &Working,
        hookup: usize,
        signals: &impl Signals,
    ) {
        let felt = felt(tank, working, hookup, signals);
        if !working.reasons.has(Reason::OutsideIntactLines) {
            self.sound = Some(felt);
            self.outside = None;
            return;
        }
        let step = self
            .sound
            .and_then(|sound| Some(felt.ports_pa? - sound.ports_pa?));
        self.outside = self
            .sound
            .zip(step)
            .map(|(sound, step_pa)| verdict::of(sound, felt, step_pa, None));
    }

    /// What a reading outside intact lines most likely is.
    pub fn outside(&self) -> Option<JumpVerdict> {
        self.outside
    }

    /// What each hookup says, as last worked out, in the order of the plan.
    pub fn workings(&self) -> &[Working] {
        &self.workings
    }

    /// What the reading's uncertainties are made of, the largest first.
    pub fn budget(&self) -> Budget {
        self.budget_of(self.uncertainty_of)
    }

    /// The same of one hookup.
    pub fn budget_of(&self, hookup: usize) -> Budget {
        self.again[hookup].budget()
    }

    /// What the hookups say, for outlets and people.
    pub fn views(&self, tank: &TankPlan) -> Vec<HookupView> {
        let each = tank.hookups.iter().zip(&self.workings).enumerate();
        each.map(|(place, (plan, working))| HookupView {
            name: Arc::clone(&plan.name),
            kind: plan.hookup.name(),
            gives: plan.gives,
            chosen: place == self.leading,
            reasons: working.reasons,
            level: working.level,
            level_at_least: working.level_at_least,
            level_at_most: working.level_at_most,
            level_uncertainty: working.level.map(|_| working.level_uncertainty()),
            density: working.liquid.value,
            balance: working.balance,
            solved: working.solved,
            terms: working.terms,
        })
        .collect()
    }

    /// True where a hookup's own working is another than before.
    fn work_out(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        signals: &impl Signals,
        now: Now,
        sampled: bool,
        changes: &mut Changes,
    ) -> bool {
        let mut is_other = false;
        let states = self.hookups.iter_mut().zip(&mut self.again);
        for (place, (hookup, (state, again))) in tank.hookups.iter().zip(states).enumerate() {
            let (made, is_same) = again.working(plan, tank, hookup, signals, state.density);
            is_other |= !is_same;
            // A working is large: it is copied to where it is looked at only where it is another one.
            match self.workings.get_mut(place) {
                Some(working) if is_same => working.say_again(made),
                Some(working) => *working = *made,
                None => self.workings.push(*made),
            }
            let working = &mut self.workings[place];
            if working.density_measured && working.reasons.quality() < Quality::Bad {
                state.density = Some(working.liquid);
            }
            if hookup.correction.is_overdue(now.utc) {
                working.reasons.add(Reason::CorrectionOverdue);
            }
            let leg = state.look_at_leg((plan, tank), working, signals, now, sampled);
            changes.leg = changes.leg.max(leg);
        }
        is_other
    }

    /// Another hookup's level is no movement of the liquid.
    fn follow(&mut self, tank: &TankPlan, pick: Pick) {
        let other = pick.hookup != self.leading;
        self.leading = pick.hookup;
        // The higher, lower or middle one of several goes on where it changes hands.
        if other && matches!(tank.choice.level, Choose::One(_)) {
            self.trend.clear();
            self.spike.interrupt();
            self.jump.restart();
            self.jump_since = None;
        }
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
        let sample = JumpSample {
            up: now.up,
            level,
            headspace_pa: headspace(plan, tank, signals),
            pascals_per_metre: self.pascals_per_metre,
            felt: felt(tank, working, self.leading, signals),
        };
        let change = self
            .jump
            .take(check, working.vessel(tank), tank.zero, sample);
        match change {
            Some(JumpChange::Opened(_)) => self.jump_since = Some(now.utc),
            Some(JumpChange::Returned(_)) => self.jump_since = None,
            None => {}
        }
        change
    }

    fn look_for_spike(&mut self, tank: &TankPlan, working: &Working, level: Length, now: Now) {
        if !tank.checks.spike {
            return;
        }
        let area_m2 = working.vessel(tank).area(level + tank.zero).value;
        let fastest_m_s = largest_flow_m3_s(tank).filter(|_| area_m2 > 0.0);
        let fastest_m_s = fastest_m_s.map_or(0.0, |flow| flow / area_m2);
        let most = |age: Duration| fastest_m_s * age.as_secs_f64();
        self.spike.take(now.up, level.value, most);
    }
}

/// The pressure of the gas, where a transmitter of its own reads it, in Pa.
pub fn headspace(plan: &Plan, tank: &TankPlan, signals: &impl Signals) -> Option<f64> {
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
