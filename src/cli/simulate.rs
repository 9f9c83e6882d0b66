//! `simulate`: serve the simulated plant of a script alone, for any Modbus client.

use crate::plant::Plant;
use crate::plant::server::{self, Ports};
use crate::quantity::{Dimension, lasting, parse};
use crate::rehearsal::{Scenario, Script, scenario};
use anyhow::Context;
use std::io::{Write, stdout};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;
use tokio_util::sync::CancellationToken;

/// Serve a SIMULATED plant over Modbus TCP on this machine's loopback, as a script has it.
#[derive(Clone, Debug, clap::Args)]
pub struct Arguments {
    /// The script; it names the site file whose plant is simulated
    pub script: PathBuf,
    /// Port of the first link, the others follow; 0 takes free ports
    #[arg(long, value_name = "BASE", default_value_t = 0)]
    pub port: u16,
    /// All links at this one port, as behind one gateway; their devices need numbers of their own
    #[arg(long)]
    pub one_port: bool,
    /// Go so many times as fast as the clock on the wall
    #[arg(long, value_name = "N", default_value = "1", value_parser = speed)]
    pub speed: f64,
    /// Stop after so much of the plant's time, for example "10 min"; else at the script's `last`, or at Ctrl-C
    #[arg(long = "for", value_name = "DURATION", value_parser = duration)]
    pub lasting: Option<Duration>,
}

pub fn run(arguments: Arguments) -> anyhow::Result<ExitCode> {
    let script = Script::read(&arguments.script)?;
    let site = crate::site::read(&script.site)?;
    let scenario = scenario::plant(&site, &script)?;
    let runtime = tokio::runtime::Runtime::new().context("the runtime does not start")?;
    runtime.block_on(simulate(scenario, script.seed, &arguments))?;
    Ok(ExitCode::SUCCESS)
}

async fn simulate(scenario: Scenario, seed: u64, arguments: &Arguments) -> anyhow::Result<()> {
    let Scenario {
        plant,
        mut timeline,
        notes,
    } = scenario;
    let asks = timeline.has_commands();
    let end = arguments.lasting.or(timeline.last());
    let stop = CancellationToken::new();
    let over = stop.clone();
    let hand = move |plant: &mut Plant| {
        // Nobody takes commands here; that is said at the start.
        timeline.apply(plant);
        if end.is_some_and(|end| plant.time() >= end) {
            over.cancel();
        }
    };
    let plant = Plant::new(plant, seed);
    let ports = match arguments.one_port {
        true => Ports::One(arguments.port),
        false => Ports::Each(arguments.port),
    };
    let served = server::serve(plant, ports, arguments.speed, hand, stop.clone())
        .await
        .context("the plant cannot be served")?;
    announce(&served.addresses, &notes, asks, arguments.speed)?;
    tokio::select! {
        pressed = tokio::signal::ctrl_c() => pressed.context("Ctrl-C cannot be heard")?,
        () = stop.cancelled() => {}
    }
    stop.cancel();
    served.stopped().await;
    writeln!(stdout(), "SIMULATED plant stopped")?;
    Ok(())
}

fn announce(
    addresses: &[(String, std::net::SocketAddr)],
    notes: &[String],
    asks: bool,
    speed: f64,
) -> std::io::Result<()> {
    let mut out = stdout().lock();
    writeln!(
        out,
        "SIMULATED plant, at {speed} times the speed of the clock; Ctrl-C stops it"
    )?;
    for (link, address) in addresses {
        writeln!(out, "SIMULATED link {link} at {address} (Modbus TCP)")?;
    }
    for note in notes {
        writeln!(out, "note: {note}")?;
    }
    if asks {
        writeln!(
            out,
            "note: the script's commands are not carried out: the plant is alone"
        )?;
    }
    out.flush()
}

fn speed(text: &str) -> Result<f64, String> {
    /// The fastest that was tried: ten tanks then take a twentieth of one core.
    const MOST: f64 = 1000.0;
    match text.parse::<f64>() {
        Ok(speed) if speed > 0.0 && speed <= MOST => Ok(speed),
        _ => Err(format!("a number above 0 and up to {MOST}, for example 10")),
    }
}

pub(super) fn duration(text: &str) -> Result<Duration, String> {
    let written =
        parse(text, Dimension::Time).map_err(|error| format!("{error}; {}", error.cure()))?;
    lasting(written.si).map_err(|range| format!("{range}, for example \"10 min\""))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Debug, clap::Parser)]
    struct Line {
        #[command(flatten)]
        arguments: Arguments,
    }

    #[test]
    fn the_line_is_understood_or_refused_with_an_example() {
        let line = [
            "simulate",
            "demo.toml",
            "--port",
            "1502",
            "--speed",
            "2.5",
            "--for",
            "10 min",
        ];
        let Arguments {
            port,
            speed,
            lasting,
            ..
        } = Line::try_parse_from(line).expect("a sound line").arguments;
        assert_eq!(
            (port, speed.to_bits(), lasting),
            (1502, 2.5_f64.to_bits(), Some(Duration::from_secs(600)))
        );
        for wrong in [
            ["--speed", "0"],
            ["--speed", "NaN"],
            ["--for", "10"],
            ["--for", "-1 s"],
            ["--port", "70000"],
        ] {
            let line = ["simulate", "demo.toml"].into_iter().chain(wrong);
            assert!(Line::try_parse_from(line).is_err(), "{wrong:?}");
        }
    }
}
