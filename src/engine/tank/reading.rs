//! A tank's reading: what is known of it at one moment, from the working that was chosen.

use super::contents::{Marked, contents_by};
use super::state::TankState;
use super::{Chosen, Working};
use crate::engine::Now;
use crate::engine::forecast;
use crate::engine::plan::{LiquidPlan, Source, TankPlan};
use crate::engine::quality::{Quality, Reason, Reasons};
use crate::engine::rate::Rate;
use crate::engine::reading::Reading;
use crate::quantity::{Length, metres_per_second};

/// What a reading hangs on, besides the workings of its hookups: where all of it is the same, so is the reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct MadeOf {
    /// What it comes from, and whose uncertainty it has.
    hookups: (usize, usize),
    reasons: Reasons,
    /// Of the working that was chosen, with what is remembered of its hookup; and the interface.
    levels: [Option<Length>; 4],
    rate: Option<Rate>,
    /// What forecasts go by.
    ahead: [Option<Rate>; 2],
    moves: bool,
}

impl TankState {
    /// What the reading of a choice would be made of.
    pub(super) fn made_of(&self, chosen: &Chosen, working: &Working) -> MadeOf {
        MadeOf {
            hookups: (chosen.pick.hookup, chosen.pick.uncertainty_of),
            reasons: working.reasons,
            levels: [
                working.level,
                working.level_at_least,
                working.level_at_most,
                chosen.interface,
            ],
            rate: self.trend.rate(),
            ahead: self.trend.ahead(),
            moves: self.jump.is_steady(),
        }
    }

    /// But for its number and time.
    pub(super) fn reading_of(
        &self,
        tank: &TankPlan,
        chosen: &Chosen,
        working: &Working,
    ) -> Reading {
        let quality = working.reasons.quality();
        let level = working.level.filter(|_| quality < Quality::Bad);
        // A bound stands even where the level itself is bad: above the vessel, a flooded leg.
        let bound = |bound: Option<Length>| {
            bound.filter(|_| level.is_none() && !working.reasons.has(Reason::WaitingForData))
        };
        let vessel = working.vessel(tank);
        let marked = || self.marked.unwrap_or_else(|| Marked::of(tank, vessel));
        let contents = level.map(|level| contents_by(&marked(), tank, working, level));
        // A rate that a step is in, or from before it, says nothing of the flow.
        let known = level.is_some() && self.jump.is_steady();
        let slope = self.trend.rate().filter(|_| known);
        let rate = slope.map(|slope| metres_per_second(slope.per_second));
        let ahead = self.trend.ahead().into_iter().flatten();
        let ahead = ahead
            .filter(|_| known)
            .filter_map(|rate| Some((rate, level?)));
        let next_limit = forecast::soonest(
            ahead
                .clone()
                .filter_map(|(rate, level)| forecast::next_limit(tank, vessel, level, rate)),
        );
        let time_to_overflow = forecast::soonest(
            ahead.filter_map(|(rate, level)| forecast::overflow(tank, vessel, level, rate)),
        )
        .map(|forecast| forecast.after);
        let net_flow = rate
            .zip(level)
            .map(|(rate, level)| rate * vessel.area(level + tank.zero));
        Reading {
            number: self.reading.number,
            time: self.reading.time,
            quality,
            reasons: working.reasons,
            level,
            level_at_least: bound(working.level_at_least),
            level_at_most: bound(working.level_at_most),
            fill: contents.map(|contents| contents.fill),
            volume: contents.map(|contents| contents.volume),
            standard_volume: contents.and_then(|contents| contents.standard_volume),
            usable: contents.map(|contents| contents.usable),
            ullage: contents.map(|contents| contents.ullage),
            mass: contents.map(|contents| contents.mass),
            interface: chosen.interface,
            density: Some(working.liquid.value),
            temperature: (has_temperature(&tank.liquid) || tank.vessel.expands())
                .then_some(working.surroundings.liquid_temperature),
            rate,
            rate_standard_error: slope.map(|slope| metres_per_second(slope.standard_error)),
            net_flow,
            next_limit,
            time_to_overflow,
            differential_pressure: working.difference,
            level_uncertainty: level.map(|_| working.level_uncertainty()),
            volume_uncertainty: contents.map(|contents| contents.volume_uncertainty),
            mass_uncertainty: contents.map(|contents| contents.mass_uncertainty),
            terms: working.terms,
        }
    }
}

/// Whether the liquid's temperature is known: given, or that of boiling.
fn has_temperature(liquid: &LiquidPlan) -> bool {
    liquid.liquid.needs_temperature()
        || liquid.liquid.is_saturated()
        || (liquid.measured.is_some() && liquid.temperature != Source::Ambient)
}

/// What is known before anything was read.
pub(super) fn nothing_yet(now: Now) -> Reading {
    Reading {
        number: 0,
        time: now.utc,
        quality: Quality::Bad,
        reasons: Reason::WaitingForData.into(),
        level: None,
        level_at_least: None,
        level_at_most: None,
        interface: None,
        fill: None,
        volume: None,
        standard_volume: None,
        usable: None,
        ullage: None,
        mass: None,
        density: None,
        temperature: None,
        rate: None,
        rate_standard_error: None,
        net_flow: None,
        next_limit: None,
        time_to_overflow: None,
        differential_pressure: None,
        level_uncertainty: None,
        volume_uncertainty: None,
        mass_uncertainty: None,
        terms: None,
    }
}
