//! `replay`: a recording through the engine, as if it came in live.

use super::output::{Output, spares};
use super::simulate::duration;
use super::span::{self, moment};
use super::{load, quantity, shown};
use crate::daemon::clock;
use crate::engine::Snapshot;
use crate::quantity::{Dimension, Timestamp, Unit, find, span};
use crate::rehearsal::recording::{
    Events, Form, Manual, Mapping, Readings, Rows, Told, Window, polled_every, replay,
};
use crate::site::Site;
use crate::wire::ReplayForm;
use crate::wire::replay::{CorrectionForm, ManualForm};
use anyhow::{Context, bail};
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use std::fs::File;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

/// How often progress is shown, in rows.
const SHOW_EVERY: u64 = 20_000;

/// Feed a recorded CSV to the same engine that runs live: readings, alarms and events out.
#[derive(Debug, Default, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    pub(super) site: PathBuf,
    /// CSV: `time` (RFC 3339) or `seconds`, then one column a tag, headed TAG or "TAG [unit]"
    #[arg(value_name = "RECORDING")]
    pub(super) recording: PathBuf,
    /// A file that says what columns are: [column] p_gauge_pa = { tag = "PT-1", unit = "Pa" }
    #[arg(long, value_name = "MAP")]
    pub(super) columns: Option<PathBuf>,
    /// One of them: "p_gauge_pa=PT-1:Pa"; the unit is the transmitter's own if left out
    #[arg(long = "column", value_name = "COLUMN=TAG:UNIT")]
    pub(super) column: Vec<String>,
    /// Manual readings to compare levels with: CSV with time (or seconds), tank, level, unit, by
    #[arg(long, value_name = "MANUAL")]
    pub(super) manual: Option<PathBuf>,
    /// Write readings: FILE.csv or FILE.jsonl
    #[arg(long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
    /// Write events: FILE.csv or FILE.jsonl
    #[arg(long, value_name = "FILE")]
    pub(super) events: Option<PathBuf>,
    /// Write a reading of each tank at most so often, and at once when its quality changes: "1 min"
    #[arg(long, value_name = "DURATION", value_parser = duration, requires = "out")]
    pub(super) every: Option<Duration>,
    /// From this time on; of a recording with seconds also "600 s"
    #[arg(long, value_name = "TIME")]
    pub(super) from: Option<String>,
    /// Before this time
    #[arg(long, value_name = "TIME")]
    pub(super) to: Option<String>,
    /// The time of second 0, in a recording with seconds; else 1970-01-01T00:00:00Z
    #[arg(long, value_name = "TIME")]
    pub(super) begins: Option<String>,
    /// The recording has a row only so often ("15 min"), more seldom than the site file polls
    #[arg(long, value_name = "DURATION", value_parser = duration)]
    pub(super) polled: Option<Duration>,
    /// The summary as JSON
    #[arg(long)]
    pub(super) json: bool,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let mut site = load(&arguments.site)?;
    if let Some(every) = arguments.polled {
        polled_every(&mut site.plan, every);
    }
    let form = arguments.replay(&site, &mut None)?;
    if arguments.json {
        writeln!(out, "{}", serde_json::to_string_pretty(&form)?)?;
    } else {
        Summary {
            form: &form,
            site: &site,
        }
        .print(&arguments.recording, out)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// How everything stands once a recording has gone through.
pub(super) fn ended(arguments: &Arguments) -> anyhow::Result<(Site, Snapshot)> {
    let mut site = load(&arguments.site)?;
    if let Some(every) = arguments.polled {
        polled_every(&mut site.plan, every);
    }
    let mut last = None;
    arguments.replay(&site, &mut last)?;
    let last = last.context("nothing of the recording lies within the time")?;
    Ok((site, last))
}

impl Arguments {
    /// What must not be written over.
    fn read(&self) -> impl Iterator<Item = &Path> {
        let read = [Some(&self.site), Some(&self.recording)];
        let others = [self.columns.as_ref(), self.manual.as_ref()];
        read.into_iter()
            .chain(others)
            .flatten()
            .map(PathBuf::as_path)
    }

    fn replay(&self, site: &Site, last: &mut Option<Snapshot>) -> anyhow::Result<ReplayForm> {
        let zone = span::zone(site);
        let begins = match &self.begins {
            Some(text) => moment(text, &zone)?,
            None => Timestamp::UNIX_EPOCH,
        };
        let (source, size) = open(&self.recording)?;
        let plan = Arc::new(site.plan.clone());
        let name = self.recording.display().to_string();
        let rows = Rows::open(source, &name, Arc::clone(&plan), &self.mapping()?, begins)?;
        if self.begins.is_some() && rows.zero().is_none() {
            bail!(
                "--begins is the time of second 0, but {name} has times of its own: leave it out"
            );
        }
        self.warn(&rows)?;
        let manual = match &self.manual {
            Some(path) => {
                let source = Box::new(open(path)?.0);
                let name = path.display().to_string();
                Some(Manual::open(source, &name, Arc::clone(&plan), begins)?)
            }
            None => None,
        };
        let window = Window {
            from: edge(self.from.as_deref(), rows.zero(), &zone)?,
            to: edge(self.to.as_deref(), rows.zero(), &zone)?,
        };
        let names = plan.tanks.iter().map(|tank| tank.name.to_string());
        let mut readings = match &self.out {
            Some(path) => {
                let (file, form) = create(path, self.read())?;
                Some(Readings::new(file, form, self.every, names))
            }
            None => None,
        };
        let mut events = match &self.events {
            Some(path) => {
                let (file, form) = create(path, self.read().chain(self.out.as_deref()))?;
                Some(Events::new(file, form))
            }
            None => None,
        };
        let mut progress = Progress::new(size);
        let begun = clock::up();
        let form = replay(&plan, rows, manual, window, &mut |told| match told {
            Told::Row(row) => progress.row(row.byte),
            Told::Reading(tank, engine) => match &mut readings {
                Some(readings) => readings.write(tank, engine),
                None => Ok(()),
            },
            Told::Event(event) => match &mut events {
                Some(events) => events.write(event),
                None => Ok(()),
            },
            Told::End(engine) => {
                *last = Some(engine.snapshot());
                Ok(())
            }
        });
        progress.end()?;
        let form = form?;
        if form.rows == 0 {
            let left_out = form.rows_left_out;
            match (left_out, &self.to) {
                (0, None) => bail!("{name} holds no row: nothing was replayed"),
                (0, Some(to)) => bail!("{name} has no row before {to}: nothing was replayed"),
                _ => bail!(
                    "none of the {left_out} rows read of {name} lies in that time: nothing was replayed"
                ),
            }
        }
        readings.as_mut().map_or(Ok(()), Readings::flush)?;
        events.as_mut().map_or(Ok(()), Events::flush)?;
        let took_s = clock::up().saturating_sub(begun).as_secs_f64();
        Ok(ReplayForm {
            took_s,
            rows_per_s: form.rows as f64 / took_s.max(1e-9),
            ..form
        })
    }

    fn mapping(&self) -> anyhow::Result<Mapping> {
        let mut mapping = match &self.columns {
            Some(path) => {
                let text = std::fs::read_to_string(path)
                    .with_context(|| format!("{} can't be read", path.display()))?;
                Mapping::parse(&text, &path.display().to_string())?
            }
            None => Mapping::default(),
        };
        for column in &self.column {
            mapping.add(column)?;
        }
        Ok(mapping)
    }

    /// What is left out, before it takes its time.
    fn warn(&self, rows: &Rows<File>) -> io::Result<()> {
        let mut err = io::stderr();
        if !rows.ignored().is_empty() {
            let names = rows.ignored().join(", ");
            writeln!(err, "warning: no tag of this site, left out: {names}")?;
        }
        if !rows.missing().is_empty() {
            let names = rows.missing().join(", ");
            writeln!(err, "warning: not in the recording, never answers: {names}")?;
        }
        Ok(())
    }
}

fn open(path: &Path) -> anyhow::Result<(File, u64)> {
    let file = File::open(path).with_context(|| format!("{} can't be read", path.display()))?;
    let size = file.metadata().map_or(0, |data| data.len());
    Ok((file, size))
}

fn create<'p>(
    path: &Path,
    others: impl Iterator<Item = &'p Path>,
) -> anyhow::Result<(Output, Form)> {
    let Some(form) = Form::of(path) else {
        bail!("{}: the name has to end in .csv or .jsonl", path.display());
    };
    spares(path, others)?;
    Ok((Output::open(path)?, form))
}

