//! `standpipe diagnose`: a page for each tank of what is known, what is suspected, and what can't be known here.

use super::ask::{ask, tell};
use super::rounds::{due, minute};
use super::simulate::duration;
use super::{load, replay};
use crate::engine::EventKind;
use crate::journal::{Filter, Reader};
use crate::wire::{Answer, EventForm, Request, StatusForm};
use serde_json::{Value, json};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

/// So many earlier findings of the journal are shown of a tank.
const EARLIER: usize = 12;

/// Say of each tank what is known, what is suspected, and what can't be known here.
///
/// Of the running daemon and its journal; or of a recording, as `replay` takes one.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// Only this tank
    #[arg(value_name = "TANK")]
    tank: Option<String>,
    /// A recorded CSV instead of the running daemon
    #[arg(long, value_name = "FILE")]
    recording: Option<PathBuf>,
    /// A file that says what its columns are
    #[arg(long, value_name = "MAP", requires = "recording")]
    columns: Option<PathBuf>,
    /// One of them: "p_gauge_pa=PT-1:Pa"
    #[arg(
        long = "column",
        value_name = "COLUMN=TAG:UNIT",
        requires = "recording"
    )]
    column: Vec<String>,
    /// What was read by hand meanwhile: CSV with time (or seconds), tank, level, unit, by
    #[arg(long, value_name = "MANUAL", requires = "recording")]
    manual: Option<PathBuf>,
    /// The time of second 0, in a recording with seconds
    #[arg(long, value_name = "TIME", requires = "recording")]
    begins: Option<String>,
    /// The recording has a row only so often ("15 min"), more seldom than the site file polls
    #[arg(long, value_name = "DURATION", value_parser = duration, requires = "recording")]
    polled: Option<Duration>,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
}

