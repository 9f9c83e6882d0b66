//! `standpipe sight`, `dip` and `rounds`: what people see at the tank, and what comes of it.

use super::ask::{Who, ask, tell};
use super::{load, quantity, tank_named};
use crate::quantity::{Dimension, Timestamp, span};
use crate::wire::rounds::{DipForm, SightForm};
use crate::wire::{Answer, Request};
use anyhow::anyhow;
use serde_json::Value;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// Which tank, by whom, and when.
#[derive(Debug, clap::Args)]
struct Seen {
    /// When it was seen, with its zone: 2026-03-04T14:05:00Z; now if left out. Readings are kept for a day
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// How far off it may be (k = 2); 10 mm of a glass and 4 mm of a tape if left out
    #[arg(long, value_name = "QUANTITY")]
    uncertainty: Option<String>,
    /// Who saw it, where that is not you
    #[arg(long, value_name = "NAME")]
    read_by: Option<String>,
    #[command(flatten)]
    who: Who,
}

/// Enter what a sight glass shows: it is held against the reading, and decides an open jump.
#[derive(Debug, clap::Args)]
pub struct Sight {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// What its scale shows, for example "3.41 m"; counted from `zero_at` of the site file
    #[arg(value_name = "LEVEL", allow_hyphen_values = true)]
    level: String,
    /// The glass was blown down before, so that fresh liquid stands in it
    #[arg(long)]
    blown_down: bool,
    #[command(flatten)]
    seen: Seen,
}

/// Enter a dip by tape: it is held against the reading, and decides an open jump.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("surface").required(true).args(["innage", "ullage"]))]
pub struct Dip {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// From the plate up to the surface, for example "3.41 m"
    #[arg(long, value_name = "LENGTH")]
    innage: Option<String>,
    /// From the gauge point down to the surface
    #[arg(long, value_name = "LENGTH")]
    ullage: Option<String>,
    /// Height of free water at the bottom, from the plate
    #[arg(long, value_name = "LENGTH")]
    water_cut: Option<String>,
    /// Of a sample, at the tank's temperature
    #[arg(long, value_name = "DENSITY")]
    density: Option<String>,
    #[command(flatten)]
    seen: Seen,
}

/// Show a tank's entries against its readings: residuals, chart, and the correction that they suggest.
#[derive(Debug, clap::Args)]
pub struct Rounds {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
}

impl Seen {
    fn at(&self) -> anyhow::Result<Option<Timestamp>> {
        let Some(text) = &self.at else {
            return Ok(None);
        };
        let time = text.parse().map_err(|_| {
            anyhow!("--at \"{text}\" is no time; write it with its zone: 2026-03-04T14:05:00Z")
        })?;
        Ok(Some(time))
    }

    fn uncertainty_m(&self) -> anyhow::Result<Option<f64>> {
        length(self.uncertainty.as_deref())
    }
}

fn length(text: Option<&str>) -> anyhow::Result<Option<f64>> {
    text.map(|text| Ok(quantity(text, Dimension::Length)?.si))
        .transpose()
}

impl Sight {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let request = Request::Sight(SightForm {
            level_m: quantity(&self.level, Dimension::Length)?.si,
            blown_down: self.blown_down,
            at: self.seen.at()?,
            uncertainty_m: self.seen.uncertainty_m()?,
            reader: self.seen.read_by,
            tank: self.tank,
            by: self.seen.who.name(),
        });
        tell(ask(&self.site, &request)?, out)
    }
}

impl Dip {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let density = self.density.as_deref();
        let density = density.map(|text| anyhow::Ok(quantity(text, Dimension::Density)?.si));
        let request = Request::Dip(DipForm {
            innage_m: length(self.innage.as_deref())?,
            ullage_m: length(self.ullage.as_deref())?,
            water_cut_m: length(self.water_cut.as_deref())?,
            density_kg_m3: density.transpose()?,
            at: self.seen.at()?,
            uncertainty_m: self.seen.uncertainty_m()?,
            reader: self.seen.read_by,
            tank: self.tank,
            by: self.seen.who.name(),
        });
        tell(ask(&self.site, &request)?, out)
    }
}