/// A time, or seconds since second 0 of a recording that counts them.
fn edge(
    text: Option<&str>,
    zero: Option<Timestamp>,
    zone: &TimeZone,
) -> anyhow::Result<Option<Timestamp>> {
    let Some(text) = text else { return Ok(None) };
    let since = quantity(text, Dimension::Time).ok();
    if let Some((zero, since)) = zero.zip(since) {
        return Ok(Some(zero + SignedDuration::try_from_secs_f64(since.si)?));
    }
    moment(text, zone).map(Some)
}

/// One line on stderr, where that is a terminal.
struct Progress {
    rows: u64,
    size: u64,
    begun: Duration,
    is_shown: bool,
}

impl Progress {
    fn new(size: u64) -> Self {
        Self {
            rows: 0,
            size,
            begun: clock::up(),
            is_shown: io::stderr().is_terminal(),
        }
    }

    fn row(&mut self, byte: u64) -> io::Result<()> {
        self.rows += 1;
        if !self.is_shown || !self.rows.is_multiple_of(SHOW_EVERY) {
            return Ok(());
        }
        let took_s = clock::up().saturating_sub(self.begun).as_secs_f64();
        let percent = 100.0 * byte as f64 / self.size.max(1) as f64;
        let per_second = self.rows as f64 / took_s.max(1e-9);
        write!(
            io::stderr(),
            "\r{percent:3.0} %  {} rows, {per_second:.0} a second ",
            self.rows
        )?;
        io::stderr().flush()
    }

