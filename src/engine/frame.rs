//! What a tank looks like: its vessel, taps, marks and limits, for a drawing to scale. It never changes in a run.

use super::plan::{Limit, Marks, Plan, Priority, TankPlan, Watch};
use super::tank::{Arrangement, level_range};
use crate::physics::vessel::Vessel;
use crate::quantity::{Length, metres};
use std::sync::Arc;

/// All levels count from the site's zero.
#[derive(Clone, Debug)]
pub struct Frame {
    pub vessel: Vessel,
    /// Height of the site's zero above the vessel's own.
    pub zero: Length,
    pub bottom: Length,
    pub top: Length,
    pub marks: Marks,
    /// Where lines leave the vessel, from the bottom up; an open side has none.
    pub taps: Vec<Length>,
    /// The transmitters whose readings make the level.
    pub tags: Vec<Arc<str>>,
    /// Of the alarms that watch the level, in the order of the site file.
    pub limits: Vec<FrameLimit>,
    /// What it can hold, where there is a choice.
    pub products: Vec<Arc<str>>,
    pub looks: Looks,
}

/// How people see its level: where the sight glass counts from and how long it is, and where ullages hang from.
#[derive(Clone, Copy, Debug)]
pub struct Looks {
    pub glass_zero: Length,
    pub glass_length: Option<Length>,
    pub gauge_point: Option<Length>,
}

/// One limit of a level alarm; one that watches both sides has two.
#[derive(Clone, Debug)]
pub struct FrameLimit {
    pub code: Arc<str>,
    pub priority: Priority,
    pub at: Length,
    pub above: bool,
}

impl Frame {
    pub fn of(plan: &Plan, tank: &TankPlan) -> Self {
        let (bottom, top) = level_range(tank);
        let products = tank.products.iter();
        Self {
            vessel: tank.vessel.clone(),
            zero: tank.zero,
            bottom,
            top,
            marks: tank.marks,
            taps: taps(plan, tank, (bottom, top)),
            tags: tags(plan, tank),
            limits: limits(tank),
            products: products.map(|product| Arc::clone(&product.name)).collect(),
            looks: Looks {
                glass_zero: tank.rounds.glass.zero_at,
                glass_length: tank.rounds.glass.length,
                gauge_point: tank.rounds.dip.point_at,
            },
        }
    }
}

fn taps(plan: &Plan, tank: &TankPlan, (bottom, top): (Length, Length)) -> Vec<Length> {
    let elevation = |level: Length| tank.vessel.elevation(level);
    let mut taps: Vec<Length> = Vec::new();
    for hookup in &tank.hookups {
        let arrangement = Arrangement::of(
            &hookup.hookup,
            (elevation(bottom), elevation(top)),
            plan.ambient.pressure_at,
        );
        let open = arrangement.low_is_open();
        taps.push(arrangement.high.tap);
        taps.extend(arrangement.middle.map(|end| end.tap));
        taps.extend((!open).then_some(arrangement.low.tap));
    }
    let mut taps: Vec<Length> = taps
        .into_iter()
        .map(|tap| tank.vessel.level(tap))
        .filter(|tap| *tap >= bottom && *tap <= top)
        .collect();
    taps.sort_by(|a, b| a.value.total_cmp(&b.value));
    taps.dedup();
    taps
}

fn tags(plan: &Plan, tank: &TankPlan) -> Vec<Arc<str>> {
    let mut tags: Vec<Arc<str>> = Vec::new();
    for id in tank.transmitters() {
        let tag = &plan.transmitters[id.index()].tag;
        if !tags.contains(tag) {
            tags.push(Arc::clone(tag));
        }
    }
    tags
}

fn limits(tank: &TankPlan) -> Vec<FrameLimit> {
    let of_level = tank
        .alarms
        .iter()
        .filter(|alarm| alarm.watch == Watch::Level);
    let both = of_level.flat_map(|alarm| {
        let sides = match alarm.limit {
            Limit::Above(at) => [Some((at, true)), None],
            Limit::Below(at) => [Some((at, false)), None],
            Limit::Outside(low, high) => [Some((low, false)), Some((high, true))],
            Limit::BadQuality | Limit::Overdue | Limit::Is(_) => [None, None],
        };
        sides.into_iter().flatten().map(|(at, above)| FrameLimit {
            code: Arc::clone(&alarm.code),
            priority: alarm.priority,
            at: metres(at),
            above,
        })
    });
    both.collect()
}
