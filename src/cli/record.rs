//! `record`: a recording out of the journal, beside the running daemon too.
//!
//! It never polls by itself: a serial line has one master, and many devices take few sessions.

use super::load;
use super::output::{Output, spares};
use super::simulate::duration;
use super::span::{self, moment};
use crate::daemon::clock;
use crate::journal::Reader;
use crate::quantity::Timestamp;
use crate::rehearsal::recording::RowWriter;
use crate::site::Site;
use anyhow::{Context, bail};
use jiff::SignedDuration;
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// How often the journal is looked at for what is new; samples come into it once a minute.
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// Write a recording that `replay` reads: what was read of every transmitter and contact, out of the journal.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// FILE.csv; else it goes to the standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// From this time on: 2026-03-04T05:06:07Z, or 2026-03-04 in the site's time zone; else all that is kept
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Before this time
    #[arg(long, value_name = "TIME", conflicts_with = "follow")]
    to: Option<String>,
    /// So much time: the newest, or from --from on; with --follow from now on
    #[arg(long = "for", value_name = "DURATION", value_parser = duration, conflicts_with = "to")]
    lasting: Option<Duration>,
    /// A row at most so often, with the newest of each tag: "10 s"; else every read
    #[arg(long, value_name = "DURATION", value_parser = duration)]
    every: Option<Duration>,
    /// Go on as the daemon writes its journal, a minute at a time, until --for is over or Ctrl-C
    #[arg(long)]
    follow: bool,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let site = load(&arguments.site)?;
    let journal = Reader::open(&site.journal.file)?;
    match &arguments.out {
        Some(path) => {
            spares(path, [&*arguments.site, &*site.journal.file])?;
            arguments.record(&site, &journal, Output::open(path)?)
        }
        None => arguments.record(&site, &journal, out),
    }
}

impl Arguments {
    fn record(&self, site: &Site, journal: &Reader, out: impl Write) -> anyhow::Result<ExitCode> {
        let zone = span::zone(site);
        let time = |text: &Option<String>| -> anyhow::Result<Option<Timestamp>> {
            text.as_deref().map(|text| moment(text, &zone)).transpose()
        };
        let kept = journal.sampled()?;
        if kept.is_none() && !self.follow {
            bail!(
                "{} holds no samples yet; the daemon writes them once a minute",
                site.journal.file.display()
            );
        }
        let (oldest, newest) = kept.unwrap_or((Timestamp::UNIX_EPOCH, Timestamp::UNIX_EPOCH));
        let lasting = self
            .lasting
            .map(SignedDuration::try_from)
            .transpose()
            .context("--for is too long")?;
        let from = match (time(&self.from)?, lasting) {
            (Some(from), _) => from,
            (None, _) if self.follow => clock::moment().utc,
            (None, Some(lasting)) => newest - lasting,
            (None, None) => oldest,
        };
        let to = match (time(&self.to)?, lasting) {
            (Some(to), _) => Some(to),
            (None, Some(lasting)) => Some(from + lasting),
            (None, None) => None,
        };
        let from = from.max(oldest);
        let mut writer = RowWriter::new(out, &site.plan, self.every);
        if self.follow {
            let until = to.map_or_else(|| "Ctrl-C".to_owned(), crate::wire::time);
            writeln!(
                io::stderr(),
                "from {} until {until}; rows come a minute at a time",
                crate::wire::time(from)
            )?;
        }
        writer.take(journal, from, to.map_or(newest, |to| to.min(newest)))?;
        while self.follow && to.is_none_or(|to| ends(journal).is_none_or(|end| end < to)) {
            std::thread::sleep(LOOK_EVERY);
            if let Some(end) = ends(journal) {
                writer.take(journal, from, to.map_or(end, |to| to.min(end)))?;
            }
        }
        if let Some((to, end)) = to.filter(|_| self.follow).zip(ends(journal)) {
            writer.take(journal, from, to.min(end))?;
        }
        let (_, last) = writer.rows();
        let rows = writer.finish()?;
        super::journal::tell_lost(journal)?;
        if rows == 0 {
            let name = site.journal.file.display();
            match ends(journal) {
                Some(end) => bail!(
                    "{name} holds nothing of that time, its samples end at {}: nothing was written",
                    crate::wire::time(end)
                ),
                None => bail!("{name} holds no samples: nothing was written"),
            }
        }
        let last = last.map_or_else(|| "—".to_owned(), crate::wire::time);
        writeln!(io::stderr(), "{rows} rows, the last at {last}")?;
        if let Some(every) = self.every {
            let every = crate::quantity::span(every);
            writeln!(io::stderr(), "to replay it: --polled \"{every}\"")?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// The end of what the journal holds now. One that can't be read at this moment is looked at again.
fn ends(journal: &Reader) -> Option<Timestamp> {
    journal.sampled().ok().flatten().map(|(_, end)| end)
}
