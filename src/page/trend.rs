//! A trend as a picture: least and most of each column of time, gaps as gaps, limits, and when alarms were active.
//!
//! Everything is drawn here, so that it needs no script; the same numbers stand in words beside it.

use crate::quantity::Timestamp;
use maud::{Markup, html};
use std::fmt::Write;

/// The picture, in its own units; it is as wide as the page lets it be.
const WIDE: f64 = 720.0;
const HIGH: f64 = 200.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 10.0;
const FOOT: f64 = 26.0;
/// Columns of time that are told apart.
pub const COLUMNS: usize = 320;
/// Without any value for so long it is a gap, s, whatever was said of its quality.
const SILENCE_S: f64 = 300.0;

/// What is drawn: values over time, in the unit that they are shown in.
#[derive(Debug, Default)]
pub struct Trend {
    pub name: &'static str,
    pub unit: String,
    pub from_s: f64,
    pub to_s: f64,
    pub columns: Vec<Option<Column>>,
    /// Horizontal lines: value and name.
    pub limits: Vec<(f64, String)>,
    /// When an alarm of the tank was active.
    pub alarms: Vec<(f64, f64)>,
    /// Where on the axis a time stands, and how it is called.
    pub times: Vec<(f64, String)>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    pub least: f64,
    pub most: f64,
}

/// A value at a time; none where nothing was known from then on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    pub time_s: f64,
    pub least: Option<f64>,
    pub most: Option<f64>,
}

pub fn seconds(time: Timestamp) -> f64 {
    time.as_millisecond() as f64 / 1000.0
}

/// Sorts points into columns. A column without a point goes on as the one before, unless nothing was known.
pub fn columns(points: &[Point], from_s: f64, to_s: f64) -> Vec<Option<Column>> {
    let step = (to_s - from_s) / COLUMNS as f64;
    let mut columns: Vec<Option<Column>> = vec![None; COLUMNS];
    let mut known = [false; COLUMNS];
    for point in points {
        let place = ((point.time_s - from_s) / step).floor();
        if !(0.0..COLUMNS as f64).contains(&place) {
            continue;
        }
        let place = place as usize;
        known[place] = true;
        if let (Some(least), Some(most)) = (point.least, point.most) {
            let held = columns[place].get_or_insert(Column { least, most });
            held.least = held.least.min(least);
            held.most = held.most.max(most);
        }
    }
    let (mut last, mut since) = (None, 0.0);
    for place in 0..COLUMNS {
        if known[place] {
            (last, since) = (columns[place], 0.0);
        } else {
            since += step;
            let goes_on = since < SILENCE_S.max(2.0 * step);
            let is_last = place + 1 == COLUMNS;
            columns[place] = last.filter(|_| goes_on && !is_last);
        }
    }
    columns
}

impl Trend {
    /// Least and most of everything that is known; none where nothing is.
    pub fn range(&self) -> Option<(f64, f64)> {
        let known = self.columns.iter().flatten();
        known.fold(None, |range, column| {
            let (least, most) = range.unwrap_or((column.least, column.most));
            Some((column.least.min(least), column.most.max(most)))
        })
    }

    pub fn picture(&self) -> Markup {
        let Some((least, most)) = self.range() else {
            return html! { p.sub { (self.name) ": nothing was recorded in this time." } };
        };
        let (low, high, step) = axis(least, most);
        let y = |value: f64| TOP + (high - value) / (high - low) * (HIGH - TOP - FOOT);
        let width = WIDE - LEFT - RIGHT;
        let x = |share: f64| LEFT + share.clamp(0.0, 1.0) * width;
        let at = |time_s: f64| x((time_s - self.from_s) / (self.to_s - self.from_s));
        let decimals = (-step.log10().floor()).clamp(0.0, 6.0) as usize;
        let ticks = (0..=12).map(|n| (low / step).ceil() * step + f64::from(n) * step);
        let label = format!(
            "{}, {least:.decimals$} to {most:.decimals$} {}",
            self.name,
            self.unit,
            decimals = decimals + 1
        );
        html! {
            figure.trend {
                figcaption { (self.name) ", " (self.unit) }
                svg viewBox=(format!("0 0 {WIDE} {HIGH}")) role="img" aria-label=(label) {
                    @for (from, to) in &self.alarms {
                        rect.alarmed x=(format!("{:.1}", at(*from))) y=(TOP) height=(HIGH - TOP - FOOT)
                            width=(format!("{:.1}", (at(*to) - at(*from)).max(1.5))) { title { "an alarm was active" } }
                    }
                    @for (from, to) in self.gaps() {
                        rect fill="url(#hatch)" opacity="0.2" x=(format!("{:.1}", x(from))) y=(TOP) height=(HIGH - TOP - FOOT)
                            width=(format!("{:.1}", x(to) - x(from))) { title { "no data" } }
                    }
                    @for tick in ticks.take_while(|tick| *tick <= high + step * 1e-6) {
                        path.grid d=(format!("M{LEFT} {:.1}H{}", y(tick), WIDE - RIGHT)) {}
                        text x=(LEFT - 6.0) y=(format!("{:.1}", y(tick) + 4.0)) text-anchor="end" { (format!("{tick:.decimals$}")) }
                    }
                    @for (time, name) in &self.times {
                        path.grid d=(format!("M{:.1} {TOP}V{}", at(*time), HIGH - FOOT)) {}
                        text x=(format!("{:.1}", at(*time))) y=(HIGH - 8.0) text-anchor="middle" { (name) }
                    }
                    @for (limit, name) in self.limits.iter().filter(|(limit, _)| *limit >= low && *limit <= high) {
                        path.limit d=(format!("M{LEFT} {:.1}H{}", y(*limit), WIDE - RIGHT)) {}
                        text.limit x=(LEFT + 4.0) y=(format!("{:.1}", y(*limit) - 3.0)) { (name) }
                    }
                    path.curve d=(self.curve(x, y)) {}
                }
            }
        }
    }

