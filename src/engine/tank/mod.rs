//! One tank: the arrangement of transmitters, densities, balance and vessel, and what it makes of them.
//!
//! [`Working::of`] is the one way from pressures to a level: the running engine, `convert` and
//! `sheet` all go through it. It is a pure function; what needs memory (rate, jumps, a flooded leg) is
//! added by [`TankState`].

mod budget;
mod conditions;
mod contents;
mod state;
mod stated;

pub use conditions::{LIQUID_KG_M3, Signals, Surroundings};
pub use contents::{Contents, contents, level_range, usable_marks, visible_levels};
pub use state::{Changes, TankState};
pub use stated::Stated;

use super::ids::TransmitterId;
use super::plan::{Hookup, Leg as LegPlan, LegFill, Measures, Plan, Port, Reads, TankPlan};
use super::quality::{Reason, Reasons};
use super::signal::{Bound, SignalValue};
use crate::physics::balance::{Balance, Leg, Seen, Terms, UpperTap};
use crate::physics::budget::Budget;
use crate::physics::liquid::Density;
use crate::quantity::{AbsolutePressure, DifferentialPressure, Length, metres};

/// Where no accuracy is given, how far a reading may be off before lines are called unsound: this share
/// of the vessel's height. Common practice, no source.
const MARGIN_WITHOUT_ACCURACY: f64 = 0.01;
/// The least such margin, for rounding and noise.
const LEAST_MARGIN_M: f64 = 0.001;

/// One reading worked out, with everything that went into it.
#[derive(Clone, Copy, Debug)]
pub struct Working {
    pub surroundings: Surroundings,
    pub high_leg: Density,
    pub low_leg: Density,
    pub balance: Balance,
    pub upper: UpperTap,
    /// High minus low; none where a pressure is missing.
    pub difference: Option<DifferentialPressure>,
    /// The level that the difference solves to, wherever that is; none without a difference.
    pub solved: Option<Length>,
    /// What can be said of the level, from the site's zero.
    pub level: Option<Length>,
    pub level_at_least: Option<Length>,
    pub level_at_most: Option<Length>,
    pub terms: Option<Terms>,
    pub budget: Budget,
    pub reasons: Reasons,
}

impl Working {
    pub fn of(plan: &Plan, tank: &TankPlan, signals: &impl Signals) -> Self {
        let mut surroundings = Surroundings::of(plan, tank, signals);
        let (high, low, upper) = legs(tank);
        let high_leg = surroundings.leg(plan, tank, &high.leg.fill, signals);
        let low_leg = match low.fill {
            LowSide::OpenAir => surroundings.air,
            LowSide::Leg(fill) => surroundings.leg(plan, tank, fill, signals),
        };
        let balance = Balance {
            gravity: plan.gravity,
            liquid: surroundings.liquid.value,
            gas: surroundings.gas.value,
            high: Leg {
                tap: high.leg.tap,
                diaphragm: high.at,
                fill: high_leg.value,
            },
            low: Leg {
                tap: low.tap,
                diaphragm: low.at,
                fill: low_leg.value,
            },
        };
        let (difference, bound, reasons) = difference(plan, tank, &surroundings, signals);
        let mut working = Self {
            reasons: reasons_of(reasons, surroundings.reasons, difference),
            surroundings,
            high_leg,
            low_leg,
            balance,
            upper,
            difference,
            solved: None,
            level: None,
            level_at_least: None,
            level_at_most: None,
            terms: None,
            budget: Budget::default(),
        };
        if let Some(difference) = difference {
            working.take(plan, tank, difference, bound);
        }
        working
    }

    /// Expanded uncertainty of the level, k = 2.
    pub fn level_uncertainty(&self) -> Length {
        self.budget.expanded()
    }

    fn take(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        difference: DifferentialPressure,
        bound: Bound,
    ) {
        if !self.balance.is_solvable() {
            self.reasons.add(Reason::DensitiesTooClose);
            return;
        }
        let solved = self.balance.solve(difference);
        self.solved = Some(solved);
        self.terms = Some(self.balance.terms(solved));
        self.budget = budget::level(plan, tank, self, solved);
        match self
            .balance
            .seen(difference, self.margin(plan, tank), self.upper)
        {
            Seen::OutsideIntactLines => self.reasons.add(Reason::OutsideIntactLines),
            Seen::AtOrBelowTap(most) => {
                self.reasons.add(Reason::AtOrBelowTap);
                self.level_at_most = Some(most);
            }
            Seen::AtOrAboveUpperTap(least) => {
                self.reasons.add(Reason::AtOrAboveUpperTap);
                self.level_at_least = Some(least);
            }
            Seen::Level(level) => self.take_level(tank, level, bound),
        }
    }

    fn take_level(&mut self, tank: &TankPlan, solved: Length, bound: Bound) {
        let level = solved * tank.correction.gain + tank.correction.offset;
        let top = tank.vessel.top() - tank.zero;
        if level > top + self.level_uncertainty().max(metres(LEAST_MARGIN_M)) {
            self.reasons.add(Reason::AboveVessel);
            self.level_at_least = Some(top);
            return;
        }
        match bound {
            Bound::Exact => self.level = Some(level),
            Bound::AtMost => self.level_at_most = Some(level),
            Bound::AtLeast => self.level_at_least = Some(level),
        }
    }

