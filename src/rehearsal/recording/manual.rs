//! Manual readings beside a recording: what the sight glass or the dip said, against the level of that moment.
//!
//! CSV with `time` or `seconds`, `tank`, `level`, `unit` (m if left out), `by`; in the order of time. They are
//! compared with the last reading before them, at its age; the summary keeps each of them.

use super::RecordingError;
use crate::engine::command::{Looked, NewEntry, SeenAt};
use crate::engine::plan::{Gives, Plan, TankPlan};
use crate::engine::{Command, TankId};
use crate::physics::line::Points;
use crate::quantity::{Dimension, Timestamp, metres, parse_unit};
use crate::wire::replay::{CorrectionForm, ManualForm, ManualReadingForm};
use crate::wire::time;
use jiff::SignedDuration;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::io::Read;

/// One line as it is written.
#[derive(Debug, Deserialize)]
struct Line {
    #[serde(default, alias = "timestamp")]
    time: Option<String>,
    #[serde(default)]
    seconds: Option<f64>,
    tank: String,
    level: f64,
    #[serde(default)]
    unit: Option<String>,
    #[serde(default)]
    by: Option<String>,
}

/// One manual reading.
#[derive(Clone, Debug)]
pub struct Entry {
    pub time: Timestamp,
    tank: TankId,
    level_m: f64,
    by: Option<String>,
}

impl Entry {
    /// The same as an entry for the engine, which judges it as it does one that comes in live.
    pub fn command(&self, plan: &Plan) -> Command {
        Command::Enter {
            tank: plan.tanks[self.tank.index()].name.to_string(),
            entry: NewEntry {
                looked: Looked::Level(metres(self.level_m)),
                seen: SeenAt::Now,
                uncertainty: None,
            },
            reader: None,
            by: self.by.as_deref().unwrap_or_default().into(),
        }
    }
}

/// Manual readings, as they stand in their file.
pub struct Manual {
    lines: csv::DeserializeRecordsIntoIter<Box<dyn Read>, Line>,
    file: String,
    tanks: BTreeMap<String, TankId>,
    begins: Timestamp,
    last: Option<Timestamp>,
}

impl std::fmt::Debug for Manual {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Manual")
            .field("file", &self.file)
            .finish_non_exhaustive()
    }
}

impl Manual {
    /// `file` is for messages; `begins` is the time of second 0.
    pub fn open(source: Box<dyn Read>, file: &str, plan: &Plan, begins: Timestamp) -> Self {
        let csv = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_reader(source);
        let tanks = (0..).map(TankId).zip(&plan.tanks);
        Self {
            lines: csv.into_deserialize(),
            file: file.to_owned(),
            tanks: tanks
                .map(|(id, tank)| (tank.name.to_string(), id))
                .collect(),
            begins,
            last: None,
        }
    }

    fn next(&mut self) -> Result<Option<Entry>, RecordingError> {
        let line = self.lines.reader().position().line();
        let Some(read) = self.lines.next() else {
            return Ok(None);
        };
        let read = read.map_err(|cause| RecordingError::Read {
            file: self.file.clone(),
            cause,
        })?;
        let entry = self
            .entry(read)
            .map_err(|(column, what)| RecordingError::At {
                file: self.file.clone(),
                line,
                column: Some(column.to_owned()),
                what,
            })?;
        self.last = Some(entry.time);
        Ok(Some(entry))
    }

