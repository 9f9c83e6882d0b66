//! The command line: one file a subcommand; prints, never computes.
//!
//! Exit status: 0 done, whatever the quality of the answer; 1 the answer is no; 2 it could not be done.

mod ask;
mod check;
mod convert;
mod demo;
mod diagnose;
mod heard;
mod journal;
mod live_test;
mod notice;
mod output;
mod password;
mod record;
mod rehearse;
mod replay;
mod report;
mod rounds;
mod run;
mod sheet;
mod simulate;
mod span;
mod stated;
mod strap;
mod transfer;
mod work;

use crate::quantity::{Dimension, Unit, Written, parse, print};
use crate::site::{self, Site};
use clap::{Parser, Subcommand};
use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

/// The answer is no.
pub const NO: u8 = 1;
/// It could not be done.
pub const FAILED: u8 = 2;

const ABOUT: &str = "Standpipe watches the level of liquid in tanks: it polls pressure transmitters over Modbus, \
    works out level and volume, raises alarms, and publishes to MQTT and a metrics endpoint.\n\n\
    Not a safety instrumented system and not an independent overfill prevention system. \
    Local codes and licensed practice decide.";

#[derive(Debug, Parser)]
#[command(name = "standpipe", version, about = ABOUT, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::Arguments),
    Demo(demo::Arguments),
    Check(check::Arguments),
    Convert(convert::Arguments),
    Sheet(sheet::Arguments),
    Strap(strap::Arguments),
    Simulate(simulate::Arguments),
    Rehearse(rehearse::Arguments),
    Replay(replay::Arguments),
    Record(record::Arguments),
    Ack(ask::Acknowledge),
    Reset(ask::Reset),
    Shelve(ask::Shelve),
    Unshelve(ask::Unshelve),
    OutOfService(ask::OutOfService),
    Return(ask::Return),
    Confirm(ask::Confirm),
    Product(ask::Product),
    Sight(rounds::Sight),
    Dip(rounds::Dip),
    Rounds(rounds::Rounds),
    Transfer(transfer::Transfer),
    Note(transfer::Note),
    Work(work::Work),
    Silence(work::Silence),
    Test(live_test::Test),
    Notice(notice::Arguments),
    Password(password::Arguments),
    Status(ask::Status),
    Diagnose(diagnose::Arguments),
    Journal(journal::Arguments),
    Report(report::Arguments),
}

/// Runs the command that the program was called with.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse_from(journal::in_order(std::env::args_os().collect()));
    let mut out = io::stdout().lock();
    let done = match arguments.command {
        Command::Run(arguments) => run::run(&arguments, &mut out),
        Command::Demo(arguments) => demo::run(&arguments),
        Command::Check(arguments) => check::run(&arguments, &mut out),
        Command::Convert(arguments) => convert::run(&arguments, &mut out),
        Command::Sheet(arguments) => sheet::run(&arguments, &mut out),
        Command::Strap(arguments) => strap::run(&arguments, &mut out),
        Command::Simulate(arguments) => simulate::run(arguments),
        Command::Rehearse(arguments) => rehearse::run(&arguments, &mut out),
        Command::Replay(arguments) => replay::run(&arguments, &mut out),
        Command::Record(arguments) => record::run(&arguments, &mut out),
        Command::Ack(arguments) => arguments.run(&mut out),
        Command::Reset(arguments) => arguments.run(&mut out),
        Command::Shelve(arguments) => arguments.run(&mut out),
        Command::Unshelve(arguments) => arguments.run(&mut out),
        Command::OutOfService(arguments) => arguments.run(&mut out),
        Command::Return(arguments) => arguments.run(&mut out),
        Command::Confirm(arguments) => arguments.run(&mut out),
        Command::Product(arguments) => arguments.run(&mut out),
        Command::Sight(arguments) => arguments.run(&mut out),
        Command::Dip(arguments) => arguments.run(&mut out),
        Command::Rounds(arguments) => arguments.run(&mut out),
        Command::Transfer(arguments) => arguments.run(&mut out),
        Command::Note(arguments) => arguments.run(&mut out),
        Command::Work(arguments) => arguments.run(&mut out),
        Command::Silence(arguments) => arguments.run(&mut out),
        Command::Test(arguments) => arguments.run(&mut out),
        Command::Notice(arguments) => arguments.run(&mut out),
        Command::Password(_) => password::run(&mut out),
        Command::Status(arguments) => arguments.run(&mut out),
        Command::Diagnose(arguments) => diagnose::run(arguments, &mut out),
        Command::Journal(arguments) => journal::run(arguments, &mut out),
        Command::Report(arguments) => report::run(arguments, &mut out),
    };
    let done = done.and_then(|code| {
        out.flush()?;
        Ok(code)
    });
    done.unwrap_or_else(|error| tell(&error))
}

/// Says on stderr what could not be done. A reader that has closed the pipe has seen enough.
fn tell(error: &anyhow::Error) -> ExitCode {
    let closed = error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<io::Error>());
    if closed
        .into_iter()
        .any(|cause| cause.kind() == io::ErrorKind::BrokenPipe)
    {
        return ExitCode::SUCCESS;
    }
    let text = match error.downcast_ref::<site::Problems>() {
        Some(problems) => problems.render(io::stderr().is_terminal()),
        None => format!("standpipe: {error:#}"),
    };
    // There is nowhere else to say it.
    let _ = writeln!(io::stderr(), "{}", text.trim_end());
    ExitCode::from(FAILED)
}

/// Reads a site file; its problems are the error.
fn load(path: &Path) -> anyhow::Result<Site> {
    Ok(crate::daemon::with_ages(&site::read(path)?))
}

/// The place of a tank by its name.
fn tank_named(site: &Site, name: &str) -> anyhow::Result<usize> {
    let tanks = &site.plan.tanks;
    let place = tanks.iter().position(|tank| *tank.name == *name);
    place.ok_or_else(|| {
        let names: Vec<&str> = tanks.iter().map(|tank| &*tank.name).collect();
        anyhow::anyhow!(
            "there is no tank \"{name}\"; this site has: {}",
            names.join(", ")
        )
    })
}

/// A quantity from an argument, in SI units; what is wrong with it comes with its cure.
fn quantity(text: &str, dimension: Dimension) -> anyhow::Result<Written> {
    parse(text, dimension).map_err(|error| anyhow::anyhow!("{error}; {}", error.cure()))
}

/// A number in SI units, shown in a unit with so many decimals; a dash where it is not known.
fn shown(si: Option<f64>, unit: &Unit, decimals: usize) -> String {
    si.map_or_else(|| "—".to_owned(), |si| print(si, unit, decimals))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn understood(line: &str) -> bool {
        Arguments::try_parse_from(line.split(' ')).is_ok()
    }

    #[test]
    fn what_people_do_with_alarms_is_understood() {
        for (command, more) in [
            ("ack", ""),
            ("ack", " --activation 12"),
            ("reset", ""),
            ("shelve", " --for 2h --reason float"),
            ("shelve", " --for 2h --reason float --once"),
            ("unshelve", ""),
            ("out-of-service", ""),
            ("out-of-service", " --reason exchange"),
            ("return", ""),
        ] {
            let line = format!("standpipe {command} site.toml clearwell LAH{more}");
            assert!(understood(&format!("{line} --by Ada")), "{line}");
            // The daemon knows whether the calling user says enough.
            assert!(understood(&line), "{line}");
        }
        assert!(!understood(
            "standpipe shelve site.toml clearwell LAH --for 2h --by Ada"
        ));
        assert!(!understood(
            "standpipe shelve site.toml clearwell LAH --reason float --by Ada"
        ));
    }
}
