//! A tank's level over the script: the true one as water, the shown one as the pen's line over it.

use super::columns::{Column, Columns, Extent};
use super::pen::{Anchor, Pen};
use super::scale::{Along, LEFT, RIGHT, Upward, apart};
use crate::engine::Quality;
use crate::engine::plan::{Limit, TankPlan, Watch};
use crate::quantity::Unit;
use std::time::Duration;

pub const HEIGHT: f64 = 190.0;
/// A limit that nothing came near is drawn if the picture grows no more than so by it.
const GROWS_AT_MOST: f64 = 3.0;
/// The least that is shown of a vessel's height, so that noise looks like noise.
const LEAST_SHARE: f64 = 0.02;

/// A height that a line is drawn at, in the shown unit.
#[derive(Clone, Debug)]
struct Line {
    name: String,
    at: f64,
    /// Where the alarm goes back; the same where there is no deadband.
    back: f64,
    is_alarm: bool,
}

/// Draws it; says which limits are out of the picture.
pub fn level(
    pen: &mut Pen,
    along: Along,
    top: f64,
    tank: &TankPlan,
    columns: &Columns,
    unit: &Unit,
) -> Option<String> {
    let lines = lines(tank, unit);
    let scale = scale(top, tank, columns, &lines, unit);
    grid(pen, along, scale, unit);
    let read: Vec<(f64, &Column)> = columns
        .read()
        .map(|(at, column)| (along.x(at), column))
        .collect();
    water(pen, scale, &read, unit);
    let (seen, out): (Vec<&Line>, Vec<&Line>) = lines.iter().partition(|line| scale.holds(line.at));
    limits(pen, scale, &seen, unit);
    trace(pen, scale, &read, unit);
    bounds(pen, scale, &read, unit);
    pen.rectangle("frame", (LEFT, top), (RIGHT, top + HEIGHT), "");
    let out: Vec<String> = out
        .iter()
        .map(|line| format!("{} {}", line.name, number(line.at, unit)))
        .collect();
    (!out.is_empty()).then(|| format!("outside the picture: {}", out.join(", ")))
}

fn number(at: f64, unit: &Unit) -> String {
    let text = format!("{at:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} {}", unit.symbol)
}

/// Limits on the level, with their deadbands, and the overflow.
fn lines(tank: &TankPlan, unit: &Unit) -> Vec<Line> {
    let on_level = tank
        .alarms
        .iter()
        .filter(|alarm| alarm.watch == Watch::Level);
    let mut lines: Vec<Line> = on_level
        .flat_map(|alarm| {
            let line = |at: f64, back: f64| Line {
                name: alarm.code.to_string(),
                at: unit.from_si(at),
                back: unit.from_si(back),
                is_alarm: true,
            };
            match alarm.limit {
                Limit::Above(at) => vec![line(at, at - alarm.deadband)],
                Limit::Below(at) => vec![line(at, at + alarm.deadband)],
                Limit::Outside(low, high) => {
                    let (back_low, back_high) = (low + alarm.deadband, high - alarm.deadband);
                    vec![line(low, back_low), line(high, back_high)]
                }
                Limit::BadQuality | Limit::Overdue | Limit::Is(_) => Vec::new(),
            }
        })
        .collect();
    lines.extend(tank.marks.overflow.map(|overflow| Line {
        name: "overflow".to_owned(),
        at: unit.from_si(overflow.value),
        back: unit.from_si(overflow.value),
        is_alarm: false,
    }));
    lines.sort_by(|one, other| other.at.total_cmp(&one.at));
    lines
}

/// What was seen, and the next limit on either side unless that makes everything else small.
fn scale(top: f64, tank: &TankPlan, columns: &Columns, lines: &[Line], unit: &Unit) -> Upward {
    let tall = unit.from_si((tank.vessel.top() - tank.vessel.bottom()).value);
    let seen = columns.extent().unwrap_or(Extent {
        low: 0.0,
        high: 0.0,
    });
    let (mut low, mut high) = (unit.from_si(seen.low), unit.from_si(seen.high));
    let least = tall * LEAST_SHARE;
    if high - low < least {
        let middle = (low + high) / 2.0;
        (low, high) = (middle - least / 2.0, middle + least / 2.0);
    }
    let room = (high - low) * GROWS_AT_MOST;
    let above = lines.iter().rev().find(|line| line.at >= high);
    let below = lines.iter().find(|line| line.at <= low);
    let (mut new_low, mut new_high) = (low, high);
    if let Some(line) = above.filter(|line| line.at - low <= room) {
        new_high = line.at;
    }
    if let Some(line) = below.filter(|line| new_high - line.at <= room) {
        new_low = line.at;
    }
    let margin = (new_high - new_low) * 0.06;
    Upward {
        low: new_low - margin,
        high: new_high + margin,
        top,
        height: HEIGHT,
    }
}

fn grid(pen: &mut Pen, along: Along, scale: Upward, unit: &Unit) {
    let bottom = scale.top + scale.height;
    for tick in along.ticks() {
        let x = along.x(tick);
        pen.path("grid", &format!("M{x:.1} {:.1}V{bottom:.1}", scale.top));
    }
    let (ticks, decimals) = scale.ticks();
    for tick in ticks {
        let y = scale.y(tick);
        pen.path("grid", &format!("M{LEFT} {y:.1}H{RIGHT}"));
        let text = format!("{tick:.decimals$} {}", unit.symbol);
        pen.text("small", (LEFT - 8.0, y + 4.0), Anchor::End, &text);
    }
}

