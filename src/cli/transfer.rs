//! `standpipe transfer` and `standpipe note`: what people begin and write down.

use super::ask::{ask, tell};
use super::quantity;
use crate::quantity::Dimension;
use crate::wire::{Request, command::To};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Follow a filling or drawing: told before the target, at it, and when it is not stopped in time.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("target").required(true).args(["to", "volume", "by_volume", "end"]))]
pub struct Transfer {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// Level to end at, for example "4.2 m"
    #[arg(long, value_name = "LEVEL", allow_hyphen_values = true)]
    to: Option<String>,
    /// Volume to end at, for example "30 m3"
    #[arg(long, value_name = "VOLUME")]
    volume: Option<String>,
    /// So much more, or with a minus less, than there is now
    #[arg(long, value_name = "VOLUME", allow_hyphen_values = true)]
    by_volume: Option<String>,
    /// End the transfer that is under way
    #[arg(long)]
    end: bool,
    /// Tell so long before the expected end
    #[arg(long = "tell", value_name = "TIME", default_value = "5 min")]
    before: String,
    /// Past the target, overdue if it still moves after this time
    #[arg(long, value_name = "TIME", default_value = "3 min")]
    stop_within: String,
    /// Your name, for the record
    #[arg(long, value_name = "NAME")]
    by: String,
}

/// Write something down in the journal.
#[derive(Debug, clap::Args)]
pub struct Note {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// What you have to say
    #[arg(value_name = "TEXT")]
    text: String,
    /// The tank that it is about
    #[arg(long, value_name = "TANK")]
    tank: Option<String>,
    /// Your name, for the record
    #[arg(long, value_name = "NAME")]
    by: String,
}

impl Transfer {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let (tank, by) = (self.tank, self.by);
        let si = |text: &str, dimension| anyhow::Ok(quantity(text, dimension)?.si);
        let to = match (&self.to, &self.volume, &self.by_volume) {
            (Some(level), ..) => Some(To::LevelM(si(level, Dimension::Length)?)),
            (_, Some(volume), _) => Some(To::VolumeM3(si(volume, Dimension::Volume)?)),
            (.., Some(change)) => Some(To::ByM3(si(change, Dimension::Volume)?)),
            _ => None,
        };
        let request = match to {
            None => Request::EndTransfer { tank, by },
            Some(to) => Request::Transfer {
                tank,
                to,
                tell_s: si(&self.before, Dimension::Time)?,
                stop_within_s: si(&self.stop_within, Dimension::Time)?,
                by,
            },
        };
        tell(ask(&self.site, &request)?, out)
    }
}

impl Note {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self {
            site,
            text,
            tank,
            by,
        } = self;
        tell(ask(&site, &Request::Note { tank, text, by })?, out)
    }
}