    /// How far the solved level may leave the taps before the lines are called unsound.
    pub fn margin(&self, plan: &Plan, tank: &TankPlan) -> Length {
        let accurate = tank
            .hookup
            .transmitters()
            .all(|id| plan.transmitters[id.index()].accuracy.is_some());
        let height = tank.vessel.top() - tank.vessel.bottom();
        let otherwise = if accurate {
            metres(0.0)
        } else {
            height * MARGIN_WITHOUT_ACCURACY
        };
        self.level_uncertainty()
            .max(otherwise)
            .max(metres(LEAST_MARGIN_M))
    }
}

/// Solved levels without a pressure say why; a bad pressure's reasons are the reading's.
fn reasons_of(
    pressures: Reasons,
    conditions: Reasons,
    difference: Option<DifferentialPressure>,
) -> Reasons {
    let mut reasons = pressures;
    if difference.is_some() {
        reasons.merge(conditions);
    }
    reasons
}

struct HighSide<'a> {
    at: Length,
    leg: &'a LegPlan,
}

struct LowEnd<'a> {
    tap: Length,
    at: Length,
    fill: LowSide<'a>,
}

enum LowSide<'a> {
    OpenAir,
    Leg(&'a LegFill),
}

/// The two legs of the tank's hookup, and what its upper tap does.
fn legs(tank: &TankPlan) -> (HighSide<'_>, LowEnd<'_>, UpperTap) {
    match &tank.hookup {
        Hookup::Vented { at, high, vent, .. } => {
            // With air above the liquid zL drops out; otherwise it is the vent.
            let tap = vent.unwrap_or(tank.vessel.top() - tank.zero);
            (
                HighSide { at: *at, leg: high },
                LowEnd {
                    tap,
                    at: *at,
                    fill: LowSide::OpenAir,
                },
                UpperTap::Open,
            )
        }
        Hookup::Differential { at, high, low, .. } => (
            HighSide { at: *at, leg: high },
            low_end(low, *at),
            upper_tap(low, *at),
        ),
        Hookup::TwoTransmitter { bottom, headspace } => (
            HighSide {
                at: bottom.at,
                leg: &bottom.leg,
            },
            low_end(&headspace.leg, headspace.at),
            upper_tap(&headspace.leg, headspace.at),
        ),
    }
}

fn low_end(leg: &LegPlan, at: Length) -> LowEnd<'_> {
    LowEnd {
        tap: leg.tap,
        at,
        fill: LowSide::Leg(&leg.fill),
    }
}

/// A dry leg with any length below its tap floods; every other one saturates.
fn upper_tap(leg: &LegPlan, at: Length) -> UpperTap {
    match leg.fill {
        LegFill::Gas if leg.tap > at => UpperTap::Floods,
        _ => UpperTap::Saturates,
    }
}

/// The pressure difference of the hookup, whether it is only a bound, and the reasons of its inputs.
fn difference(
    plan: &Plan,
    tank: &TankPlan,
    surroundings: &Surroundings,
    signals: &impl Signals,
) -> (Option<DifferentialPressure>, Bound, Reasons) {
    let air = |at: Length| surroundings.air_pressure(plan, at);
    match &tank.hookup {
        Hookup::Vented {
            transmitter, at, ..
        } => {
            let said = signals.value(*transmitter);
            let difference = absolute(plan, *transmitter, said, air(*at)).map(|p| p - air(*at));
            (difference, said.bound, said.reasons)
        }
        Hookup::Differential {
            transmitter,
            reversed,
            ..
        } => {
            let said = signals.value(*transmitter);
            let difference = said.value.map(DifferentialPressure::pascals);
            if *reversed {
                (difference.map(|d| -d), opposite(said.bound), said.reasons)
            } else {
                (difference, said.bound, said.reasons)
            }
        }
        Hookup::TwoTransmitter { bottom, headspace } => {
            two_pressures(plan, bottom, headspace, air, signals)
        }
    }
}

fn two_pressures(
    plan: &Plan,
    bottom: &Port,
    headspace: &Port,
    air: impl Fn(Length) -> AbsolutePressure,
    signals: &impl Signals,
) -> (Option<DifferentialPressure>, Bound, Reasons) {
    let (high, low) = (
        signals.value(bottom.transmitter),
        signals.value(headspace.transmitter),
    );
    let mut reasons = high.reasons;
    reasons.merge(low.reasons);
    let p_high = absolute(plan, bottom.transmitter, high, air(bottom.at));
    let p_low = absolute(plan, headspace.transmitter, low, air(headspace.at));
    let bound = match (high.bound, opposite(low.bound)) {
        (bound, Bound::Exact) | (Bound::Exact, bound) => bound,
        (first, second) if first == second => first,
        // One pushes up, the other down: nothing is known.
        _ => return (None, Bound::Exact, reasons),
    };
    (
        p_high.zip(p_low).map(|(high, low)| high - low),
        bound,
        reasons,
    )
}

fn opposite(bound: Bound) -> Bound {
    match bound {
        Bound::Exact => Bound::Exact,
        Bound::AtMost => Bound::AtLeast,
        Bound::AtLeast => Bound::AtMost,
    }
}

/// A pressure transmitter's value above vacuum.
fn absolute(
    plan: &Plan,
    id: TransmitterId,
    said: SignalValue,
    air: AbsolutePressure,
) -> Option<AbsolutePressure> {
    let value = said.value?;
    Some(match plan.transmitters[id.index()].reads {
        Reads::Pressure(Measures::Absolute) => AbsolutePressure::pascals(value),
        Reads::Pressure(Measures::SealedGauge(sealed)) => {
            AbsolutePressure::pascals(value + sealed.0.value)
        }
        _ => AbsolutePressure::pascals(value + air.0.value),
    })
}
