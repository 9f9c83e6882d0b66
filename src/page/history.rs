//! What the journal remembers of a tank, as the trends need it. Reading a file waits: never in a task of its own.

use super::shown::Shown;
use super::trend::{Point, Trend, columns, seconds};
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::TankView;
use crate::engine::{Event, EventKind};
use crate::journal::{Filter, JournalError, Reader};
use crate::quantity::{Timestamp, Unit};
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

/// How far back a trend goes: its name, and for how long.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    pub name: &'static str,
    pub hours: u32,
}

pub const SPANS: &[Span] = &[
    Span {
        name: "hour",
        hours: 1,
    },
    Span {
        name: "shift",
        hours: 8,
    },
    Span {
        name: "day",
        hours: 24,
    },
    Span {
        name: "week",
        hours: 168,
    },
    Span {
        name: "month",
        hours: 720,
    },
];

/// Beyond a day each minute's least and most are enough.
const IN_MINUTES_H: u32 = 24;
/// So many events of alarms are looked at.
const EVENTS: usize = 20_000;

impl Span {
    pub fn named(name: &str) -> Self {
        let found = SPANS.iter().find(|span| span.name == name);
        *found.unwrap_or(&SPANS[1])
    }

    fn length(self) -> Duration {
        Duration::from_secs(u64::from(self.hours) * 3600)
    }
}

/// What is drawn of a tank: level, its rate, and the pressure of each of its transmitters.
pub fn trends(
    file: &Path,
    tank: &TankView,
    shown: &Shown,
    span: Span,
    now: Timestamp,
) -> Result<Vec<Trend>, JournalError> {
    let from = now.checked_sub(span.length()).unwrap_or(now);
    let reader = Reader::open(file)?;
    let alarms = alarms(&reader, &tank.name, from, now)?;
    let blank = |name: &'static str, unit: String| Trend {
        name,
        unit,
        from_s: seconds(from),
        to_s: seconds(now),
        alarms: alarms.clone(),
        times: times(shown, span, from, now),
        ..Trend::default()
    };
    let level = points(&reader, ("tank", &tank.name, "level_m"), (from, now), span)?;
    let in_unit = |points: &[Point], unit: &Unit| {
        let shown: Vec<Point> = points.iter().map(|point| converted(point, unit)).collect();
        columns(&shown, seconds(from), seconds(now))
    };
    let unit = shown.units.level;
    let mut of_level = blank("Level", super::shown::symbol(unit));
    of_level.columns = in_unit(&level, unit);
    of_level.limits = (tank.frame.limits.iter())
        .map(|limit| (unit.from_si(limit.at.value), limit.code.to_string()))
        .collect();
    let mut rate = blank("Rate of level", "mm/min".to_owned());
    rate.columns = rates(&level, seconds(from), seconds(now));
    let mut all = vec![of_level, rate];
    for tag in &tank.frame.tags {
        let values = points(&reader, ("transmitter", tag, "value_si"), (from, now), span)?;
        let unit = shown.units.pressure;
        let mut trend = blank(
            "Pressure",
            format!("{} ({tag})", super::shown::symbol(unit)),
        );
        trend.columns = in_unit(&values, unit);
        all.push(trend);
    }
    Ok(all)
}

fn converted(point: &Point, unit: &Unit) -> Point {
    Point {
        least: point.least.map(|si| unit.from_si(si)),
        most: point.most.map(|si| unit.from_si(si)),
        ..*point
    }
}

/// A series' samples; over long spans its minutes, and samples for what is not rolled up yet.
fn points(
    reader: &Reader,
    (kind, name, quantity): (&str, &str, &str),
    (from, to): (Timestamp, Timestamp),
    span: Span,
) -> Result<Vec<Point>, JournalError> {
    let series = reader.series()?.into_iter();
    let mut series = series.filter(|(_, k, n, q)| (&**k, &**n, &**q) == (kind, name, quantity));
    let Some((id, ..)) = series.next() else {
        return Ok(Vec::new());
    };
    let mut points = Vec::new();
    let mut fine_from = from;
    if span.hours > IN_MINUTES_H {
        for (time, minute) in reader.minutes(id, from, to)? {
            points.push(Point {
                time_s: seconds(time) + 30.0,
                least: Some(f64::from(minute.least)),
                most: Some(f64::from(minute.most)),
            });
            fine_from = time.checked_add(Duration::from_secs(60)).unwrap_or(time);
        }
    }
    for (time, sample) in reader.samples(id, fine_from, to)? {
        let value = sample.value.map(f64::from);
        points.push(Point {
            time_s: seconds(time),
            least: value,
            most: value,
        });
    }
    Ok(points)
}

