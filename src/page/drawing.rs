//! A tank's drawing, to scale: the outline of its real vessel, its liquid, how sure the level is, taps, limits, marks.
//!
//! The outline is the vessel's own width at each height, seen from the side. Levels count from the site's zero.

use crate::engine::Quality;
use crate::engine::snapshot::{Frame, FrameLimit, Priority, TankView};
use crate::quantity::{Length, metres};
use maud::{Markup, html};
use std::fmt::Write;

/// The box that the vessel is fitted into.
const WIDE: f64 = 200.0;
const HIGH: f64 = 190.0;
/// Room at the sides for taps and limits, and above and below for lines.
const SIDE: f64 = 30.0;
const EDGE: f64 = 6.0;
/// Heights that the outline is looked up at; most are left out again where it is straight.
const STEPS: usize = 48;
/// How far the outline may be off, in units of the box.
const CLOSE: f64 = 0.7;

/// Where a height and a half width stand in the drawing.
struct Scale {
    factor: f64,
    middle: f64,
    top_m: f64,
}

impl Scale {
    fn of(frame: &Frame) -> (Self, f64, f64) {
        let (bottom, top) = (frame.bottom.value, frame.top.value);
        let widest = (0..=STEPS)
            .map(|step| half_width(frame, bottom + (top - bottom) * step as f64 / STEPS as f64))
            .fold(0.0, f64::max);
        let factor = (WIDE / (2.0 * widest)).min(HIGH / (top - bottom));
        let (width, height) = (2.0 * widest * factor, (top - bottom) * factor);
        let scale = Self {
            factor,
            middle: SIDE + width / 2.0,
            top_m: top,
        };
        (scale, width + 2.0 * SIDE, height + 2.0 * EDGE)
    }

    fn y(&self, level_m: f64) -> f64 {
        EDGE + (self.top_m - level_m) * self.factor
    }
    fn right(&self, half_width_m: f64) -> f64 {
        self.middle + half_width_m * self.factor
    }
    fn left(&self, half_width_m: f64) -> f64 {
        self.middle - half_width_m * self.factor
    }
}

/// Half the outline's width at a level from the site's zero, m.
fn half_width(frame: &Frame, level_m: f64) -> f64 {
    let width = frame.vessel.half_width(metres(level_m) + frame.zero).value;
    if width.is_finite() { width } else { 0.0 }
}

/// The drawing; `label` says in words what it shows.
pub fn drawing(tank: &TankView, label: &str) -> Markup {
    let frame = &tank.frame;
    let (scale, width, height) = Scale::of(frame);
    let reading = &tank.reading;
    let (bottom, top) = (frame.bottom.value, frame.top.value);
    let inside = |level: Length| level.value.clamp(bottom, top);
    let known = reading.level.or(reading.level_at_least).map(inside);
    let band = match (reading.level, reading.level_uncertainty) {
        (Some(level), Some(by)) => Some((inside(level - by), inside(level + by))),
        (None, _) if reading.level_at_least.is_some() || reading.level_at_most.is_some() => Some((
            reading.level_at_least.map_or(bottom, inside),
            reading.level_at_most.map_or(top, inside),
        )),
        (None, _) => Some((bottom, top)),
        (Some(_), None) => None,
    };
    let doubtful = reading.level.is_none() || reading.quality == Quality::Bad;
    html! {
        svg viewBox=(format!("0 0 {width:.0} {height:.0}")) role="img" aria-label=(label) {
            path class="in" d=(outline(frame, &scale, bottom, top)) {}
            @if let Some(level) = known.filter(|level| *level > bottom) {
                path class="wet" d=(outline(frame, &scale, bottom, level)) {}
            }
            @if let Some((low, high)) = band.filter(|(low, high)| (high - low) * scale.factor > 1.0) {
                path class=[(!doubtful).then_some("band")] fill=[doubtful.then_some("url(#hatch)")]
                    d=(outline(frame, &scale, low, high)) {}
            }
            @if let Some(level) = reading.level.map(inside) {
                path class="top" d=(line(frame, &scale, level)) {}
            }
            path class="out" d=(outline(frame, &scale, bottom, top)) {}
            @for tap in &frame.taps { path class="tap" d=(tap_at(frame, &scale, tap.value)) {} }
            @for (level, name) in marks(frame) {
                path class="mark" d=(mark_at(frame, &scale, level)) { title { (name) } }
            }
            @for limit in &frame.limits { (limit_at(tank, limit, frame, &scale)) }
        }
    }
}

/// The part of the vessel between two levels as a closed path.
fn outline(frame: &Frame, scale: &Scale, from_m: f64, to_m: f64) -> String {
    let side: Vec<(f64, f64)> = (0..=STEPS)
        .map(|step| {
            // Closer together at the ends, where heads bend.
            let share = 0.5 - 0.5 * (std::f64::consts::PI * step as f64 / STEPS as f64).cos();
            let level = from_m + (to_m - from_m) * share;
            (half_width(frame, level), scale.y(level))
        })
        .map(|(width, y)| (scale.right(width), y))
        .collect();
    let side = simplified(&side);
    let mut path = String::new();
    for (index, (x, y)) in side.iter().enumerate() {
        let letter = if index == 0 { "M" } else { "L" };
        // Writing to a string never fails.
        let _ = write!(path, "{letter}{x:.0} {y:.0}");
    }
    for (x, y) in side.iter().rev() {
        let _ = write!(path, "L{:.0} {y:.0}", 2.0 * scale.middle - x);
    }
    path.push('z');
    path
}

