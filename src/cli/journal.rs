//! `standpipe journal`: list, follow, export, verify; beside a running daemon too.

use super::{NO, load, span};
use crate::engine::{Event, EventKind};
use crate::journal::{Filter, Reader};
use crate::site::Site;
use crate::wire::{self, EventForm};
use anyhow::bail;
use std::ffi::OsString;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// How often the journal is looked at for what is new.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// How many events are read at once.
const AT_ONCE: usize = 1000;

/// Read the journal: what happened, and whether all of it is still there.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// The events that fit, oldest first; without --from the newest of them
    List {
        #[command(flatten)]
        wanted: Wanted,
        /// At most so many, the newest, where --from is not given
        #[arg(long, value_name = "COUNT", default_value_t = 100)]
        last: usize,
        /// Each event as a line of JSON
        #[arg(long)]
        json: bool,
    },
    /// The newest events, then each as it comes, until Ctrl-C
    Follow {
        #[command(flatten)]
        wanted: Wanted,
        /// Each event as a line of JSON
        #[arg(long)]
        json: bool,
    },
    /// All events that fit, or all samples, for another program
    Export {
        #[command(flatten)]
        wanted: Wanted,
        /// The form
        #[arg(long, value_name = "FORM", value_enum)]
        format: Format,
        /// Samples in place of events
        #[arg(long)]
        samples: bool,
    },
    /// Whether every entry is there and as it was written; names the first that is not
    Verify {
        /// The site file
        #[arg(value_name = "SITE")]
        site: PathBuf,
    },
}

#[derive(Debug, clap::Args)]
struct Wanted {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// From this time on: 2026-03-04T05:06:07Z, or 2026-03-04 or 2026-03-04T05:06 in the site's time zone
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Before this time
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// Of this tank only
    #[arg(long, value_name = "NAME")]
    tank: Option<String>,
    /// Of this kind only
    #[arg(long, value_name = "KIND", value_parser = kind)]
    kind: Option<EventKind>,
}

#[derive(Clone, Copy, Debug, PartialEq, clap::ValueEnum)]
enum Format {
    Csv,
    /// One JSON object a line
    Jsonl,
}

/// `journal SITE list` is as good as `journal list SITE`.
pub fn in_order(mut arguments: Vec<OsString>) -> Vec<OsString> {
    let is_command = |word: Option<&OsString>| {
        word.is_some_and(|word| {
            ["list", "follow", "export", "verify"]
                .iter()
                .any(|name| word == name)
        })
    };
    let is_journal = arguments.get(1).is_some_and(|word| word == "journal");
    if is_journal && !is_command(arguments.get(2)) && is_command(arguments.get(3)) {
        arguments.swap(2, 3);
    }
    arguments
}

pub fn run(arguments: Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    match arguments.command {
        Command::List { wanted, last, json } => {
            let (reader, filter, _) = wanted.open()?;
            if filter.from.is_some() {
                return each(&reader, filter, |event| line(event, json, out))
                    .map(|_| ExitCode::SUCCESS);
            }
            for event in reader.last(&filter, last)? {
                line(&event, json, out)?;
            }
        }
        Command::Follow { wanted, json } => {
            let (reader, filter, _) = wanted.open()?;
            follow(&reader, filter, json, out)?;
        }
        Command::Export {
            wanted,
            format,
            samples,
        } => {
            let (reader, filter, _) = wanted.open()?;
            match (samples, format) {
                (false, Format::Jsonl) => {
                    each(&reader, filter, |event| line(event, true, out))?;
                }
                (false, Format::Csv) => events_as_csv(&reader, filter, out)?,
                (true, format) => export_samples(&reader, &filter, format, out)?,
            }
        }
        Command::Verify { site } => return verify(&load(&site)?, out),
    }
    Ok(ExitCode::SUCCESS)
}

impl Wanted {
    fn open(self) -> anyhow::Result<(Reader, Filter, Site)> {
        let site = load(&self.site)?;
        let zone = span::zone(&site);
        let time = |text: &Option<String>| {
            let text = text.as_deref();
            text.map(|text| span::moment(text, &zone)).transpose()
        };
        let filter = Filter {
            from: time(&self.from)?,
            to: time(&self.to)?,
            tank: self.tank,
            kind: self.kind,
            ..Filter::default()
        };
        Ok((Reader::open(&site.journal.file)?, filter, site))
    }
}

fn kind(text: &str) -> Result<EventKind, String> {
    let found = EventKind::ALL.iter().find(|kind| kind.name() == text);
    found.copied().ok_or_else(|| {
        let names: Vec<_> = EventKind::ALL.iter().map(|kind| kind.name()).collect();
        format!("the kinds are: {}", names.join(", "))
    })
}

/// Hands out all that fit, a part at a time; answers with the last number.
fn each(
    reader: &Reader,
    mut filter: Filter,
    mut to: impl FnMut(&Event) -> anyhow::Result<()>,
) -> anyhow::Result<u64> {
    loop {
        let events = reader.first(&filter, AT_ONCE)?;
        let Some(last) = events.last() else {
            return Ok(filter.beyond);
        };
        filter.beyond = last.number;
        events.iter().try_for_each(&mut to)?;
    }
}