    /// One closed band a stretch without a gap: along the most, back along the least.
    fn curve(&self, x: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> String {
        let mut path = String::new();
        let middle = |place: usize| x((place as f64 + 0.5) / COLUMNS as f64);
        let mut place = 0;
        while place < self.columns.len() {
            let begin = place;
            while place < self.columns.len() && self.columns[place].is_some() {
                place += 1;
            }
            let stretch = &self.columns[begin..place];
            let known = || (begin..).zip(stretch.iter().flatten());
            for (count, (at, column)) in known().enumerate() {
                let letter = if count == 0 { 'M' } else { 'L' };
                // Writing to a string never fails.
                let _ = write!(path, "{letter}{:.1} {:.1}", middle(at), y(column.most));
            }
            for (at, column) in known().collect::<Vec<_>>().into_iter().rev() {
                let _ = write!(path, "L{:.1} {:.1}", middle(at), y(column.least));
            }
            if !stretch.is_empty() {
                path.push('z');
            }
            place += 1;
        }
        path
    }

    /// Stretches without data, as shares of the width.
    fn gaps(&self) -> Vec<(f64, f64)> {
        let mut gaps: Vec<(usize, usize)> = Vec::new();
        for (place, _) in (0..)
            .zip(&self.columns)
            .filter(|(_, column)| column.is_none())
        {
            match gaps.last_mut().filter(|gap| gap.1 == place) {
                Some(gap) => gap.1 = place + 1,
                None => gaps.push((place, place + 1)),
            }
        }
        let share = |place: usize| place as f64 / COLUMNS as f64;
        let gaps = gaps.into_iter();
        gaps.map(|(from, to)| (share(from), share(to))).collect()
    }
}

/// An axis that holds these values: its ends and its step of 1, 2 or 5 times a power of ten.
fn axis(least: f64, most: f64) -> (f64, f64, f64) {
    let reach = (most - least)
        .max(most.abs().max(least.abs()) * 2e-3)
        .max(1e-6);
    let middle = f64::midpoint(least, most);
    let (low, high) = (
        (middle - 0.55 * reach).min(least),
        (middle + 0.55 * reach).max(most),
    );
    let rough = (high - low) / 4.0;
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|times| times * power)
        .find(|step| *step >= rough);
    (low, high, step.unwrap_or(power))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(time_s: f64, value: Option<f64>) -> Point {
        Point {
            time_s,
            least: value,
            most: value,
        }
    }

    #[test]
    fn columns_keep_least_and_most_and_gaps_stay_gaps() {
        let span = COLUMNS as f64 * 10.0;
        let points = [
            point(1.0, Some(3.0)),
            point(4.0, Some(5.0)),
            point(25.0, None),
            point(101.0, Some(4.0)),
        ];
        let columns = columns(&points, 0.0, span);
        assert_eq!(
            columns[0],
            Some(Column {
                least: 3.0,
                most: 5.0
            })
        );
        // It goes on until something is said of it.
        assert_eq!(columns[1], columns[0]);
        assert_eq!(columns[2..10], [None; 8]);
        assert_eq!(
            columns[10],
            Some(Column {
                least: 4.0,
                most: 4.0
            })
        );
        // Silence is no value for ever.
        assert!(columns[30].is_some() && columns[45].is_none());
    }

    #[test]
    fn gaps_are_hatched_and_the_curve_is_broken() {
        let mut trend = Trend {
            name: "Level",
            unit: "m".to_owned(),
            from_s: 0.0,
            to_s: 100.0,
            columns: vec![
                Some(Column {
                    least: 1.0,
                    most: 2.0
                });
                COLUMNS
            ],
            ..Trend::default()
        };
        trend.columns[100..110].fill(None);
        assert_eq!(trend.gaps(), [(100.0 / 320.0, 110.0 / 320.0)]);
        assert_eq!(trend.curve(|x| x, |y| y).matches('z').count(), 2);
        assert_eq!(trend.range(), Some((1.0, 2.0)));
        let empty = Trend {
            columns: vec![None; COLUMNS],
            ..trend
        };
        assert!(
            empty
                .picture()
                .into_string()
                .contains("nothing was recorded")
        );
    }

    #[test]
    fn an_axis_holds_its_values_and_has_round_steps() {
        for (least, most) in [
            (3.0, 3.4),
            (0.0, 0.0),
            (-0.0001, 0.0001),
            (12_000.0, 98_000.0),
        ] {
            let (low, high, step) = axis(least, most);
            assert!(low <= least && high >= most && low < high, "{least} {most}");
            let lead = step / 10f64.powf(step.log10().floor() + 1e-9);
            assert!(
                [1.0, 2.0, 5.0]
                    .iter()
                    .any(|n| (lead.round() - n).abs() < 1e-6),
                "{step}"
            );
        }
    }
}