pub fn run(arguments: Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    if let Some(tank) = &arguments.tank {
        super::tank_named(&load(&arguments.site)?, tank)?;
    }
    let (json, only) = (arguments.json, arguments.tank.clone());
    let (status, earlier) = match arguments.recording.clone() {
        Some(recording) => (of_recording(arguments, recording)?, Vec::new()),
        None => match ask(&arguments.site, &Request::Status)? {
            Answer::Status(status) => (status, told(&arguments.site)?),
            other => return tell(other, out),
        },
    };
    let tanks = status["tanks"].as_array().into_iter().flatten();
    let tanks = tanks.filter(|tank| only.as_ref().is_none_or(|only| tank["name"] == **only));
    let pages: Vec<Value> = tanks.map(|tank| page(tank, &status, &earlier)).collect();
    if json {
        let form = json!({ "site": status["site"], "time": status["time"], "tanks": pages });
        writeln!(out, "{form}")?;
        return Ok(ExitCode::SUCCESS);
    }
    writeln!(
        out,
        "{} at {}",
        text(&status["site"]),
        minute(&status["time"])
    )?;
    for page in &pages {
        print(page, out)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn of_recording(arguments: Arguments, recording: PathBuf) -> anyhow::Result<Value> {
    let of_replay = replay::Arguments {
        site: arguments.site,
        recording,
        columns: arguments.columns,
        column: arguments.column,
        manual: arguments.manual,
        begins: arguments.begins,
        polled: arguments.polled,
        ..replay::Arguments::default()
    };
    let (_, snapshot) = replay::ended(&of_replay)?;
    Ok(serde_json::to_value(StatusForm::new(&snapshot))?)
}

/// What diagnosis has told so far, by the journal.
fn told(site: &Path) -> anyhow::Result<Vec<Value>> {
    let site = load(site)?;
    let reader = Reader::open(&site.journal.file)?;
    let mut all = Vec::new();
    for tank in &site.plan.tanks {
        for kind in [EventKind::Diagnosis, EventKind::Jump, EventKind::Leg] {
            let filter = Filter {
                tank: Some(tank.name.to_string()),
                kind: Some(kind),
                ..Filter::default()
            };
            let events = reader.last(&filter, EARLIER)?;
            for event in events {
                all.push(serde_json::to_value(EventForm::new(&event))?);
            }
        }
    }
    all.sort_by_key(|event| event["number"].as_u64());
    Ok(all)
}

fn page(tank: &Value, status: &Value, earlier: &[Value]) -> Value {
    let abilities = |diagnosable: bool| {
        let all = tank["abilities"].as_array().into_iter().flatten();
        let chosen = all.filter(|ability| ability["diagnosable"] == diagnosable);
        chosen.cloned().collect::<Vec<Value>>()
    };
    let of_tank = earlier.iter().filter(|event| event["tank"] == tank["name"]);
    let of_tank: Vec<&Value> = of_tank.collect();
    let work = status["work"].as_array().cloned().unwrap_or_default();
    json!({
        "tank": tank["name"],
        "title": tank["title"],
        "known": {
            "reading": tank["reading"],
            "last_good": tank["last_good"],
            "product": tank["product"],
            "hookups": tank["hookups"],
            "rounds": tank["rounds"],
            "work": work,
        },
        "suspected": tank["findings"],
        "earlier": of_tank[of_tank.len().saturating_sub(EARLIER)..],
        "could_be_found": abilities(true),
        "cannot_be_known": abilities(false),
    })
}

fn print(page: &Value, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\n{}: {}", text(&page["tank"]), text(&page["title"]))?;
    writeln!(out, "  Known")?;
    known(&page["known"], out)?;
    writeln!(out, "  Suspected")?;
    let suspected = list(&page["suspected"]);
    if suspected.is_empty() {
        writeln!(out, "    nothing now")?;
    }
    for finding in suspected {
        let subject = finding["subject"].as_str();
        writeln!(
            out,
            "    {} {}{}, since {} ({})",
            text(&finding["confidence"]),
            text(&finding["verdict"]),
            subject.map_or(String::new(), |subject| format!(" ({subject})")),
            minute(&finding["since"]),
            text(&finding["category"]),
        )?;
        writeln!(out, "      {}", text(&finding["evidence"]))?;
        writeln!(out, "      {}", text(&finding["remedy"]))?;
    }
    let earlier = list(&page["earlier"]);
    if !earlier.is_empty() {
        writeln!(out, "  Told before")?;
    }
    for event in earlier {
        writeln!(
            out,
            "    {}  {}",
            minute(&event["time"]),
            text(&event["text"])
        )?;
    }
    if list(&page["could_be_found"]).is_empty() && list(&page["cannot_be_known"]).is_empty() {
        return writeln!(
            out,
            "  What could be found here is worked out with the first readings"
        );
    }
    writeln!(out, "  Would be found here")?;
    said(&page["could_be_found"], "nothing", out)?;
    writeln!(out, "  Can't be known here")?;
    said(
        &page["cannot_be_known"],
        "of the checks that there are, each could find its fault",
        out,
    )
}

fn known(known: &Value, out: &mut impl Write) -> io::Result<()> {
    let reading = &known["reading"];
    let level = match (
        reading["level_m"].as_f64(),
        reading["level_at_least_m"].as_f64(),
        reading["level_at_most_m"].as_f64(),
    ) {
        (Some(level_m), ..) => format!("level {level_m:.3} m"),
        (_, Some(least_m), _) => format!("level at least {least_m:.3} m"),
        (.., Some(most_m)) => format!("level at most {most_m:.3} m"),
        _ => "no level".to_owned(),
    };
    let uncertainty = reading["uncertainty"]["level_m"].as_f64();
    let uncertainty = uncertainty.map_or(String::new(), |u_m| {
        format!(" ± {:.0} mm (k = 2)", u_m * 1e3)
    });
    writeln!(
        out,
        "    {level}{uncertainty}, {}; last good {}",
        text(&reading["quality"]),
        minute(&known["last_good"])
    )?;
    for reason in list(&reading["reasons"]) {
        writeln!(out, "      {}", text(reason))?;
    }
    if let Some(product) = known["product"].as_str() {
        writeln!(out, "    product: {product}")?;
    }
    for work in list(&known["work"]) {
        writeln!(
            out,
            "    at work on this site: {}, permit {}",
            text(&work["tag"]),
            text(&work["work"]["permit"])
        )?;
    }
    let rounds = &known["rounds"];
    let last = &rounds["last"];
    if last.is_object() {
        let off = last["residual_m"].as_f64();
        let off = off.map_or("not compared".to_owned(), |off_m| {
            format!("the reading {:+.0} mm off", off_m * 1e3)
        });
        writeln!(
            out,
            "    last entry {} by {}: {:.3} m, {off}",
            minute(&last["time"]),
            text(&last["by"]),
            last["level_m"].as_f64().unwrap_or(f64::NAN)
        )?;
    }
    writeln!(out, "    {}", due(rounds))
}

fn said(abilities: &Value, none: &str, out: &mut impl Write) -> io::Result<()> {
    let abilities = list(abilities);
    if abilities.is_empty() {
        return writeln!(out, "    {none}");
    }
    for ability in abilities {
        let said = text(&ability["text"]);
        let said = said.strip_prefix("not diagnosable here: ").unwrap_or(&said);
        writeln!(out, "    {}: {said}", text(&ability["check"]))?;
    }
    Ok(())
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or("").to_owned()
}
