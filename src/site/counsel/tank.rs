//! A tank as the rules look at it: the levels that its alarms stand for, what can flow, what was heard of its noise.

use super::finding::{Finding, Notes};
use super::heard::Heard;
use super::nominal::Nominal;
use crate::engine::plan::{AlarmPlan, Limit, Plan, Source, StreamFlow, TankPlan, Watch};
use crate::engine::tank::{level_range, usable_marks, visible_levels};
use crate::site::Site;
use crate::site::problem::Problem;
use crate::site::settings::ShowUnits;
use std::sync::Arc;

/// Levels nearer to each other than this are the same, m.
pub const SAME_M: f64 = 1e-6;

/// A level that an alarm's limit stands for.
#[derive(Clone, Copy, Debug)]
pub struct Threshold {
    /// The alarm's place in the plan.
    pub alarm: usize,
    /// The limit's key in the site file.
    pub key: &'static str,
    pub level_m: f64,
    /// Active above it.
    pub is_high: bool,
}

#[derive(Debug)]
pub struct Advised<'a> {
    pub plan: &'a Plan,
    pub show: ShowUnits,
    pub index: usize,
    pub tank: &'a TankPlan,
    pub heard: Option<&'a Heard>,
    pub nominal: Option<Nominal<'a>>,
    pub thresholds: Vec<Threshold>,
    /// The most that can flow in, and out, m³/s; none where nothing says it.
    pub fill_m3_s: Option<f64>,
    pub draw_m3_s: Option<f64>,
}

impl<'a> Advised<'a> {
    pub fn new(site: &'a Site, index: usize, tank: &'a TankPlan, heard: Option<&'a Heard>) -> Self {
        let plan = &site.plan;
        let mut advised = Self {
            plan,
            show: site.show,
            index,
            tank,
            heard,
            nominal: Nominal::of(plan, tank),
            thresholds: Vec::new(),
            fill_m3_s: flow(plan, tank, true),
            draw_m3_s: flow(plan, tank, false),
        };
        let alarms = tank.alarms.iter().enumerate();
        advised.thresholds = alarms
            .flat_map(|(place, alarm)| advised.of(place, alarm))
            .collect();
        advised
    }