    fn entry(&self, line: Line) -> Result<Entry, (&'static str, String)> {
        let time = match (&line.time, line.seconds) {
            (Some(text), _) => text.parse::<Timestamp>().map_err(|_| {
                (
                    "time",
                    format!("\"{text}\" is no time; write it with its zone: 2026-03-04T05:06:07Z"),
                )
            })?,
            (None, seconds) => seconds
                .and_then(|seconds| SignedDuration::try_from_secs_f64(seconds).ok())
                .and_then(|since| self.begins.checked_add(since).ok())
                .ok_or_else(|| ("time", "a `time` (RFC 3339) or `seconds` is due".to_owned()))?,
        };
        if let Some(last) = self.last.filter(|last| time < *last) {
            return Err((
                "time",
                format!("{time} is before the line above it ({last}); sort them by time"),
            ));
        }
        let tank = self.tanks.get(&line.tank).copied().ok_or_else(|| {
            let names: Vec<&str> = self.tanks.keys().map(String::as_str).collect();
            (
                "tank",
                format!(
                    "there is no tank \"{}\"; this site has: {}",
                    line.tank,
                    names.join(", ")
                ),
            )
        })?;
        let unit = line
            .unit
            .as_deref()
            .filter(|unit| !unit.is_empty())
            .unwrap_or("m");
        let (unit, _) = parse_unit(unit, Dimension::Length)
            .map_err(|error| ("unit", format!("{error}; {}", error.cure())))?;
        let level_m = unit.to_si(line.level);
        if !level_m.is_finite() {
            return Err(("level", format!("{} is no level", line.level)));
        }
        Ok(Entry {
            time,
            tank,
            level_m,
            by: line.by.filter(|by| !by.is_empty()),
        })
    }
}

/// What was compared so far.
#[derive(Debug, Default)]
pub struct Comparison {
    manual: Option<Manual>,
    ahead: Option<Entry>,
    tanks: BTreeMap<TankId, (Points, Vec<ManualReadingForm>)>,
}

impl Comparison {
    pub fn new(manual: Option<Manual>) -> Self {
        Self {
            manual,
            ..Self::default()
        }
    }

    pub fn next(&mut self) -> Result<Option<Entry>, RecordingError> {
        if let Some(ahead) = self.ahead.take() {
            return Ok(Some(ahead));
        }
        self.manual.as_mut().map_or(Ok(None), Manual::next)
    }

    /// The next entry, if it is before that time.
    pub fn before(&mut self, time: Timestamp) -> Result<Option<Entry>, RecordingError> {
        let next = self.next()?;
        if next.as_ref().is_some_and(|entry| entry.time >= time) {
            self.ahead = next;
            return Ok(None);
        }
        Ok(next)
    }

    pub fn compare(&mut self, entry: Entry, level_m: impl FnOnce(TankId) -> Option<f64>) {
        let level_m = level_m(entry.tank);
        let (points, readings) = self.tanks.entry(entry.tank).or_default();
        if let Some(level_m) = level_m {
            points.add(level_m, entry.level_m);
        }
        readings.push(ManualReadingForm {
            time: time(entry.time),
            manual_m: entry.level_m,
            by: entry.by,
            level_m,
            difference_m: level_m.map(|level_m| level_m - entry.level_m),
        });
    }

    pub fn forms(self, plan: &Plan) -> Vec<ManualForm> {
        let tanks = self.tanks.into_iter();
        tanks
            .map(|(id, (points, readings))| {
                let tank = &plan.tanks[id.index()];
                ManualForm {
                    tank: tank.name.to_string(),
                    mean_difference_m: points.mean_difference().map(|difference| -difference),
                    correction: correction(&points, tank),
                    readings,
                }
            })
            .collect()
    }
}

fn correction(points: &Points, tank: &TankPlan) -> Option<CorrectionForm> {
    let line = points.line()?;
    // What is shown is corrected already: gain·(g·h + o) + offset = (gain·g)·h + (gain·o + offset)
    let own = match &tank.hookups[..] {
        [only] if only.gives == Gives::Level => Some(&only.correction),
        _ => None,
    };
    Some(CorrectionForm {
        gain: line.gain,
        gain_standard_error: line.gain_standard_error,
        offset_m: line.offset,
        offset_standard_error_m: line.offset_standard_error,
        residual_m: line.residual,
        site_file_gain: own.map(|own| line.gain * own.gain),
        site_file_offset_m: own.map(|own| line.gain * own.offset.value + line.offset),
    })
}
