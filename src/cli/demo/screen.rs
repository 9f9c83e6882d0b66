//! What the live table shows, as lines of text: one a tank, then what waits for a person, then events.
//!
//! Abnormal is told by words first; the reverse line only makes it quicker to find.

use crate::engine::snapshot::{AlarmView, TankView};
use crate::engine::{Event, Quality, Snapshot, words};
use crate::quantity::{Length, print};
use crate::site::settings::ShowUnits;
use std::collections::VecDeque;
use std::sync::Arc;

pub const CAUTION: &str =
    "Not a safety instrumented system; local codes and licensed practice decide.";
/// How many events are kept.
const EVENTS: usize = 50;
/// Cells of the drawing of a tank's fill.
const BAR: usize = 10;

/// How a line stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    Plain,
    Strong,
    Faint,
    Alarm,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    pub text: String,
    pub tone: Tone,
}

/// The signs to draw with.
#[derive(Clone, Copy, Debug)]
pub struct Glyphs {
    full: char,
    empty: char,
    rule: char,
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

/// The screen's memory: addresses, the latest events, the answer to the last key.
#[derive(Debug)]
pub struct Screen {
    addresses: Vec<String>,
    show: ShowUnits,
    glyphs: Glyphs,
    events: VecDeque<Arc<Event>>,
    said: String,
}

impl Screen {
    pub fn new(addresses: Vec<String>, show: ShowUnits, glyphs: Glyphs) -> Self {
        Self {
            addresses,
            show,
            glyphs,
            events: VecDeque::new(),
            said: String::new(),
        }
    }

    pub fn take(&mut self, event: Arc<Event>) {
        if super::is_shown(&event) {
            self.events.truncate(EVENTS - 1);
            self.events.push_front(event);
        }
    }

    /// The answer to a key.
    pub fn say(&mut self, text: String) {
        self.said = text;
    }

    /// The whole screen, cut to the terminal.
    pub fn lines(&self, snapshot: &Snapshot, width: usize, height: usize) -> Vec<Line> {
        let mut lines = vec![line(
            Tone::Strong,
            format!("{}  SIMULATED  {:.0}", snapshot.site, snapshot.utc),
        )];
        lines.extend(table(snapshot, self.show, self.glyphs, width));
        lines.push(self.rule(width));
        lines.extend(waiting(snapshot, width));
        lines.push(self.rule(width));
        let mut foot: Vec<Line> = self
            .addresses
            .iter()
            .map(|text| line(Tone::Faint, text.clone()))
            .collect();
        foot.push(line(Tone::Faint, CAUTION.to_owned()));
        foot.push(line(
            Tone::Strong,
            format!("a acknowledge   q quit   {}", self.said),
        ));
        let room = height.saturating_sub(lines.len() + foot.len());
        lines.extend(
            self.events
                .iter()
                .take(room)
                .map(|event| line(Tone::Plain, event_line(event))),
        );
        let gap = height.saturating_sub(lines.len() + foot.len());
        lines.extend(std::iter::repeat_n(line(Tone::Plain, String::new()), gap));
        lines.extend(foot);
        lines.truncate(height);
        lines
            .into_iter()
            .map(|line| self.fit(line, width))
            .collect()
    }

    fn rule(&self, width: usize) -> Line {
        line(Tone::Faint, self.glyphs.rule.to_string().repeat(width))
    }

    /// Cuts to the width; without UTF-8, what can't be shown becomes a question mark.
    fn fit(&self, line: Line, width: usize) -> Line {
        let plain = self.glyphs.full.is_ascii();
        let sign = |sign: char| if plain && !sign.is_ascii() { '?' } else { sign };
        Line {
            text: line.text.chars().map(sign).take(width).collect(),
            ..line
        }
    }
}

fn line(tone: Tone, text: String) -> Line {
    Line { text, tone }
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
    lines
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
        (None, Some(jump), _) => format!("JUMP {}", jump.verdict.name()),
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

/// What waits for a person: alarms with their response, jumps with their evidence.
fn waiting(snapshot: &Snapshot, width: usize) -> Vec<Line> {
    let mut lines = Vec::new();
    for tank in &snapshot.tanks {
        for alarm in tank
            .alarms
            .iter()
            .filter(|alarm| alarm.state.code() != "NORM")
        {
            lines.extend(alarm_lines(tank, alarm, width));
        }
        if let Some(jump) = &tank.jump {
            lines.extend(wrapped(
                Tone::Strong,
                &format!("{}: {}", tank.name, jump.text),
                width,
            ));
        }
        if tank.reading.quality == Quality::Bad {
            let why = words::reasons(tank.reading.reasons);
            lines.extend(wrapped(
                Tone::Plain,
                &format!("{}: {why}", tank.name),
                width,
            ));
        }
    }
    if lines.is_empty() {
        lines.push(line(Tone::Plain, "nothing waits for a person".to_owned()));
    }
    lines
}

fn alarm_lines(tank: &TankView, alarm: &AlarmView, width: usize) -> Vec<Line> {
    let tone = if alarm.state.needs_acknowledgement() {
        Tone::Alarm
    } else {
        Tone::Strong
    };
    let held = if alarm.questionable {
        ", held over bad data"
    } else {
        ""
    };
    let text = format!(
        "{} {}: {}, priority {}{held}",
        tank.title,
        alarm.code,
        alarm.state.words(),
        alarm.priority.name()
    );
    let mut lines = wrapped(tone, &text, width);
    if let Some(response) = &alarm.record.response {
        lines.extend(wrapped(
            Tone::Plain,
            &format!("  response: {response}"),
            width,
        ));
    }
    lines
}

/// Breaks a text at spaces.
fn wrapped(tone: Tone, text: &str, width: usize) -> Vec<Line> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let last = lines.last_mut().expect("there is always a line");
        if !last.is_empty() && last.chars().count() + 1 + word.chars().count() > width.max(20) {
            lines.push(format!("  {word}"));
        } else {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines.into_iter().map(|text| line(tone, text)).collect()
}

/// One event as a line.
pub fn event_line(event: &Event) -> String {
    let time = event.time.to_string();
    let clock = time.get(11..19).unwrap_or(&time);
    let place = [event.tank.as_deref(), event.code.as_deref()]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ");
    let states = event
        .from
        .zip(event.to)
        .map(|(from, to)| format!(" {} -> {}", from.code(), to.code()))
        .unwrap_or_default();
    let by = event
        .person
        .as_ref()
        .map(|person| format!(" by {person}"))
        .unwrap_or_default();
    format!(
        "{clock} {:<7} {place}{states}{by}: {}",
        event.kind.name(),
        event.text
    )
}
