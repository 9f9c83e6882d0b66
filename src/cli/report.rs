//! `standpipe report`: documents over the journal.

use super::{load, span};
use crate::journal::{Filter, Reader};
use crate::report::alarms::AlarmReport;
use anyhow::{Context, ensure};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Documents over the journal.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// The alarms' performance figures by ISA-18.2, each beside its target
    Alarms {
        /// The site file
        #[arg(value_name = "SITE")]
        site: PathBuf,
        /// From this time on (2026-03-04T05:06:07Z, or 2026-03-04 in the site's time zone), or so long before the
        /// end ("7 d")
        #[arg(long, value_name = "TIME", default_value = "7 d")]
        from: String,
        /// Before this time; the newest event if left out
        #[arg(long, value_name = "TIME")]
        to: Option<String>,
        /// Answer as JSON
        #[arg(long, conflicts_with = "csv")]
        json: bool,
        /// Answer as CSV
        #[arg(long)]
        csv: bool,
    },
}

pub fn run(arguments: Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let Command::Alarms {
        site,
        from,
        to,
        json,
        csv,
    } = arguments.command;
    let site = load(&site)?;
    let (zone, reader) = (span::zone(&site), Reader::open(&site.journal.file)?);
    let end = match to {
        Some(to) => span::moment(&to, &zone)?,
        None => {
            let newest = reader.last(&Filter::default(), 1)?.pop();
            let newest = newest.context("the journal has no events yet")?;
            // Up to and with it.
            newest.time + std::time::Duration::from_nanos(1)
        }
    };
    let begin = span::moment_before(&from, end, &zone)?;
    ensure!(
        begin < end,
        "--from {begin:.0} does not lie before the end, {end:.0}"
    );
    let report = AlarmReport::of(&site.plan.site, &site.plan, zone, &reader, (begin, end))?;
    if json {
        writeln!(out, "{}", serde_json::to_string(&report.form())?)?;
    } else if csv {
        report.csv(out)?;
    } else {
        write!(out, "{report}")?;
    }
    Ok(ExitCode::SUCCESS)
}
