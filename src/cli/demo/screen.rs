//! What the live table shows, as lines of text: one a tank, then what waits for a person, then events.
//!
//! Abnormal is told by words first; the reverse line only makes it quicker to find.

use super::table::{Glyphs, table};
use crate::engine::snapshot::{AlarmView, TankView};
use crate::engine::{Event, Quality, Snapshot, words};
use crate::quantity::Time;
use crate::site::settings::ShowUnits;
use jiff::tz::TimeZone;
use std::collections::VecDeque;
use std::sync::Arc;

pub const CAUTION: &str =
    "Not a safety instrumented system; local codes and licensed practice decide.";
/// What is ahead within this time is shown.
const SOON_S: f64 = 1800.0;
/// How many events are kept.
const EVENTS: usize = 50;

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

/// The screen's memory: addresses, the latest events, the answer to the last key.
#[derive(Debug)]
pub struct Screen {
    addresses: Vec<String>,
    show: ShowUnits,
    zone: TimeZone,
    glyphs: Glyphs,
    events: VecDeque<Arc<Event>>,
    said: String,
}

impl Screen {
    pub fn new(addresses: Vec<String>, show: ShowUnits, zone: TimeZone, glyphs: Glyphs) -> Self {
        Self {
            addresses,
            show,
            zone,
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
            format!(
                "{}  SIMULATED  {}",
                snapshot.site,
                self.zone
                    .to_datetime(snapshot.utc)
                    .strftime("%Y-%m-%d %H:%M:%S")
            ),
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
        if !self.said.is_empty() {
            lines.extend(wrapped(Tone::Strong, &self.said, width));
        }
        let room = height.saturating_sub(lines.len() + foot.len());
        lines.extend(
            self.events
                .iter()
                .take(room)
                .map(|event| line(Tone::Plain, event_line(event, &self.zone))),
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

pub fn line(tone: Tone, text: String) -> Line {
    Line { text, tone }
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
        if let Some(text) = soon(tank) {
            lines.extend(wrapped(Tone::Plain, &text, width));
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

/// A limit that is reached within half an hour, if it goes on like this.
fn soon(tank: &TankView) -> Option<String> {
    let ahead = tank
        .reading
        .next_limit
        .filter(|ahead| ahead.after.value < SOON_S)?;
    let minutes = |time: Time| format!("{:.1}", time.value / 60.0);
    let latest = ahead.at_most.map_or_else(|| "any time".to_owned(), minutes);
    Some(format!(
        "{}: {:.3} m in about {} min ({} to {latest}) if it goes on like this",
        tank.name,
        ahead.limit.value,
        minutes(ahead.after),
        minutes(ahead.at_least)
    ))
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
    for word in text.split_whitespace() {
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

/// One event as a line, in the site's time.
pub fn event_line(event: &Event, zone: &TimeZone) -> String {
    let clock = zone.to_datetime(event.time).strftime("%H:%M:%S");
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
