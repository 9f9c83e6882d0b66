//! Performance figures of alarms over a span of time (ANSI/ISA-18.2, IEC 62682, EEMUA 191), pure over events.
//!
//! An annunciation is an alarm's event that comes to unacknowledged from any other state. Events before the
//! span tell how alarms stood at its beginning and count for nothing else; what follows from a test is
//! counted apart. Targets are from memory of those standards.

mod flood;
mod one;

use super::AlarmState;
use crate::engine::plan::Priority;
use crate::engine::{Event, EventKind};
use crate::quantity::Timestamp;
use flood::Floods;
use one::One;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

/// Annunciations a person can deal with, and the most (EEMUA 191 and ISA-18.2, from memory).
pub const A_DAY: (f64, f64) = (150.0, 300.0);
pub const AN_HOUR: (f64, f64) = (6.0, 12.0);
pub const TEN_MINUTES: (f64, f64) = (1.0, 2.0);
/// More than this in an hour, or in ten minutes, is too much to deal with (ISA-18.2, from memory).
pub const BUSY_HOUR: u32 = 30;
pub const BUSY_TEN_MINUTES: u32 = 10;
/// Largest shares (ISA-18.2, from memory): of busy hours and of busy ten minutes, of time in flood, of the ten
/// most frequent.
pub const BUSY_SHARE: f64 = 0.01;
pub const FLOOD_SHARE: f64 = 0.01;
pub const TEN_MOST_SHARE: f64 = 0.05;
/// How priorities should be spread, from low to highest; low, medium, high about 80, 15, 5 (ISA-18.2, from
/// memory).
pub const SPREAD: [(Priority, f64); 4] = [
    (Priority::Low, 0.80),
    (Priority::Medium, 0.15),
    (Priority::High, 0.05),
    (Priority::Highest, 0.01),
];
/// How many of the most frequent are listed.
const MOST: usize = 10;

/// Tank and code; no tank where it is of the site itself.
pub type Name = (Option<Arc<str>>, Arc<str>);

/// Takes events in their order.
#[derive(Clone, Debug)]
pub struct Tally {
    from: Timestamp,
    to: Timestamp,
    alarms: BTreeMap<Name, One>,
    hours: BTreeMap<i64, u32>,
    tens: BTreeMap<i64, u32>,
    floods: Floods,
    acknowledged_s: Vec<f64>,
    tests: u64,
    starts: u64,
}

/// The figures of a span.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    pub from: Timestamp,
    pub to: Timestamp,
    pub annunciated: u64,
    /// Means over the span.
    pub a_day: f64,
    pub an_hour: f64,
    pub in_ten_minutes: f64,
    /// The most in one hour and in ten minutes, counted by the clock from the span's beginning.
    pub most_in_an_hour: u32,
    pub most_in_ten_minutes: u32,
    pub busy_hours: u64,
    pub busy_hours_share: f64,
    pub busy_ten_minutes: u64,
    pub busy_ten_minutes_share: f64,
    pub floods: u64,
    pub longest_flood: Duration,
    pub flood_share: f64,
    /// With how often; by falling count, then by name.
    pub most_frequent: Vec<(Name, u64)>,
    pub most_frequent_share: f64,
    /// Came three times within a minute, with how often they came so.
    pub chattering: Vec<(Name, u64)>,
    /// Annunciations that were over within ten seconds, before anybody answered.
    pub fleeting: u64,
    /// Active for more than a day: each with its longest time.
    pub stale: Vec<(Name, Duration)>,
    /// By priority, from low to highest; none where the site does not know the alarm any more.
    pub priorities: Vec<(Option<Priority>, u64)>,
    pub acknowledged: u64,
    pub median_acknowledge: Option<Duration>,
    pub acknowledge_95: Option<Duration>,
    /// Went back before anybody answered; and wait for an answer at the end.
    pub returned_unanswered: u64,
    pub unanswered: u64,
    /// Hidden at the end.
    pub shelved: u64,
    pub suppressed: u64,
    pub out_of_service: u64,
    /// Annunciations that a test brought about; not among the others.
    pub tests: u64,
    /// How often the program was started: nobody watched before.
    pub starts: u64,
}

impl Tally {
    pub fn new(from: Timestamp, to: Timestamp) -> Self {
        Self {
            from,
            to,
            alarms: BTreeMap::new(),
            hours: BTreeMap::new(),
            tens: BTreeMap::new(),
            floods: Floods::default(),
            acknowledged_s: Vec::new(),
            tests: 0,
            starts: 0,
        }
    }

    pub fn take(&mut self, event: &Event) {
        let time = event.time;
        if time >= self.to {
            return;
        }
        let counts = time >= self.from;
        if event.kind == EventKind::Start && counts {
            self.starts += 1;
        }
        let (EventKind::Alarm, Some(code), Some(from), Some(to)) =
            (event.kind, &event.code, event.from, event.to)
        else {
            return;
        };
        let annunciates = to == AlarmState::Unacknowledged && from != to;
        if event.is_test() {
            self.tests += u64::from(annunciates && counts);
            return;
        }
        let name = (event.tank.clone(), Arc::clone(code));
        let one = self.alarms.entry(name).or_default();
        if let Some(waited_s) = one.take(from, to, event.person.is_some(), time, counts) {
            self.acknowledged_s.push(waited_s);
        }
        if annunciates && counts {
            let since_s = seconds(time, self.from);
            *self.hours.entry((since_s / 3600.0) as i64).or_default() += 1;
            *self.tens.entry((since_s / 600.0) as i64).or_default() += 1;
            self.floods.take(since_s);
        }
    }

