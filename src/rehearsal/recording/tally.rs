//! Counts what a replay brings, for its summary.

use crate::engine::alarm::AlarmState;
use crate::engine::{Event, EventKind, Plan, Quality, Reading, TankId};
use crate::quantity::Timestamp;
use crate::wire::replay::{ReplayForm, ReplayedAlarm, ReplayedTank};
use crate::wire::time;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A level and when it was there.
type Extreme = Option<(f64, Timestamp)>;

#[derive(Debug, Default)]
struct TankTally {
    good: u64,
    uncertain: u64,
    bad: u64,
    least: Extreme,
    most: Extreme,
}

#[derive(Debug)]
pub struct Tally {
    pub rows: u64,
    pub left_out: u64,
    pub after_a_gap: u64,
    pub first: Option<Timestamp>,
    pub last: Option<Timestamp>,
    tanks: Vec<TankTally>,
    /// By tank and code: how often, and when first.
    alarms: BTreeMap<(Arc<str>, Arc<str>), (u64, Timestamp)>,
    events: BTreeMap<EventKind, u64>,
}

impl Tally {
    pub fn new(plan: &Plan) -> Self {
        Self {
            rows: 0,
            left_out: 0,
            after_a_gap: 0,
            first: None,
            last: None,
            tanks: plan.tanks.iter().map(|_| TankTally::default()).collect(),
            alarms: BTreeMap::new(),
            events: BTreeMap::new(),
        }
    }

    pub fn reading(&mut self, tank: TankId, reading: &Reading) {
        let tally = &mut self.tanks[tank.index()];
        match reading.quality {
            Quality::Good => tally.good += 1,
            Quality::Uncertain => tally.uncertain += 1,
            Quality::Bad => tally.bad += 1,
        }
        let Some(level_m) = reading.level.map(|level| level.value) else {
            return;
        };
        let here = Some((level_m, reading.time));
        if tally.least.is_none_or(|(least, _)| level_m < least) {
            tally.least = here;
        }
        if tally.most.is_none_or(|(most, _)| level_m > most) {
            tally.most = here;
        }
    }

    pub fn event(&mut self, event: &Event) {
        *self.events.entry(event.kind).or_default() += 1;
        let is_told = event.kind == EventKind::Alarm
            && event.to == Some(AlarmState::Unacknowledged)
            && event.from != event.to;
        if let (true, Some(tank), Some(code)) = (is_told, &event.tank, &event.code) {
            let key = (Arc::clone(tank), Arc::clone(code));
            self.alarms.entry(key).or_insert((0, event.time)).0 += 1;
        }
    }

    /// What is known of the replay itself; the rest is left as it is by default.
    pub fn form(self, plan: &Plan) -> ReplayForm {
        let span = self.first.zip(self.last);
        let tanks = plan.tanks.iter().zip(self.tanks);
        let alarms = self.alarms.into_iter();
        ReplayForm {
            rows: self.rows,
            rows_left_out: self.left_out,
            rows_after_a_gap: self.after_a_gap,
            from: self.first.map(time),
            to: self.last.map(time),
            span_s: span.map_or(0.0, |(from, to)| to.duration_since(from).as_secs_f64()),
            tanks: tanks
                .map(|(plan, tally)| ReplayedTank {
                    tank: plan.name.to_string(),
                    good: tally.good,
                    uncertain: tally.uncertain,
                    bad: tally.bad,
                    level_min_m: tally.least.map(|(level, _)| level),
                    level_min_time: tally.least.map(|(_, at)| time(at)),
                    level_max_m: tally.most.map(|(level, _)| level),
                    level_max_time: tally.most.map(|(_, at)| time(at)),
                })
                .collect(),
            alarms: alarms
                .map(|((tank, code), (annunciated, first))| ReplayedAlarm {
                    tank: tank.to_string(),
                    code: code.to_string(),
                    annunciated,
                    first: time(first),
                })
                .collect(),
            events: self
                .events
                .into_iter()
                .map(|(kind, count)| (kind.name(), count))
                .collect(),
            ..ReplayForm::default()
        }
    }
}