    fn end(&self) -> io::Result<()> {
        if self.is_shown && self.rows >= SHOW_EVERY {
            write!(io::stderr(), "\r{:60}\r", "")?;
        }
        Ok(())
    }
}

/// The summary, for people.
struct Summary<'a> {
    form: &'a ReplayForm,
    site: &'a Site,
}

impl Summary<'_> {
    fn print(&self, recording: &Path, out: &mut impl Write) -> anyhow::Result<()> {
        let form = self.form;
        let (from, to) = (form.from.as_deref(), form.to.as_deref());
        let lasted = Duration::try_from_secs_f64(form.span_s.round()).unwrap_or_default();
        writeln!(
            out,
            "{}: {} rows from {} to {} ({})",
            recording.display(),
            form.rows,
            from.unwrap_or("—"),
            to.unwrap_or("—"),
            span(lasted)
        )?;
        if form.rows_left_out > 0 {
            writeln!(out, "  {} rows before --from left out", form.rows_left_out)?;
        }
        if 2 * form.rows_after_a_gap > form.rows {
            writeln!(
                out,
                "  note: {} of them came more than three polls after the one before, so values grew old in between; if it was recorded more seldom than the site file polls, say how often: --polled \"{}\"",
                form.rows_after_a_gap,
                span(Duration::from_secs_f64(
                    (form.span_s / (form.rows - 1) as f64).ceil()
                ))
            )?;
        } else if form.rows_after_a_gap > 0 {
            writeln!(
                out,
                "  {} gaps of more than three polls",
                form.rows_after_a_gap
            )?;
        }
        if form.last_line_cut {
            writeln!(
                out,
                "  note: the last line has no end; if the recording was cut there, so may be its last number"
            )?;
        }
        self.tanks(out)?;
        for alarm in &form.alarms {
            let place = format!("{} {}", alarm.tank, alarm.code);
            let (times, first) = (alarm.annunciated, &alarm.first);
            writeln!(
                out,
                "  alarm {place}: annunciated {}, first at {first}",
                if times == 1 {
                    "once".to_owned()
                } else {
                    format!("{times} times")
                }
            )?;
        }
        let events = form
            .events
            .iter()
            .map(|(kind, count)| format!("{kind} {count}"));
        writeln!(out, "  events: {}", events.collect::<Vec<_>>().join(", "))?;
        for manual in &form.manual {
            self.manual(manual, out)?;
        }
        writeln!(
            out,
            "  took {:.1} s, {:.0} rows a second",
            form.took_s, form.rows_per_s
        )?;
        Ok(())
    }

    fn level(&self, level_m: Option<f64>) -> String {
        shown(level_m, self.site.show.level, 3)
    }

    fn tanks(&self, out: &mut impl Write) -> io::Result<()> {
        for tank in &self.form.tanks {
            writeln!(
                out,
                "  {}: {} good, {} uncertain, {} bad readings; lowest {} ({}), highest {} ({})",
                tank.tank,
                tank.good,
                tank.uncertain,
                tank.bad,
                self.level(tank.level_min_m),
                tank.level_min_time.as_deref().unwrap_or("—"),
                self.level(tank.level_max_m),
                tank.level_max_time.as_deref().unwrap_or("—"),
            )?;
        }
        Ok(())
    }

    fn manual(&self, manual: &ManualForm, out: &mut impl Write) -> io::Result<()> {
        let millimetre = find("mm", Dimension::Length).expect("the millimetre stands in the table");
        let in_mm = |si: Option<f64>| shown(si, millimetre, 1);
        writeln!(
            out,
            "  {}: manual readings, level less manual; mean {}",
            manual.tank,
            in_mm(manual.mean_difference_m)
        )?;
        for reading in &manual.readings {
            let by = reading
                .by
                .as_deref()
                .map_or(String::new(), |by| format!("  by {by}"));
            writeln!(
                out,
                "    {}  manual {}  level {}  difference {}{by}",
                reading.time,
                self.level(Some(reading.manual_m)),
                self.level(reading.level_m),
                in_mm(reading.difference_m),
            )?;
        }
        match &manual.correction {
            Some(correction) => suggest(correction, millimetre, out),
            None => writeln!(
                out,
                "    three different levels are needed to tell gain from zero"
            ),
        }
    }
}