    /// `priority`: of an alarm by its name, where the site still has it.
    pub fn finish(mut self, priority: impl Fn(&Name) -> Option<Priority>) -> Figures {
        let span_s = seconds(self.to, self.from).max(f64::MIN_POSITIVE);
        self.floods.end(span_s);
        for one in self.alarms.values_mut() {
            one.end(self.to);
        }
        let counted = |count: fn(&One) -> u64| self.alarms.values().map(count).sum::<u64>();
        let annunciated = counted(|one| one.annunciated);
        let busy = |bins: &BTreeMap<i64, u32>, most: u32| {
            bins.values().filter(|count| **count > most).count() as u64
        };
        let (busy_hours, busy_tens) = (
            busy(&self.hours, BUSY_HOUR),
            busy(&self.tens, BUSY_TEN_MINUTES),
        );
        let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
        let most_frequent = self.listed(|one| one.annunciated, MOST);
        let of_most: u64 = most_frequent.iter().map(|(_, count)| count).sum();
        let standing = |state: AlarmState| {
            let standing = self.alarms.values().filter(|one| one.state == Some(state));
            standing.count() as u64
        };
        let waited = percentiles(&mut self.acknowledged_s.clone());
        Figures {
            from: self.from,
            to: self.to,
            annunciated,
            a_day: annunciated as f64 * 86_400.0 / span_s,
            an_hour: annunciated as f64 * 3600.0 / span_s,
            in_ten_minutes: annunciated as f64 * 600.0 / span_s,
            most_in_an_hour: self.hours.values().copied().max().unwrap_or(0),
            most_in_ten_minutes: self.tens.values().copied().max().unwrap_or(0),
            busy_hours,
            busy_hours_share: share(busy_hours as f64, (span_s / 3600.0).ceil()),
            busy_ten_minutes: busy_tens,
            busy_ten_minutes_share: share(busy_tens as f64, (span_s / 600.0).ceil()),
            floods: self.floods.count,
            longest_flood: Duration::from_secs_f64(self.floods.longest_s),
            flood_share: self.floods.total_s / span_s,
            most_frequent_share: share(of_most as f64, annunciated as f64),
            most_frequent,
            chattering: self.listed(|one| one.chattered, usize::MAX),
            fleeting: counted(|one| one.fleeting),
            stale: self.stale(),
            priorities: self.priorities(priority),
            acknowledged: self.acknowledged_s.len() as u64,
            median_acknowledge: waited.map(|(median, _)| median),
            acknowledge_95: waited.map(|(_, late)| late),
            returned_unanswered: counted(|one| one.returned_unanswered),
            unanswered: self.alarms.values().filter(|one| one.waits()).count() as u64,
            shelved: standing(AlarmState::Shelved),
            suppressed: standing(AlarmState::Suppressed),
            out_of_service: standing(AlarmState::OutOfService),
            tests: self.tests,
            starts: self.starts,
        }
    }

    fn listed(&self, count: fn(&One) -> u64, most: usize) -> Vec<(Name, u64)> {
        let counted = self
            .alarms
            .iter()
            .map(|(name, one)| (name.clone(), count(one)));
        let mut listed: Vec<(Name, u64)> = counted.filter(|(_, count)| *count > 0).collect();
        // The sort is stable: names of one count stay in their order.
        listed.sort_by(|(_, a), (_, b)| b.cmp(a));
        listed.truncate(most);
        listed
    }

    fn stale(&self) -> Vec<(Name, Duration)> {
        let stale = self.alarms.iter().filter(|(_, one)| one.is_stale());
        stale
            .map(|(name, one)| (name.clone(), one.longest_active))
            .collect()
    }

    fn priorities(
        &self,
        priority: impl Fn(&Name) -> Option<Priority>,
    ) -> Vec<(Option<Priority>, u64)> {
        let mut counts: BTreeMap<Option<Priority>, u64> = SPREAD
            .iter()
            .map(|(priority, _)| (Some(*priority), 0))
            .collect();
        for (name, one) in self.alarms.iter().filter(|(_, one)| one.annunciated > 0) {
            *counts.entry(priority(name)).or_default() += one.annunciated;
        }
        let (unknown, known): (Vec<_>, Vec<_>) = counts
            .into_iter()
            .partition(|(priority, _)| priority.is_none());
        known.into_iter().chain(unknown).collect()
    }
}

/// The median and the 95th percentile, by nearest rank.
fn percentiles(values: &mut [f64]) -> Option<(Duration, Duration)> {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let rank = (share * values.len() as f64).ceil() as usize;
        values
            .get(rank.max(1) - 1)
            .map(|value| Duration::from_secs_f64(value.max(0.0)))
    };
    at(0.5).zip(at(0.95))
}

fn seconds(to: Timestamp, from: Timestamp) -> f64 {
    (to.as_nanosecond() - from.as_nanosecond()) as f64 / 1e9
}

#[cfg(test)]
mod tests;
