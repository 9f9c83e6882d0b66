//! Manual readings beside a recording: what the sight glass or the dip said, against the level of that moment.
//!
//! CSV with `time` or `seconds`, `tank`, `level`, `unit` (m if left out), `by`; in the order of time. They are
//! compared with the last reading before them, at its age; the summary keeps each of them.

use super::RecordingError;
use super::text::Text;
use crate::engine::command::{Looked, NewEntry, SeenAt};
use crate::engine::plan::{Gives, Plan, TankPlan};
use crate::engine::{Command, TankId};
use crate::physics::line::Points;
use crate::quantity::{Dimension, Timestamp, metres, parse_unit};
use crate::wire::replay::{CorrectionForm, ManualForm, ManualReadingForm};
use crate::wire::{said, time};
use csv::StringRecord;
use jiff::SignedDuration;
use std::collections::BTreeMap;
use std::io::Read;
use std::sync::Arc;

/// One manual reading.
#[derive(Clone, Debug)]
pub struct Entry {
    pub time: Timestamp,
    tank: TankId,
    level_m: f64,
    by: Option<String>,
}

impl Entry {
    fn seen(&self) -> NewEntry {
        NewEntry {
            looked: Looked::Level(metres(self.level_m)),
            seen: SeenAt::Now,
            uncertainty: None,
        }
    }

    /// The same as an entry for the engine, which judges it as it does one that comes in live.
    pub fn command(&self, plan: &Plan) -> Command {
        Command::Enter {
            tank: plan.tanks[self.tank.index()].name.to_string(),
            entry: self.seen(),
            reader: None,
            by: self.by.as_deref().unwrap_or_default().into(),
        }
    }
}

/// Manual readings, as they stand in their file.
pub struct Manual {
    csv: csv::Reader<Text<Box<dyn Read>>>,
    columns: Columns,
    file: String,
    plan: Arc<Plan>,
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

/// Which column has what.
#[derive(Debug)]
struct Columns {
    time: usize,
    /// It counts seconds.
    is_seconds: bool,
    tank: usize,
    level: usize,
    unit: Option<usize>,
    by: Option<usize>,
    count: usize,
}

impl Columns {
    fn of(headers: &StringRecord) -> Result<Self, &'static str> {
        let place = |name: &str| headers.iter().position(|header| header == name);
        let time = place("time").or(place("timestamp"));
        let due = |name| match name {
            "tank" => "no column is headed \"tank\", the tank that was looked at",
            "level" => "no column is headed \"level\", what was seen",
            _ => "no column is headed \"time\" (RFC 3339) or \"seconds\"",
        };
        Ok(Self {
            time: time.or(place("seconds")).ok_or_else(|| due("time"))?,
            is_seconds: time.is_none(),
            tank: place("tank").ok_or_else(|| due("tank"))?,
            level: place("level").ok_or_else(|| due("level"))?,
            unit: place("unit"),
            by: place("by"),
            count: headers.len(),
        })
    }
}

/// A column's header, and what is wrong there.
type Wrong = (&'static str, String);

impl Manual {
    /// `file` is for messages; `begins` is the time of second 0.
    pub fn open(
        source: Box<dyn Read>,
        file: &str,
        plan: Arc<Plan>,
        begins: Timestamp,
    ) -> Result<Self, RecordingError> {
        let mut csv = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .flexible(true)
            .from_reader(Text::open(source, file)?);
        let file = file.to_owned();
        let headers = match csv.headers() {
            Ok(headers) => headers,
            Err(cause) => return Err(RecordingError::Read { file, cause }),
        };
        let columns = match Columns::of(headers) {
            Ok(columns) => columns,
            Err(what) => {
                let what = what.to_owned();
                return Err(RecordingError::Of { file, what });
            }
        };
        Ok(Self {
            csv,
            columns,
            file,
            plan,
            begins,
            last: None,
        })
    }

    fn next(&mut self) -> Result<Option<Entry>, RecordingError> {
        let mut record = StringRecord::new();
        let more = self.csv.read_record(&mut record);
        let more = more.map_err(|cause| RecordingError::Read {
            file: self.file.clone(),
            cause,
        })?;
        if !more {
            return Ok(None);
        }
        let at = |column: Option<&str>, what| RecordingError::At {
            file: self.file.clone(),
            // Each line ends in a line feed, which is behind the reader.
            line: self.csv.position().line().saturating_sub(1),
            column: column.map(str::to_owned),
            what,
        };
        if record.len() != self.columns.count {
            let (cells, due) = (record.len(), self.columns.count);
            return Err(at(None, format!("{cells} cells, the header has {due}")));
        }
        let entry = self.entry(&record);
        let entry = entry.map_err(|(column, what)| at(Some(column), what))?;
        self.last = Some(entry.time);
        Ok(Some(entry))
    }

    fn entry(&self, record: &StringRecord) -> Result<Entry, Wrong> {
        let time = self.time(&record[self.columns.time])?;
        let name = &record[self.columns.tank];
        let named = (0..).map(TankId).zip(&self.plan.tanks);
        let (tank, plan) = (named.clone().find(|(_, tank)| *tank.name == *name))
            .ok_or_else(|| self.no_tank(name))?;
        let text = &record[self.columns.level];
        let level = text.parse::<f64>().map_err(|_| {
            let cure = "write one with a point (3.4); its unit stands in a column of its own, headed \"unit\"";
            ("level", format!("\"{text}\" is no number; {cure}"))
        })?;
        let unit = self.columns.unit.map(|place| &record[place]);
        let unit = unit.filter(|unit| !unit.is_empty()).unwrap_or("m");
        let (unit, _) = parse_unit(unit, Dimension::Length)
            .map_err(|error| ("unit", format!("{error}; {}", error.cure())))?;
        let by = self.columns.by.map(|place| said::line(&record[place]));
        let by = by.transpose().map_err(|unfit| ("by", unfit))?;
        let entry = Entry {
            time,
            tank,
            level_m: unit.to_si(level),
            by: by.filter(|by| !by.is_empty()),
        };
        // What no tank can show would spoil what is made of the others.
        let seen = entry.seen().level(plan, 1.0);
        seen.map_err(|refused| ("level", refused.to_string()))?;
        Ok(entry)
    }

    fn time(&self, text: &str) -> Result<Timestamp, Wrong> {
        let time = if self.columns.is_seconds {
            let since = text.parse().ok().map(SignedDuration::try_from_secs_f64);
            let since = since.and_then(Result::ok);
            let time = since.and_then(|since| self.begins.checked_add(since).ok());
            time.ok_or_else(|| {
                let what = format!("\"{text}\" is no number of seconds; a number as 12.5 is due");
                ("seconds", what)
            })?
        } else {
            text.parse::<Timestamp>().map_err(|_| {
                let what =
                    format!("\"{text}\" is no time; write it with its zone: 2026-03-04T05:06:07Z");
                ("time", what)
            })?
        };
        match self.last.filter(|last| time < *last) {
            None => Ok(time),
            Some(last) => {
                let what =
                    format!("{time} is before the line above it ({last}); sort them by time");
                Err(("time", what))
            }
        }
    }

    fn no_tank(&self, name: &str) -> Wrong {
        let mut names: Vec<&str> = self.plan.tanks.iter().map(|tank| &*tank.name).collect();
        names.sort_unstable();
        let names = names.join(", ");
        let what = format!("there is no tank \"{name}\"; this site has: {names}");
        ("tank", what)
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