/// A correction is called for where gain or zero is off by more than twice its standard error.
fn suggest(correction: &CorrectionForm, millimetre: &Unit, out: &mut impl Write) -> io::Result<()> {
    let in_mm = |si: f64| shown(Some(si), millimetre, 1);
    writeln!(
        out,
        "    level_true = gain · level + offset: gain {:.5}, standard error {:.5}; offset {}, standard error {}; leaves {}",
        correction.gain,
        correction.gain_standard_error,
        in_mm(correction.offset_m),
        in_mm(correction.offset_standard_error_m),
        in_mm(correction.residual_m),
    )?;
    let is_off = (correction.gain - 1.0).abs() > 2.0 * correction.gain_standard_error
        || correction.offset_m.abs() > 2.0 * correction.offset_standard_error_m;
    let of_site = correction.site_file_gain.zip(correction.site_file_offset_m);
    match (is_off, of_site) {
        (false, _) => writeln!(
            out,
            "    neither is off by more than twice its standard error: no correction is called for"
        ),
        (true, Some((gain, offset_m))) => writeln!(
            out,
            "    two-point correction suggested, once the reason is understood; in the hookup: correction = {{ gain = {gain:.5}, offset = \"{}\" }}",
            in_mm(offset_m)
        ),
        (true, None) => writeln!(
            out,
            "    two-point correction suggested, once the reason is understood"
        ),
    }
}
