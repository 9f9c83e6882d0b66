//! `standpipe test`: an alarm is tried by a value that is put in at a transmitter.

use super::ask::{Who, ask, tell};
use super::{load, quantity, tank_named};
use crate::engine::TransmitterId;
use crate::engine::plan::{Plan, TankPlan};
use crate::quantity::Dimension;
use crate::wire::Request;
use crate::wire::entered::{self, Tried};
use anyhow::{Context, anyhow};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Try an alarm: a value is put in at a transmitter for a short time, and all that follows is marked TEST.
///
/// The real level is watched meanwhile; whatever it has to tell ends the test. It tries this program and whoever
/// answers, not the transmitter and its lines.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("what").required(true).args(["value", "end"]))]
pub struct Test {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// The alarm's code
    #[arg(value_name = "CODE")]
    code: String,
    /// A level, for example "5.6 m", or what the transmitter would read, for example "55 kPa"
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    value: Option<String>,
    /// The transmitter's tag; the one on the liquid if left out
    #[arg(long, value_name = "TAG", requires = "value")]
    at: Option<String>,
    /// How long, 15 min at most
    #[arg(
        long = "for",
        value_name = "TIME",
        default_value = "2 min",
        conflicts_with = "end"
    )]
    time: String,
    /// Take the value away before its time
    #[arg(long)]
    end: bool,
    #[command(flatten)]
    who: Who,
}

impl Test {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let (level_m, value_si) = match &self.value {
            Some(value) => self.read(value)?,
            None => (None, None),
        };
        let time_s = quantity(&self.time, Dimension::Time)?.si;
        let Self {
            site,
            tank,
            code,
            at,
            who,
            end,
            ..
        } = self;
        let by = who.name();
        let request = if end {
            Request::EndTestAlarm { tank, code, by }
        } else {
            Request::TestAlarm {
                tank,
                code,
                level_m,
                value_si,
                at,
                time_s,
                by,
            }
        };
        tell(ask(&site, &request)?, out)
    }

    /// As a level, or by what the transmitter reads, in SI.
    fn read(&self, text: &str) -> anyhow::Result<(Option<f64>, Option<f64>)> {
        let site = load(&self.site)?;
        let tank = &site.plan.tanks[tank_named(&site, &self.tank)?];
        let transmitter = &site.plan.transmitters[self.place(&site.plan, tank)?.index()];
        let tried = entered::tried(text, &transmitter.tag, transmitter.unit.dimension);
        match tried.map_err(|text| anyhow!("--value: {text}"))? {
            Tried::Level(level_m) => Ok((Some(level_m), None)),
            Tried::Reads(si) => Ok((None, Some(si))),
        }
    }

    fn place(&self, plan: &Plan, tank: &TankPlan) -> anyhow::Result<TransmitterId> {
        let Some(tag) = &self.at else {
            // Which of several hookups leads is the daemon's to know; they read alike but in rare cases.
            return Ok(tank.hookups[0].hookup.leading());
        };
        let mut all = plan.transmitters.iter();
        let place = all.position(|transmitter| *transmitter.tag == **tag);
        let place = place.with_context(|| format!("there is no transmitter \"{tag}\""))?;
        Ok(TransmitterId(place as u32))
    }
}
