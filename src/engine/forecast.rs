//! Forecast: when the level reaches the next limit, if what flows now goes on flowing.
//!
//! The net flow is taken as constant, not the rate of level: a narrowing vessel fills faster towards its
//! end. Which rate: [`trend`](super::trend). An interval comes from the rate's own standard error; where the rate is less than three of them,
//! or the limit is further away than a week, nothing is said.

use super::plan::{Limit, TankPlan, Watch};
use super::rate::Rate;
use super::tank::usable_marks;
use crate::physics::vessel::VesselAt;
use crate::quantity::{Length, Time, metres, seconds};

/// The interval is the rate ± this many standard errors.
const COVERED: f64 = 2.0;
/// Beyond this, whatever flows now says nothing. Common practice, no source.
pub const HORIZON_S: f64 = 7.0 * 86_400.0;

/// When the next limit in the direction of travel is reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// The limit, from the site's zero.
    pub limit: Length,
    pub rises: bool,
    pub after: Time,
    pub at_least: Time,
    /// None where the slowest rate that is still possible does not get there within the horizon.
    pub at_most: Option<Time>,
}

/// Of several forecasts the one that leaves the least time.
pub fn soonest(forecasts: impl Iterator<Item = Forecast>) -> Option<Forecast> {
    forecasts.min_by(|a, b| a.after.value.total_cmp(&b.after.value))
}

/// The forecast to the nearest limit ahead: the tank's level alarms, and its overflow mark or its heel.
pub fn next_limit(
    tank: &TankPlan,
    vessel: VesselAt<'_>,
    level: Length,
    rate: Rate,
) -> Option<Forecast> {
    let ahead = limits(tank).filter(|limit| {
        if rate.per_second > 0.0 {
            *limit > level
        } else {
            *limit < level
        }
    });
    let nearest = ahead.min_by(|a, b| {
        (*a - level)
            .value
            .abs()
            .total_cmp(&(*b - level).value.abs())
    })?;
    reach((vessel, tank.zero), level, rate, nearest)
}

/// The forecast to the overflow mark, or to the vessel's top where there is none; none while not rising.
pub fn overflow(
    tank: &TankPlan,
    vessel: VesselAt<'_>,
    level: Length,
    rate: Rate,
) -> Option<Forecast> {
    let (_, _, _, overflow) = usable_marks(tank);
    if rate.per_second > 0.0 {
        reach((vessel, tank.zero), level, rate, overflow)
    } else {
        None
    }
}

fn limits(tank: &TankPlan) -> impl Iterator<Item = Length> + '_ {
    let (_, _, heel, overflow) = usable_marks(tank);
    let alarms = tank
        .alarms
        .iter()
        .filter(|alarm| alarm.watch == Watch::Level);
    let alarms = alarms.flat_map(|alarm| match alarm.limit {
        Limit::Above(limit) | Limit::Below(limit) => [Some(limit), None],
        Limit::Outside(low, high) => [Some(low), Some(high)],
        Limit::BadQuality | Limit::Overdue | Limit::Is(_) => [None, None],
    });
    alarms.flatten().map(metres).chain([heel, overflow])
}

/// The forecast to one level ahead; none while the level does not clearly move towards it.
pub fn reach(
    (vessel, zero): (VesselAt<'_>, Length),
    level: Length,
    rate: Rate,
    limit: Length,
) -> Option<Forecast> {
    if !rate.has_direction() {
        return None;
    }
    let volume = |level: Length| vessel.volume(level + zero).value;
    // Q = v·A(h); t = (V(limit) − V(h)) / Q
    let area_m2 = vessel.area(level + zero).value;
    let to_go_m3 = volume(limit) - volume(level);
    let after = |per_second: f64| to_go_m3 / (per_second * area_m2);
    let margin = COVERED * rate.standard_error * rate.per_second.signum();
    let after_s = after(rate.per_second);
    let within = |time_s: f64| time_s.is_finite() && (0.0..=HORIZON_S).contains(&time_s);
    if !within(after_s) {
        return None;
    }
    Some(Forecast {
        limit,
        rises: rate.per_second > 0.0,
        after: seconds(after_s),
        at_least: seconds(after(rate.per_second + margin)),
        at_most: Some(after(rate.per_second - margin))
            .filter(|time_s| within(*time_s))
            .map(seconds),
    })
}