/// The true level: its surface, and what stands below it.
fn water(pen: &mut Pen, scale: Upward, read: &[(f64, &Column)], unit: &Unit) {
    let mut run = Run::default();
    for (x, column) in read {
        if let Some(truth) = column.truth {
            run.reach(*x, truth, scale, unit);
        }
    }
    let (Some((first, _)), Some((last, _))) = (read.first(), read.last()) else {
        return;
    };
    let surface = run.finish();
    let bottom = scale.top + scale.height;
    pen.path(
        "water",
        &format!("{surface}L{last:.1} {bottom:.1}L{first:.1} {bottom:.1}Z"),
    );
    pen.path("surface", &surface);
}

fn limits(pen: &mut Pen, scale: Upward, seen: &[&Line], unit: &Unit) {
    let mut heights: Vec<f64> = seen.iter().map(|line| scale.y(line.at) + 4.0).collect();
    apart(&mut heights, 13.0);
    for (line, height) in seen.iter().zip(heights) {
        let (y, back) = (scale.y(line.at), scale.y(line.back));
        let class = if line.is_alarm { "limit" } else { "mark" };
        if line.is_alarm && (y - back).abs() > 0.5 {
            pen.rectangle(
                "band",
                (LEFT, y.min(back)),
                (RIGHT, y.max(back)),
                "deadband",
            );
        }
        pen.path(class, &format!("M{LEFT} {y:.1}H{RIGHT}"));
        let text = format!("{} {}", line.name, number(line.at, unit));
        pen.text("small", (RIGHT + 8.0, height), Anchor::Start, &text);
    }
}

/// The shown level: dashed while it is uncertain, and a gap where there is none.
fn trace(pen: &mut Pen, scale: Upward, read: &[(f64, &Column)], unit: &Unit) {
    let (mut run, mut class) = (Run::default(), "pen");
    for (x, column) in read {
        let Some(shown) = column.shown else {
            pen.path(class, &std::mem::take(&mut run).finish());
            continue;
        };
        let now = match column.worst {
            Some(Quality::Good) => "pen",
            _ => "pen doubted",
        };
        if now != class {
            let joint = run.last;
            pen.path(class, &std::mem::take(&mut run).finish());
            class = now;
            if let Some((x, y)) = joint {
                run.go(x, y);
            }
        }
        run.reach(*x, shown, scale, unit);
        if column.blank {
            // There was a level in this column, and a reading without one.
            pen.path(class, &std::mem::take(&mut run).finish());
        }
    }
    pen.path(class, &run.finish());
}

/// Where a level is known from one side only: dotted, with an arrow to the side on which it is.
fn bounds(pen: &mut Pen, scale: Upward, read: &[(f64, &Column)], unit: &Unit) {
    type Bound = fn(&Column) -> Option<f64>;
    let sides: [(Bound, f64, &str); 2] = [
        (|column| column.at_least, -1.0, "at least this"),
        (|column| column.at_most, 1.0, "at most this"),
    ];
    for (bound, down, says) in sides {
        let mut run = Run::default();
        for (x, column) in read {
            match bound(column).filter(|_| column.shown.is_none()) {
                Some(level) => {
                    let at = scale.y(unit.from_si(level));
                    if run.last.is_none() {
                        let arrow = format!(
                            "M{x:.1} {at:.1}m-4 {:.1}h8l-4 {:.1}Z",
                            5.0 * down,
                            7.0 * down
                        );
                        pen.spot("solid", &arrow, says);
                    }
                    run.go(*x, at);
                }
                None => pen.path("bound", &std::mem::take(&mut run).finish()),
            }
        }
        pen.path("bound", &run.finish());
    }
}

/// A line without a break.
#[derive(Default)]
struct Run {
    path: String,
    last: Option<(f64, f64)>,
}

impl Run {
    /// To all that is in a column, from the nearer end of it.
    fn reach(&mut self, x: f64, extent: Extent, scale: Upward, unit: &Unit) {
        let [low, high] = [extent.low, extent.high].map(|level| scale.y(unit.from_si(level)));
        let from_low = self
            .last
            .is_none_or(|(_, y)| (y - low).abs() <= (y - high).abs());
        let (first, then) = if from_low { (low, high) } else { (high, low) };
        self.go(x, first);
        if (first - then).abs() > 0.2 {
            self.go(x, then);
        }
    }

    fn go(&mut self, x: f64, y: f64) {
        let command = if self.path.is_empty() { 'M' } else { 'L' };
        self.path.push_str(&format!("{command}{x:.1} {y:.1}"));
        self.last = Some((x, y));
    }

    fn finish(self) -> String {
        // A single point is a short dash: else it would not be seen.
        match self.path.contains('L') || self.path.is_empty() {
            true => self.path,
            false => format!("{}h1.5", self.path),
        }
    }
}

/// Time along the bottom.
pub fn time(pen: &mut Pen, along: Along, top: f64, label: impl Fn(Duration) -> String) {
    pen.path("frame", &format!("M{LEFT} {top:.1}H{RIGHT}"));
    for tick in along.ticks() {
        let x = along.x(tick);
        pen.path("frame", &format!("M{x:.1} {top:.1}v5"));
        pen.text("small", (x, top + 18.0), Anchor::Middle, &label(tick));
    }
    pen.text(
        "small quiet",
        (RIGHT + 46.0, top + 18.0),
        Anchor::Start,
        "h:min:s from the start",
    );
}
