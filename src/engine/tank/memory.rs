//! What is remembered of a tank's hookups: legs, trusted densities, and whether the levels disagree.

use super::{Signals, Working};
use crate::engine::Now;
use crate::engine::checks::leg::{Drawn, Leg, LegBounds, LegChange, LegWatch};
use crate::engine::checks::seen::Flows;
use crate::engine::contact::ContactValue;
use crate::engine::plan::{Condition, Plan, StreamFlow, TankPlan};
use crate::engine::quality::{Quality, Reason};
use crate::engine::signal::is_worked_on;
use crate::physics::balance::UpperTap;
use crate::physics::liquid::Density;
use crate::quantity::{Length, VolumeRate};
use std::time::Duration;

/// What is remembered of one hookup.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct HookupMemory {
    pub leg: LegWatch,
    /// The last density that its pressures measured.
    pub density: Option<Density>,
}

impl HookupMemory {
    /// A dry leg: whether it holds, what a flooded one means; what was just found of it.
    pub fn look_at_leg(
        &mut self,
        (plan, tank): (&Plan, &TankPlan),
        working: &mut Working,
        signals: &impl Signals,
        now: Now,
        sampled: bool,
    ) -> Option<LegChange> {
        if working.upper != UpperTap::Floods {
            return None;
        }
        let solved = working.solved?;
        // What a person puts in was never there.
        let is_put_in = is_worked_on(working.reasons) || working.reasons.has(Reason::TestValue);
        let found = (sampled && !is_put_in)
            .then(|| leg_bounds((plan, tank), working, signals))
            .and_then(|bounds| self.leg.take(now.up, solved.value, &bounds));
        match self.leg.leg() {
            Leg::Flooded => {
                working.level = None;
                working.level_at_most = None;
                working.level_at_least = Some(tank.vessel.level(working.balance.low.tap));
                working.reasons.add(Reason::LowLegFlooded);
            }
            Leg::Unproven | Leg::Dry | Leg::Suspected => {
                if self.leg.leg() == Leg::Suspected {
                    working.reasons.add(Reason::LowLegSuspected);
                }
                if self.leg.may_be_flooded() && working.reasons.has(Reason::AtOrBelowTap) {
                    working.reasons.add(Reason::EmptyOrLowLegFlooded);
                }
            }
        }
        found
    }
}

/// Whether the levels of several hookups are too far apart, for too long.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Apart {
    since: Option<Duration>,
    pub told: bool,
}

impl Apart {
    /// Whether they just began to disagree (true) or to agree again (false).
    pub fn watch(&mut self, tank: &TankPlan, spread: Option<Length>, now: Now) -> Option<bool> {
        let disagree = tank.choice.disagree?;
        // One level alone disagrees with none; a quarrel stays open until two of them agree.
        let spread = spread?;
        if spread <= disagree.by {
            self.since = None;
            return std::mem::take(&mut self.told).then_some(false);
        }
        let since = *self.since.get_or_insert(now.up);
        let is_told = now.up.saturating_sub(since) >= disagree.lasting;
        let begins = is_told && !self.told;
        self.told |= is_told;
        begins.then_some(true)
    }
}

fn leg_bounds(
    (plan, tank): (&Plan, &TankPlan),
    working: &Working,
    signals: &impl Signals,
) -> LegBounds {
    let upper = working.balance.low.tap;
    // v = Q/A, at the upper tap where the level would begin to fall.
    let level = tank.vessel.level(upper);
    let area_m2 = working.vessel(tank).area(level + tank.zero).value;
    let fall_m_s = |draw_m3_s: f64| Some(draw_m3_s / area_m2).filter(|fall| fall.is_finite());
    LegBounds {
        tap_m: working.balance.high.tap.value,
        upper_tap_m: upper.value,
        uncertainty_m: working.level_uncertainty().value,
        fastest_fall_m_s: largest_draw(tank).and_then(|draw| fall_m_s(draw.value)),
        drawn: drawn_m3_s(tank, signals)
            .and_then(fall_m_s)
            .map(|m_s| Drawn {
                m_s,
                read_every: read_every(plan, tank),
            }),
    }
}

/// What is known beyond doubt to be drawn: no hand value, no meter at its end, no contact that was kept.
fn drawn_m3_s(tank: &TankPlan, signals: &impl Signals) -> Option<f64> {
    let metered = |id| {
        let said = signals.value(id);
        said.value.filter(|_| said.quality() == Quality::Good)
    };
    let contact = |id| {
        let said = signals.contact(id);
        ContactValue {
            on: said.on.filter(|_| said.quality() == Quality::Good),
            ..said
        }
    };
    let flows = Flows::of(&tank.streams, metered, contact);
    // What runs backwards through an inlet is drawn too.
    let back = flows.in_m3_s.map_or(0.0, |inflow| (-inflow).max(0.0));
    flows.out_m3_s.map(|out| out + back)
}

/// How seldom what says so is read.
fn read_every(plan: &Plan, tank: &TankPlan) -> Duration {
    let of_contact = |condition: &Condition| plan.contacts[condition.contact.index()].poll_every;
    let each = tank.streams.iter().map(|stream| match &stream.flow {
        StreamFlow::Unknown => Duration::ZERO,
        StreamFlow::Metered(id) => plan.transmitters[id.index()].poll_every,
        StreamFlow::Running { when, .. } => when.iter().map(of_contact).max().unwrap_or_default(),
    });
    each.max().unwrap_or_default()
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