impl Rounds {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        tank_named(&load(&self.site)?, &self.tank)?;
        let status = match ask(&self.site, &Request::Status)? {
            Answer::Status(status) => status,
            other => return tell(other, out),
        };
        let of_tank = |list: &Value, key: &str| {
            let all = list.as_array().into_iter().flatten();
            all.into_iter().find(|one| one[key] == *self.tank).cloned()
        };
        let Some(tank) = of_tank(&status["tanks"], "name") else {
            return Err(anyhow!(
                "the daemon runs an older site file, without this tank"
            ));
        };
        let entries = of_tank(&status["entries"], "tank");
        let entries = entries.map_or_else(|| Value::Array(Vec::new()), |of| of["entries"].clone());
        if self.json {
            let form = serde_json::json!({
                "tank": self.tank, "entries": entries, "rounds": tank["rounds"],
                "findings": tank["findings"], "abilities": tank["abilities"],
            });
            writeln!(out, "{form}")?;
        } else {
            print(&tank, &entries, out)?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// A tank's rounds for people.
pub(super) fn print(tank: &Value, entries: &Value, out: &mut impl Write) -> std::io::Result<()> {
    let rounds = &tank["rounds"];
    let entries = entries.as_array().cloned().unwrap_or_default();
    writeln!(out, "{}: rounds", text(&tank["name"]))?;
    writeln!(out, "  {}", due(rounds))?;
    if entries.is_empty() {
        return writeln!(
            out,
            "  no entries yet: `standpipe sight` or `standpipe dip`"
        );
    }
    writeln!(
        out,
        "  {:<20} {:<10} {:<5} {:>8} {:>8} {:>7} {:>6} {:>6} {:>6} {:>6}",
        "time", "by", "way", "entry m", "read m", "off mm", "z", "cusum+", "cusum-", "ewma"
    )?;
    for entry in &entries {
        let charted = &entry["charted"];
        let begins = if entry["begins"] == true {
            "  series begins"
        } else {
            ""
        };
        let signal = charted["signal"].as_str();
        let signal = signal.map_or(String::new(), |side| format!("  SIGNAL {side}"));
        writeln!(
            out,
            "  {:<20} {:<10} {:<5} {:>8} {:>8} {:>7} {:>6} {:>6} {:>6} {:>6}{signal}{begins}",
            minute(&entry["time"]),
            text(&entry["by"]),
            text(&entry["way"]),
            number(&entry["level_m"], 1.0, 3),
            number(&entry["reading_m"], 1.0, 3),
            number(&entry["residual_m"], 1e3, 0),
            number(&charted["z"], 1.0, 1),
            number(&charted["cusum_high"], 1.0, 1),
            number(&charted["cusum_low"], 1.0, 1),
            number(&charted["ewma"], 1.0, 2),
        )?;
    }
    chart(rounds, entries.last(), out)?;
    if rounds["chart"]["signal"].is_string() {
        writeln!(
            out,
            "  a drift stands: find its cause first, a correction would hide it"
        )?;
    }
    let of_hookups = rounds["suggestions"].as_array();
    let of_hookups = of_hookups.map_or(&[][..], Vec::as_slice);
    let only = Some(&rounds["suggestion"]).filter(|only| only.is_object());
    if only.is_none() && of_hookups.is_empty() {
        return writeln!(
            out,
            "  no correction is suggested: it takes three compared entries, of several hookups entries made at once"
        );
    }
    let mut all = only.into_iter().chain(of_hookups);
    all.try_for_each(|one| suggestion(one, out))
}

fn chart(rounds: &Value, last: Option<&Value>, out: &mut impl Write) -> std::io::Result<()> {
    let chart = &rounds["chart"];
    writeln!(
        out,
        "  CUSUM: k 0.5, h {}; a healthy tank signals once in {} entries on average. EWMA: limits ±{} now; once in {} entries",
        number(&chart["decision_interval"], 1.0, 0),
        number(&chart["run_length"], 1.0, 0),
        last.map_or("—".to_owned(), |last| number(
            &last["charted"]["ewma_limit"],
            1.0,
            2
        )),
        number(&chart["ewma_run_length"], 1.0, 0),
    )
}

fn suggestion(suggestion: &Value, out: &mut impl Write) -> std::io::Result<()> {
    let of = suggestion["hookup"].as_str();
    let of = of.map_or(String::new(), |name| format!("{name}: "));
    let gain = match suggestion["gain_standard_error"].as_f64() {
        Some(error) => format!("gain {} ± {error:.5}", number(&suggestion["gain"], 1.0, 5)),
        None => "gain 1 (the entries are too alike in level to tell it)".to_owned(),
    };
    writeln!(
        out,
        "  {of}{} entries give {gain}, offset {} ± {} mm (standard errors); left over: {} mm",
        suggestion["entries"],
        number(&suggestion["offset_m"], 1e3, 1),
        number(&suggestion["offset_standard_error_m"], 1e3, 1),
        number(&suggestion["left_m"], 1e3, 1),
    )?;
    if suggestion["worth_it"] == true {
        writeln!(
            out,
            "  once the cause is known, a person may write into the tank's hookup, with `by` and `until`:\n    {}",
            text(&suggestion["text"])
        )
    } else {
        writeln!(
            out,
            "  that is no more than its own errors: nothing to correct"
        )
    }
}

/// How often an entry is due, and whether one is overdue.
pub(super) fn due(rounds: &Value) -> String {
    let Some(every_s) = rounds["every_s"].as_f64() else {
        return "no entries are due: the site file has no sight_glass = { every = … }".to_owned();
    };
    let state = if rounds["overdue"] == true {
        "OVERDUE since"
    } else {
        "due at"
    };
    format!(
        "an entry is due every {}, the next one {state} {}",
        span(Duration::from_secs_f64(every_s)),
        minute(&rounds["due"])
    )
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or("").to_owned()
}

/// A time without its parts of a second.
pub(super) fn minute(value: &Value) -> String {
    let text = value.as_str().unwrap_or("—");
    match text.parse::<Timestamp>() {
        Ok(time) => format!("{time:.0}"),
        Err(_) => text.to_owned(),
    }
}

fn number(value: &Value, times: f64, decimals: usize) -> String {
    let value = value.as_f64();
    value.map_or("—".to_owned(), |value| {
        format!("{:.decimals$}", value * times)
    })
}
