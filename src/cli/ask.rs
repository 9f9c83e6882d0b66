//! Commands to a running daemon, over its local socket: `ack`, `confirm`, `status`.

use super::{NO, load};
use crate::people::socket;
use crate::wire::{Answer, Request};
use anyhow::bail;
use serde_json::Value;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Acknowledge an alarm: you have seen it and act on it. It stays active until the process is back.
#[derive(Debug, clap::Args)]
pub struct Acknowledge {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// The alarm's code
    #[arg(value_name = "CODE")]
    code: String,
    /// Your name, for the record
    #[arg(long, value_name = "NAME")]
    by: String,
    /// The number of the event that you answer; refused if a newer one stands
    #[arg(long, value_name = "NUMBER")]
    activation: Option<u64>,
}

/// Confirm what was seen at the tank: `level` after a jump, `leg-drained` after a flooded low leg.
#[derive(Debug, clap::Args)]
pub struct Confirm {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// What is confirmed
    #[arg(value_name = "WHAT", value_enum)]
    what: Seen,
    /// Your name, for the record
    #[arg(long, value_name = "NAME")]
    by: String,
}

#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Seen {
    /// The sight glass agrees with the reading as it stands
    Level,
    /// The low leg has been drained
    LegDrained,
}

/// Show everything as it stands now.
#[derive(Debug, clap::Args)]
pub struct Status {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
}

impl Acknowledge {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self {
            site,
            tank,
            code,
            by,
            activation,
        } = self;
        tell(
            ask(
                &site,
                &Request::Ack {
                    tank,
                    code,
                    by,
                    activation,
                },
            )?,
            out,
        )
    }
}

impl Confirm {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self {
            site,
            tank,
            what,
            by,
        } = self;
        let request = match what {
            Seen::Level => Request::ConfirmLevel { tank, by },
            Seen::LegDrained => Request::ConfirmLegDrained { tank, by },
        };
        tell(ask(&site, &request)?, out)
    }
}

impl Status {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        match ask(&self.site, &Request::Status)? {
            Answer::Status(status) if self.json => writeln!(out, "{status}")?,
            Answer::Status(status) => print_status(&status, out)?,
            other => return tell(other, out),
        }
        Ok(ExitCode::SUCCESS)
    }
}

fn ask(site: &Path, request: &Request) -> anyhow::Result<Answer> {
    let site = load(site)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    Ok(runtime.block_on(socket::ask(&site.commands.socket, request))?)
}

fn tell(answer: Answer, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    match answer {
        Answer::Done(text) => {
            writeln!(out, "{text}")?;
            Ok(ExitCode::SUCCESS)
        }
        Answer::Refused(text) => {
            writeln!(std::io::stderr(), "refused: {text}")?;
            Ok(ExitCode::from(NO))
        }
        Answer::Status(_) => bail!("the daemon answered something else than was asked"),
    }
}

fn print_status(status: &Value, out: &mut impl Write) -> std::io::Result<()> {
    let text = |value: &Value| value.as_str().unwrap_or("").to_owned();
    writeln!(
        out,
        "{} at {}",
        text(&status["site"]),
        text(&status["time"])
    )?;
    for link in status["links"].as_array().into_iter().flatten() {
        let state = if link["up"] == true {
            "up".to_owned()
        } else {
            format!("DOWN: {}", text(&link["trouble"]))
        };
        writeln!(out, "  link {:<16} {state}", text(&link["link"]))?;
    }
    for tank in status["tanks"].as_array().into_iter().flatten() {
        let reading = &tank["reading"];
        writeln!(
            out,
            "  tank {:<16} {:<10} {}",
            text(&tank["name"]),
            level_words(reading),
            text(&reading["quality"])
        )?;
        for reason in reading["reasons"].as_array().into_iter().flatten() {
            writeln!(out, "         {}", text(reason))?;
        }
        for alarm in tank["alarms"]
            .as_array()
            .into_iter()
            .flatten()
            .filter(|alarm| alarm["state"] != "NORM")
        {
            writeln!(
                out,
                "         {} {} since {}, priority {}",
                text(&alarm["code"]),
                text(&alarm["state"]),
                text(&alarm["since"]),
                text(&alarm["priority"])
            )?;
            if let Some(response) = alarm["response"].as_str() {
                writeln!(out, "           response: {response}")?;
            }
        }
        if let Some(jump) = tank["jump"]["text"].as_str() {
            writeln!(out, "         {jump}")?;
        }
    }
    Ok(())
}

fn level_words(reading: &Value) -> String {
    match (
        &reading["level_m"],
        &reading["level_at_least_m"],
        &reading["level_at_most_m"],
    ) {
        (Value::Number(level), ..) => format!("{:.3} m", level.as_f64().unwrap_or(f64::NAN)),
        (_, Value::Number(least), _) => format!(">= {:.3} m", least.as_f64().unwrap_or(f64::NAN)),
        (_, _, Value::Number(most)) => format!("<= {:.3} m", most.as_f64().unwrap_or(f64::NAN)),
        _ => "unknown".to_owned(),
    }
}
