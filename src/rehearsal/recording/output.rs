//! What a replay leaves behind: readings and events, as CSV or as lines of JSON.
//!
//! Readings have the keys of the reading form; CSV has those of them that are plain numbers or texts.

use crate::engine::{Engine, Event, Quality, TankId};
use crate::quantity::Timestamp;
use crate::wire::{EventForm, ReadingForm};
use jiff::SignedDuration;
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::time::Duration;

/// How something is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Csv,
    /// One JSON object a line.
    Jsonl,
}

impl Form {
    /// By the ending of a file's name.
    pub fn of(path: &Path) -> Option<Self> {
        match path.extension()?.to_str()? {
            "csv" => Some(Form::Csv),
            "jsonl" => Some(Form::Jsonl),
            _ => None,
        }
    }
}

/// A table or lines of JSON.
#[derive(Debug)]
enum Sheet<W: Write> {
    /// With the headers, until the first row brings them out.
    Csv(Box<csv::Writer<W>>, Option<&'static [&'static str]>),
    Jsonl(BufWriter<W>),
}

impl<W: Write> Sheet<W> {
    fn new(out: W, form: Form, columns: &'static [&'static str]) -> Self {
        match form {
            Form::Csv => Sheet::Csv(Box::new(csv::Writer::from_writer(out)), Some(columns)),
            Form::Jsonl => Sheet::Jsonl(BufWriter::new(out)),
        }
    }

    /// One row, or one line of JSON.
    fn write<F: serde::Serialize, const N: usize>(
        &mut self,
        form: &F,
        cells: impl FnOnce(&F) -> [String; N],
    ) -> io::Result<()> {
        match self {
            Sheet::Csv(table, headers) => {
                if let Some(headers) = headers.take() {
                    table.write_record(headers)?;
                }
                table.write_record(cells(form))?;
            }
            Sheet::Jsonl(lines) => {
                serde_json::to_writer(&mut *lines, form)?;
                lines.write_all(b"\n")?;
            }
        }
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Sheet::Csv(table, _) => table.flush(),
            Sheet::Jsonl(lines) => lines.flush(),
        }
    }
}

/// Events, each as it comes.
#[derive(Debug)]
pub struct Events<W: Write>(Sheet<W>);

impl<W: Write> Events<W> {
    pub fn new(out: W, form: Form) -> Self {
        Self(Sheet::new(out, form, &EventForm::COLUMNS))
    }

    pub fn write(&mut self, event: &Event) -> io::Result<()> {
        self.0.write(&EventForm::new(event), EventForm::cells)
    }

    pub fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// Readings: all, or of each tank at most one in so much time and one at once when its quality changes.
#[derive(Debug)]
pub struct Readings<W: Write> {
    sheet: Sheet<W>,
    every: SignedDuration,
    tanks: Vec<(String, Option<(Timestamp, Quality)>)>,
}

impl<W: Write> Readings<W> {
    /// `tanks`: the names of the plan's tanks, in its order.
    pub fn new(
        out: W,
        form: Form,
        every: Option<Duration>,
        tanks: impl Iterator<Item = String>,
    ) -> Self {
        let every = every.unwrap_or_default();
        Self {
            sheet: Sheet::new(out, form, &COLUMNS),
            every: every.try_into().unwrap_or(SignedDuration::MAX),
            tanks: tanks.map(|name| (name, None)).collect(),
        }
    }

    pub fn write(&mut self, tank: TankId, engine: &Engine) -> io::Result<()> {
        let reading = engine.reading(tank);
        let (name, last) = &mut self.tanks[tank.index()];
        let is_due = last.is_none_or(|(time, quality)| {
            quality != reading.quality || reading.time.duration_since(time) >= self.every
        });
        if !is_due {
            return Ok(());
        }
        *last = Some((reading.time, reading.quality));
        let form = ReadingForm::new(
            name,
            engine.product(tank),
            engine.corrected(tank).as_ref(),
            (reading, &engine.budget(tank)),
        );
        self.sheet.write(&form, |form| cells(form, reading.quality))
    }

    pub fn flush(&mut self) -> io::Result<()> {
        self.sheet.flush()
    }
}

const COLUMNS: [&str; 25] = [
    "time",
    "tank",
    "number",
    "quality",
    "quality_code",
    "reasons",
    "level_m",
    "level_at_least_m",
    "level_at_most_m",
    "interface_m",
    "fill_percent",
    "volume_m3",
    "standard_volume_m3",
    "usable_m3",
    "ullage_m3",
    "mass_kg",
    "density_kg_m3",
    "temperature_degc",
    "rate_m_s",
    "rate_standard_error_m_s",
    "net_flow_m3_s",
    "time_to_overflow_s",
    "differential_pressure_pa",
    "uncertainty_level_m",
    "uncertainty_volume_m3",
];

/// In the order of [`COLUMNS`]; what is not known is empty.
fn cells(form: &ReadingForm, quality: Quality) -> [String; 25] {
    let number = |number: Option<f64>| number.map_or_else(String::new, |number| number.to_string());
    [
        form.time.clone(),
        form.tank.clone(),
        form.number.to_string(),
        quality.name().to_owned(),
        form.quality_code.to_owned(),
        form.reasons.join("; "),
        number(form.level_m),
        number(form.level_at_least_m),
        number(form.level_at_most_m),
        number(form.interface_m),
        number(form.fill_percent),
        number(form.volume_m3),
        number(form.standard_volume_m3),
        number(form.usable_m3),
        number(form.ullage_m3),
        number(form.mass_kg),
        number(form.density_kg_m3),
        number(form.temperature_degc),
        number(form.rate_m_s),
        number(form.rate_standard_error_m_s),
        number(form.net_flow_m3_s),
        number(form.time_to_overflow_s),
        number(form.differential_pressure_pa),
        number(form.uncertainty.level_m),
        number(form.uncertainty.volume_m3),
    ]
}
