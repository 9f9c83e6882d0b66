//! The table of tanks: one line each, with the signs that the terminal can show.

use super::screen::{Line, Tone, line};
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::{AlarmView, TankView};
use crate::engine::{Quality, Snapshot};
use crate::quantity::{Length, print};
use crate::site::settings::ShowUnits;

/// Cells of the drawing of a tank's fill.
const BAR: usize = 10;

/// The signs to draw with.
#[derive(Clone, Copy, Debug)]
pub struct Glyphs {
    pub full: char,
    empty: char,
    pub rule: char,
    at_least: &'static str,
    at_most: &'static str,
    rises: &'static str,
    falls: &'static str,
}

impl Glyphs {
    pub const ASCII: Glyphs = Glyphs {
        full: '#',
        empty: '.',
        rule: '-',
        at_least: ">=",
        at_most: "<=",
        rises: "up",
        falls: "dn",
    };
    const UNICODE: Glyphs = Glyphs {
        full: '█',
        empty: '░',
        rule: '─',
        at_least: "≥",
        at_most: "≤",
        rises: "▲",
        falls: "▼",
    };

    /// By what the terminal's locale says it can show.
    pub fn of_this_terminal() -> Self {
        let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
            .into_iter()
            .find_map(|name| std::env::var(name).ok().filter(|value| !value.is_empty()));
        let utf8 = locale.is_some_and(|locale| {
            let locale = locale.to_ascii_lowercase();
            locale.contains("utf-8") || locale.contains("utf8")
        });
        if utf8 { Self::UNICODE } else { Self::ASCII }
    }
}

/// One line a tank.
pub fn table(snapshot: &Snapshot, show: ShowUnits, glyphs: Glyphs, width: usize) -> Vec<Line> {
    let widest = snapshot
        .tanks
        .iter()
        .map(|tank| tank.name.chars().count())
        .max()
        .unwrap_or(4);
    let name_width = widest.min(width.saturating_sub(64).max(12));
    let mut lines = vec![line(
        Tone::Faint,
        format!(
            "{:<name_width$} {:>10} {:<BAR$} {:>5} {:>11} {:>11}  {}",
            "tank", "level", "", "fill", "volume", "rate", "state"
        ),
    )];
    lines.extend(
        snapshot
            .tanks
            .iter()
            .map(|tank| tank_line(tank, show, glyphs, name_width)),
    );
    lines.extend(snapshot.system.iter().filter_map(system_line));
    lines
}

/// What is open of the system itself.
fn system_line(alarm: &AlarmView) -> Option<Line> {
    let tone = match alarm.state {
        AlarmState::Normal => return None,
        state if state.needs_acknowledgement() => Tone::Alarm,
        _ => Tone::Strong,
    };
    let follows = match alarm.follows.len() {
        0 => String::new(),
        count => format!(", it tells for {count} more"),
    };
    let (code, state) = (&alarm.code, alarm.state.code());
    Some(line(tone, format!("system {code} {state}{follows}")))
}

fn tank_line(tank: &TankView, show: ShowUnits, glyphs: Glyphs, name_width: usize) -> Line {
    let reading = &tank.reading;
    let worst = tank
        .alarms
        .iter()
        .filter(|alarm| alarm.state.code() != "NORM")
        .max_by_key(|alarm| alarm.priority);
    let state = match (worst, &tank.jump, reading.quality) {
        (Some(alarm), ..) => format!("{} {}", alarm.code, alarm.state.code()),
        (None, Some(_), _) => "JUMP".to_owned(),
        (None, None, Quality::Good) => "good".to_owned(),
        (None, None, quality) => quality.name().to_owned(),
    };
    let fill = reading
        .fill
        .map_or_else(|| "-".to_owned(), |fill| format!("{:.0} %", fill * 100.0));
    let volume = reading.volume.map_or_else(
        || "-".to_owned(),
        |volume| print(volume.value, show.volume, 2),
    );
    let name: String = tank.name.chars().take(name_width).collect();
    let text = format!(
        "{name:<name_width$} {:>10} {} {fill:>5} {volume:>11} {:>11}  {state}",
        level(tank, show, glyphs),
        bar(reading.fill, glyphs),
        rate(tank, glyphs),
    );
    let tone = match worst {
        Some(alarm) if alarm.state.needs_acknowledgement() => Tone::Alarm,
        Some(_) => Tone::Strong,
        None if tank.jump.is_some() => Tone::Strong,
        None => Tone::Plain,
    };
    line(tone, text)
}

fn level(tank: &TankView, show: ShowUnits, glyphs: Glyphs) -> String {
    let shown = |level: Length| print(level.value, show.level, 3);
    let reading = &tank.reading;
    match (reading.level, reading.level_at_least, reading.level_at_most) {
        (Some(level), ..) => shown(level),
        (_, Some(least), _) => format!("{} {}", glyphs.at_least, shown(least)),
        (_, _, Some(most)) => format!("{} {}", glyphs.at_most, shown(most)),
        _ => "-".to_owned(),
    }
}

fn bar(fill: Option<f64>, glyphs: Glyphs) -> String {
    let full = (fill.unwrap_or(0.0) * BAR as f64)
        .round()
        .clamp(0.0, BAR as f64) as usize;
    (0..BAR)
        .map(|cell| {
            if cell < full {
                glyphs.full
            } else {
                glyphs.empty
            }
        })
        .collect()
}

/// In millimetres a minute, once it is known; what is slower than one is still.
fn rate(tank: &TankView, glyphs: Glyphs) -> String {
    let Some(rate) = tank.reading.rate else {
        return String::new();
    };
    let mm_min = rate.value * 60_000.0;
    if mm_min.abs() < 1.0 {
        "steady".to_owned()
    } else {
        format!(
            "{} {:.0} mm/min",
            if mm_min > 0.0 {
                glyphs.rises
            } else {
                glyphs.falls
            },
            mm_min.abs()
        )
    }
}
