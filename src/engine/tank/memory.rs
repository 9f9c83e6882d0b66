//! What is remembered of a tank's hookups: legs, trusted densities, and whether the levels disagree.

use super::{Signals, Working};
use crate::engine::Now;
use crate::engine::checks::leg::{Leg, LegBounds, LegWatch};
use crate::engine::checks::seen::Flows;
use crate::engine::plan::TankPlan;
use crate::engine::quality::Reason;
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
    /// A dry leg: whether it holds, what a flooded one means; true where it was just found flooded.
    pub fn look_at_leg(
        &mut self,
        tank: &TankPlan,
        working: &mut Working,
        signals: &impl Signals,
        now: Now,
        sampled: bool,
    ) -> bool {
        if working.upper != UpperTap::Floods {
            return false;
        }
        let Some(solved) = working.solved else {
            return false;
        };
        let found = sampled
            && self
                .leg
                .take(now.up, solved.value, &leg_bounds(tank, working, signals));
        match self.leg.leg() {
            Leg::Flooded => {
                working.level = None;
                working.level_at_most = None;
                working.level_at_least = Some(tank.vessel.level(working.balance.low.tap));
                working.reasons.add(Reason::LowLegFlooded);
            }
            Leg::Unproven | Leg::Dry => {
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

fn leg_bounds(tank: &TankPlan, working: &Working, signals: &impl Signals) -> LegBounds {
    let upper = working.balance.low.tap;
    // v = Q/A, at the upper tap where the level would begin to fall.
    let level = tank.vessel.level(upper);
    let area_m2 = working.vessel(tank).area(level + tank.zero).value;
    let fall_m_s = |draw_m3_s: f64| Some(draw_m3_s / area_m2).filter(|fall| fall.is_finite());
    let flows = Flows::known(&tank.streams, signals);
    LegBounds {
        tap_m: working.balance.high.tap.value,
        upper_tap_m: upper.value,
        uncertainty_m: working.level_uncertainty().value,
        fastest_fall_m_s: largest_draw(tank).and_then(|draw| fall_m_s(draw.value)),
        drawn_m_s: flows.out_m3_s.and_then(fall_m_s),
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
