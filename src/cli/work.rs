//! `standpipe work` and `standpipe silence`: a transmitter under function check; the horn.

use super::ask::{Who, ask, tell};
use super::{load, quantity};
use crate::quantity::Dimension;
use crate::wire::{Request, entered};
use anyhow::{Context, anyhow};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Begin or end work on a transmitter: function check by NE 107, under a permit, for a stated time.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("what").required(true).args(["permit", "end"]))]
pub struct Work {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The transmitter's tag
    #[arg(value_name = "TAG")]
    tag: String,
    /// The number of the permit
    #[arg(long, value_name = "NUMBER", requires = "time")]
    permit: Option<String>,
    /// How long, for example "2 h"
    #[arg(long = "for", value_name = "TIME")]
    time: Option<String>,
    /// What stands in for the signal meanwhile, in what the transmitter reads, for example "24.1 kPa"
    #[arg(
        long,
        value_name = "QUANTITY",
        allow_hyphen_values = true,
        conflicts_with = "end"
    )]
    hand: Option<String>,
    /// The transmitter is back in service
    #[arg(long)]
    end: bool,
    /// Whatever its signal says
    #[arg(long, requires = "end")]
    anyway: bool,
    #[command(flatten)]
    who: Who,
}

/// Silence the horn; no alarm is answered by it, and the next one sounds again.
#[derive(Debug, clap::Args)]
pub struct Silence {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// Only here; everywhere if left out
    #[arg(long, value_name = "NAME")]
    place: Option<String>,
    #[command(flatten)]
    who: Who,
}

impl Work {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let hand = self.hand()?;
        let (tag, by) = (self.tag, self.who.name());
        let request = match (self.permit, self.time) {
            (Some(permit), Some(time)) => Request::Work {
                tag,
                permit,
                time_s: quantity(&time, Dimension::Time)?.si,
                hand,
                by,
            },
            _ => Request::EndWork {
                tag,
                anyway: self.anyway,
                by,
            },
        };
        tell(ask(&self.site, &request)?, out)
    }

    /// In SI, by what the transmitter reads.
    fn hand(&self) -> anyhow::Result<Option<f64>> {
        let Some(text) = &self.hand else {
            return Ok(None);
        };
        let site = load(&self.site)?;
        let mut all = site.plan.transmitters.iter();
        let transmitter = all.find(|transmitter| *transmitter.tag == *self.tag);
        let transmitter =
            transmitter.with_context(|| format!("there is no transmitter \"{}\"", self.tag))?;
        let hand = entered::instead(text, &self.tag, transmitter.unit.dimension);
        Ok(Some(hand.map_err(|text| anyhow!("--hand: {text}"))?))
    }
}

impl Silence {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self { site, place, who } = self;
        let by = who.name();
        tell(ask(&site, &Request::Silence { place, by })?, out)
    }
}