fn follow(
    reader: &Reader,
    mut filter: Filter,
    json: bool,
    out: &mut impl Write,
) -> anyhow::Result<()> {
    if filter.from.is_none() {
        for event in reader.last(&filter, 10)? {
            line(&event, json, out)?;
            filter.beyond = event.number;
        }
    }
    loop {
        filter.beyond = each(reader, filter.clone(), |event| line(event, json, out))?;
        out.flush()?;
        std::thread::sleep(LOOK_EVERY);
    }
}

fn line(event: &Event, json: bool, out: &mut impl Write) -> anyhow::Result<()> {
    let form = EventForm::new(event);
    if json {
        writeln!(out, "{}", serde_json::to_string(&form)?)?;
        return Ok(());
    }
    let place = [form.tank.as_deref(), form.code.as_deref()]
        .into_iter()
        .flatten();
    let place = place.collect::<Vec<_>>().join(" ");
    let states = form
        .from
        .zip(form.to)
        .map(|(from, to)| format!("{from} -> {to}, "));
    let by = form.person.map(|person| format!("by {person}, "));
    writeln!(
        out,
        "{:>6}  {}  {:<8} {place:<18} {}{}{}",
        form.number,
        form.time,
        form.kind,
        states.unwrap_or_default(),
        by.unwrap_or_default(),
        form.text
    )?;
    Ok(())
}

fn events_as_csv(reader: &Reader, filter: Filter, out: &mut impl Write) -> anyhow::Result<()> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(EventForm::COLUMNS)?;
    each(reader, filter, |event| {
        table.write_record(EventForm::new(event).cells())?;
        Ok(())
    })?;
    table.flush()?;
    Ok(())
}

/// Samples as they were read, each series by itself; an hour at a time.
fn export_samples(
    reader: &Reader,
    filter: &Filter,
    format: Format,
    out: &mut impl Write,
) -> anyhow::Result<()> {
    if filter.kind.is_some() {
        bail!("samples have no --kind; it belongs to events");
    }
    if format == Format::Csv {
        writeln!(out, "time,kind,name,quantity,quality,value")?;
    }
    let Some((oldest, newest)) = reader.sampled()? else {
        return Ok(());
    };
    let (from, to) = (
        filter.from.map_or(oldest, |from| from.max(oldest)),
        filter.to.map_or(newest, |to| to.min(newest)),
    );
    for (id, kind, name, quantity) in reader.series()? {
        let is_wanted = filter
            .tank
            .as_ref()
            .is_none_or(|tank| kind == "tank" && *tank == name);
        let mut at = from;
        while is_wanted && at < to {
            let next = (at + Duration::from_secs(3600)).min(to);
            for (time, sample) in reader.samples(id, at, next)? {
                let (time, quality) = (wire::time(time), sample.quality.name());
                match format {
                    Format::Csv => {
                        let value = sample
                            .value
                            .map(|value| value.to_string())
                            .unwrap_or_default();
                        csv::Writer::from_writer(&mut *out)
                            .write_record([&time, &kind, &name, &quantity, quality, &value])?;
                    }
                    Format::Jsonl => {
                        let form = serde_json::json!({ "time": time, "kind": kind, "name": name,
                            "quantity": quantity, "quality": quality, "value": sample.value });
                        writeln!(out, "{form}")?;
                    }
                }
            }
            at = next;
        }
    }
    tell_lost(reader)?;
    Ok(())
}

/// Which minutes of samples can't be read, on stderr: everything else was given.
pub(super) fn tell_lost(reader: &Reader) -> std::io::Result<()> {
    let lost = reader.lost();
    let Some((first, last)) = lost.first().zip(lost.last()) else {
        return Ok(());
    };
    let (first, last) = (wire::time(*first), wire::time(*last));
    writeln!(
        std::io::stderr(),
        "warning: {} minutes of samples can't be read and are left out, from {first} to {last}",
        lost.len()
    )
}

fn verify(site: &Site, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let verdict = Reader::open(&site.journal.file)?.verify()?;
    if let Some(trouble) = verdict.trouble {
        writeln!(
            std::io::stderr(),
            "{}: {trouble}; {} entries before it are as they were written",
            site.journal.file.display(),
            verdict.entries
        )?;
        return Ok(ExitCode::from(NO));
    }
    for (first, last) in verdict.gaps {
        writeln!(
            out,
            "numbers {first} to {last} were never written; an event of kind \"journal\" tells why"
        )?;
    }
    match verdict.first.zip(verdict.last) {
        Some((first, last)) => writeln!(
            out,
            "{} entries, {first} to {last}, all as they were written; newest hash {}",
            verdict.entries, verdict.newest_hash
        )?,
        None => writeln!(out, "no entries")?,
    }
    Ok(ExitCode::SUCCESS)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<OsString> {
        text.split(' ').map(OsString::from).collect()
    }

    #[test]
    fn the_site_may_stand_before_the_command() {
        let wanted = words("standpipe journal list site.toml --json");
        assert_eq!(
            in_order(words("standpipe journal site.toml list --json")),
            wanted
        );
        assert_eq!(in_order(wanted.clone()), wanted);
        let other = words("standpipe check a list");
        assert_eq!(in_order(other.clone()), other);
    }
}