/// Without the points that lie within [`CLOSE`] of the line between those that stay (Douglas and Peucker 1973).
fn simplified(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Vec::new();
    };
    let off = |point: &(f64, f64)| {
        let (dx, dy) = (last.0 - first.0, last.1 - first.1);
        let length = dx.hypot(dy).max(1e-9);
        ((point.0 - first.0) * dy - (point.1 - first.1) * dx).abs() / length
    };
    let inner = points
        .iter()
        .enumerate()
        .skip(1)
        .take(points.len().saturating_sub(2));
    let farthest = inner.max_by(|a, b| off(a.1).total_cmp(&off(b.1)));
    match farthest.filter(|(_, point)| off(point) > CLOSE) {
        Some((index, _)) => {
            let mut kept = simplified(&points[..=index]);
            kept.pop();
            kept.extend(simplified(&points[index..]));
            kept
        }
        None => vec![*first, *last],
    }
}

fn line(frame: &Frame, scale: &Scale, level_m: f64) -> String {
    let (width, y) = (half_width(frame, level_m), scale.y(level_m));
    format!("M{:.0} {y:.1}H{:.0}", scale.left(width), scale.right(width))
}

/// A stub on the left where a line leaves.
fn tap_at(frame: &Frame, scale: &Scale, level_m: f64) -> String {
    let x = scale.left(half_width(frame, level_m));
    format!("M{:.0} {:.0}h-9", x, scale.y(level_m))
}

/// A dash inside, at the right wall.
fn mark_at(frame: &Frame, scale: &Scale, level_m: f64) -> String {
    let x = scale.right(half_width(frame, level_m));
    format!("M{:.0} {:.0}h-14", x, scale.y(level_m))
}

fn marks(frame: &Frame) -> impl Iterator<Item = (f64, &'static str)> {
    let marks = &frame.marks;
    let named = [
        (marks.critical_high, "critical high"),
        (marks.overflow, "overflow"),
        (marks.heel, "heel"),
        (marks.critical_low, "critical low"),
    ];
    let (bottom, top) = (frame.bottom.value, frame.top.value);
    let inside = move |level: f64| level >= bottom && level <= top;
    let marks = named.into_iter();
    marks.filter_map(move |(level, name)| {
        level
            .filter(|level| inside(level.value))
            .map(|level| (level.value, name))
    })
}

/// A pointer at the right wall: its tip at the limit, its body on the side that is too far.
fn limit_at(tank: &TankView, limit: &FrameLimit, frame: &Frame, scale: &Scale) -> Markup {
    let x = scale.right(half_width(frame, limit.at.value)) + 3.0;
    let y = scale.y(limit.at.value);
    let slant = if limit.above { -18 } else { 18 };
    let active = tank
        .alarms
        .iter()
        .any(|alarm| alarm.code == limit.code && alarm.state.is_active());
    let class = match (active, limit.priority >= Priority::High) {
        (true, true) => "lim red",
        (true, false) => "lim yellow",
        (false, _) => "lim",
    };
    html! { path class=(class) d=(format!("M{x:.0} {y:.0}h20v{slant}z")) { title { (limit.code) } } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::snapshot::{Looks, Marks};
    use crate::physics::vessel::{Shape, Vessel};
    use crate::quantity::Length;

    fn frame(shape: Shape) -> Frame {
        let vessel = Vessel::new(shape).expect("a vessel");
        Frame {
            zero: Length::default(),
            bottom: vessel.bottom(),
            top: vessel.top(),
            vessel,
            marks: Marks::default(),
            taps: Vec::new(),
            tags: Vec::new(),
            limits: Vec::new(),
            products: Vec::new(),
            looks: Looks {
                glass_zero: metres(0.0),
                glass_length: None,
                gauge_point: None,
            },
        }
    }

    #[test]
    fn a_box_is_four_corners_to_scale() {
        let frame = frame(Shape::Rectangular {
            length: metres(4.0),
            width: metres(3.0),
            height: metres(2.0),
        });
        let (scale, width, height) = Scale::of(&frame);
        assert_eq!((width, height), (200.0 + 60.0, 100.0 + 12.0));
        let whole = outline(&frame, &scale, 0.0, 2.0);
        assert_eq!(whole, "M230 106L230 6L30 6L30 106z");
        // Half full: half as high.
        assert_eq!(
            outline(&frame, &scale, 0.0, 1.0),
            "M230 106L230 56L30 56L30 106z"
        );
    }

    #[test]
    fn a_sphere_is_round_and_stays_short() {
        let frame = frame(Shape::Sphere {
            diameter: metres(3.0),
        });
        let (scale, width, height) = Scale::of(&frame);
        assert!((width - 60.0 - (height - 12.0)).abs() < 1e-9);
        let path = outline(&frame, &scale, 0.0, 3.0);
        assert!(path.len() < 300, "{}", path.len());
        assert!(path.starts_with("M125 196"), "{path}");
    }
}