/// mm/min between the middles of columns that follow each other.
fn rates(level: &[Point], from_s: f64, to_s: f64) -> Vec<Option<super::trend::Column>> {
    let levels = columns(level, from_s, to_s);
    let step = (to_s - from_s) / levels.len() as f64;
    let middle = |column: super::trend::Column| f64::midpoint(column.least, column.most);
    let mut rates = vec![None; levels.len()];
    for place in 1..levels.len().saturating_sub(1) {
        if let (Some(before), Some(after)) = (levels[place - 1], levels[place + 1]) {
            let rate = (middle(after) - middle(before)) / (2.0 * step) * 60_000.0;
            rates[place] = Some(super::trend::Column {
                least: rate,
                most: rate,
            });
        }
    }
    rates
}

/// When any alarm of the tank was active.
fn alarms(
    reader: &Reader,
    tank: &str,
    from: Timestamp,
    to: Timestamp,
) -> Result<Vec<(f64, f64)>, JournalError> {
    let filter = Filter {
        from: Some(from),
        to: Some(to),
        tank: Some(tank.to_owned()),
        kind: Some(EventKind::Alarm),
        ..Filter::default()
    };
    let events = reader.last(&filter, EVENTS)?;
    Ok(active(&events, seconds(from), seconds(to)))
}

fn active(events: &[Event], from_s: f64, to_s: f64) -> Vec<(f64, f64)> {
    let is_active = |state: Option<AlarmState>| state.is_some_and(AlarmState::is_active);
    let mut since: BTreeMap<&str, Option<f64>> = BTreeMap::new();
    let mut spans = Vec::new();
    for event in events.iter().filter(|event| !event.is_test()) {
        let code = event.code.as_deref().unwrap_or("");
        let began = since
            .entry(code)
            .or_insert_with(|| is_active(event.from).then_some(from_s));
        match (is_active(event.to), *began) {
            (true, None) => *began = Some(seconds(event.time)),
            (false, Some(at)) => {
                spans.push((at, seconds(event.time)));
                *began = None;
            }
            _ => {}
        }
    }
    spans.extend(since.values().flatten().map(|began| (*began, to_s)));
    spans
}

/// Where the axis of time has a line: at even hours or days of the site's clocks.
fn times(shown: &Shown, span: Span, from: Timestamp, to: Timestamp) -> Vec<(f64, String)> {
    let (every_s, form) = match span.hours {
        0..=1 => (600, "%H:%M"),
        2..=8 => (3_600, "%H:%M"),
        9..=24 => (4 * 3_600, "%H:%M"),
        25..=168 => (86_400, "%a %-d"),
        _ => (5 * 86_400, "%-d %b"),
    };
    let mut times = Vec::new();
    let offset_s = i64::from(shown.local(from).offset().seconds());
    let first = (from.as_second() + offset_s).div_euclid(every_s) + 1;
    let mut at = first * every_s - offset_s;
    while at < to.as_second() {
        if let Ok(time) = Timestamp::from_second(at) {
            times.push((at as f64, shown.local(time).strftime(form).to_string()));
        }
        at += every_s;
    }
    times
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(second: i64, code: &str, from: AlarmState, to: AlarmState) -> Event {
        Event {
            number: 1,
            time: Timestamp::from_second(second).expect("a time"),
            kind: EventKind::Alarm,
            tank: Some("clearwell".into()),
            code: Some(code.into()),
            from: Some(from),
            to: Some(to),
            person: None,
            text: String::new(),
        }
    }

    #[test]
    fn alarms_that_began_before_and_that_last_are_seen_whole() {
        use AlarmState::{Acknowledged, Normal, Unacknowledged};
        let events = [
            event(110, "LAL", Unacknowledged, Normal),
            event(120, "LAH", Normal, Unacknowledged),
            event(130, "LAH", Unacknowledged, Acknowledged),
        ];
        let mut spans = active(&events, 100.0, 200.0);
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        assert_eq!(spans, [(100.0, 110.0), (120.0, 200.0)]);
    }

    #[test]
    fn a_rate_is_the_slope_between_columns() {
        let points: Vec<Point> = (0..3600)
            .map(|second| {
                let level = 3.0 + f64::from(second) * 1e-3 / 60.0;
                Point {
                    time_s: f64::from(second),
                    least: Some(level),
                    most: Some(level),
                }
            })
            .collect();
        let rates = rates(&points, 0.0, 3600.0);
        let rate = rates[100].expect("a rate");
        assert!((rate.most - 1.0).abs() < 0.1, "{rate:?}");
    }
}