    /// The alarms that the site file writes, with their places.
    pub fn alarms(&self) -> impl Iterator<Item = (usize, &'a AlarmPlan)> + use<'a> {
        let alarms = self.tank.alarms.iter().enumerate();
        alarms.filter(|(_, alarm)| !matches!(alarm.watch, Watch::Measurement | Watch::Transfer))
    }

    /// About an alarm's limit: what, why, and what to do.
    pub fn finding(
        &self,
        rule: &'static str,
        threshold: Threshold,
        notes: &Notes<'_>,
        what: String,
        why: impl Into<String>,
        cure: impl Into<String>,
    ) -> Finding {
        let at = (threshold.alarm, threshold.key);
        self.finding_at(rule, at, notes, what, why, cure)
    }

    /// About one key of an alarm, by its place in the plan.
    pub fn finding_at(
        &self,
        rule: &'static str,
        (alarm, key): (usize, &'static str),
        notes: &Notes<'_>,
        what: String,
        why: impl Into<String>,
        cure: impl Into<String>,
    ) -> Finding {
        let place = notes.places.alarm(self.index, alarm, key);
        Finding {
            rule,
            tank: Some(Arc::clone(&self.tank.name)),
            alarm: Some(Arc::clone(&self.tank.alarms[alarm].code)),
            problem: Problem::new(place, what).why(why).cure(cure),
        }
    }

    pub fn alarm(&self, threshold: Threshold) -> &'a AlarmPlan {
        &self.tank.alarms[threshold.alarm]
    }

    /// The lowest and the highest level that is seen, by any of the hookups, m.
    pub fn sight(&self) -> (f64, f64) {
        let (bottom, top) = level_range(self.tank);
        let seen = self.tank.hookups.iter();
        let seen = seen.map(|hookup| visible_levels(self.tank, &hookup.hookup));
        let widest = seen.reduce(|(low, high), (other_low, other_high)| {
            (low.min(other_low), high.max(other_high))
        });
        let (low, high) = widest.unwrap_or((bottom, top));
        (low.value, high.value)
    }

    fn of(&self, place: usize, alarm: &AlarmPlan) -> Vec<Threshold> {
        let (low, high) = match alarm.limit {
            Limit::Above(limit) => (None, Some((limit, "above"))),
            Limit::Below(limit) => (Some((limit, "below")), None),
            Limit::Outside(low, high) => (Some((low, "outside")), Some((high, "outside"))),
            Limit::BadQuality | Limit::Overdue | Limit::Is(_) => (None, None),
        };
        let threshold = |(value, key), above: bool| {
            Some(Threshold {
                alarm: place,
                key,
                level_m: self.level_of(alarm.watch, value)?,
                // Little ullage is a high level.
                is_high: above != (alarm.watch == Watch::Ullage),
            })
        };
        let low = low.and_then(|low| threshold(low, false));
        let high = high.and_then(|high| threshold(high, true));
        low.into_iter().chain(high).collect()
    }

    /// The level at which a watched quantity has that value, m; none where it is no measure of level.
    fn level_of(&self, watch: Watch, value: f64) -> Option<f64> {
        if watch == Watch::Level {
            return Some(value);
        }
        let nominal = self.nominal.as_ref()?;
        let volume = |level_m: f64| nominal.volume_and_area(level_m).0;
        let (low, high, _, overflow) = usable_marks(self.tank);
        let volume_m3 = match watch {
            Watch::Volume => value,
            Watch::Mass => value / nominal.density_kg_m3(),
            Watch::Ullage => volume(overflow.value) - value,
            // fill = (V − V(working_low)) / (V(working_high) − V(working_low))
            Watch::Fill => {
                let (low_m3, high_m3) = (volume(low.value), volume(high.value));
                low_m3 + value * (high_m3 - low_m3)
            }
            _ => return None,
        };
        Some(nominal.level_of_volume(volume_m3))
    }

    /// σ of the level as it was heard, m; none where nothing was heard of its transmitters.
    pub fn level_noise_m(&self) -> Option<f64> {
        let (nominal, heard) = (self.nominal.as_ref()?, self.heard?);
        let mut ids: Vec<_> = nominal.hookup.hookup.transmitters().collect();
        ids.sort();
        ids.dedup();
        let parts = ids.into_iter().filter_map(|id| {
            let sigma = heard.sigma(id)?;
            Some(sigma * nominal.sensitivity(id)?)
        });
        // Noises of transmitters are independent of each other.
        parts
            .map(f64::abs)
            .reduce(f64::hypot)
            .filter(|sigma_m| *sigma_m > 0.0)
    }

    /// σ of the liquid's temperature, K: that of the mean of its tags.
    pub fn temperature_noise_k(&self) -> Option<f64> {
        let source = match &self.tank.liquid.temperature {
            Source::Ambient => &self.plan.ambient.temperature,
            other => other,
        };
        let tags = source.tags();
        let heard = self.heard?;
        let parts = tags.iter().filter_map(|id| heard.sigma(*id));
        let together = parts.reduce(f64::hypot)?;
        Some(together / tags.len() as f64)
    }
}

/// The most that all streams of a direction carry, else what the jump check is told.
fn flow(plan: &Plan, tank: &TankPlan, fills: bool) -> Option<f64> {
    let streams = tank.streams.iter().filter(|stream| stream.fills == fills);
    let each: Vec<Option<f64>> = streams
        .map(|stream| {
            let stated = stream.at_most.map(|flow| flow.value);
            stated.or(match &stream.flow {
                StreamFlow::Running { rate, .. } => Some(rate.value),
                StreamFlow::Metered(id) => {
                    let span = plan.transmitters[id.index()].span;
                    span.map(|(low, high)| low.abs().max(high.abs()))
                }
                StreamFlow::Unknown => None,
            })
        })
        .collect();
    let sum = each.iter().copied().sum::<Option<f64>>();
    let jump = tank.jump.map(|jump| match fills {
        true => jump.fill_at_most.value,
        false => jump.draw_at_most.value,
    });
    sum.filter(|_| !each.is_empty())
        .or(jump)
        .filter(|flow_m3_s| *flow_m3_s > 0.0)
}
