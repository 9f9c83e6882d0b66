//! `standpipe rehearse SITE SCRIPT…`: the site's alarms against its simulated plant, in virtual time.

use super::NO;
use super::output::spares;
use crate::daemon::clock;
use crate::rehearsal::coverage::{Coverage, Exercised};
use crate::rehearsal::script::shown;
use crate::rehearsal::{
    Judged, Keep, Manner, Progress, Record, Rehearsed, Script, junit, rehearse,
};
use crate::site::{self, Problems, Site};
use crate::wire::rehearsal::{CoverageForm, RehearsalForm};
use anyhow::Context;
use std::ffi::OsString;
use std::io::{self, IsTerminal, Write};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

const SHOW_EVERY: Duration = Duration::from_secs(1);

/// Play scripts on the SIMULATED plant of a site in virtual time, and hold what its alarms do against what the
/// scripts expect. Exit status 1: an expectation is not met.
#[derive(Clone, Debug, clap::Args)]
pub struct Arguments {
    /// The site file; the one that a script names is not looked at
    #[arg(value_name = "SITE")]
    site: PathBuf,
    #[arg(value_name = "SCRIPT", required = true)]
    scripts: Vec<PathBuf>,
    /// Also say which alarms of the site were exercised, and which never were
    #[arg(long)]
    coverage: bool,
    /// Scripts played at once; as many as there are cores, if left out
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
    /// Also list all that was told: alarms, jumps, findings, commands, links
    #[arg(long)]
    events: bool,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
    /// Also write the result to this file as JUnit XML
    #[arg(long, value_name = "FILE")]
    junit: Option<PathBuf>,
    /// Also draw each script into this folder as an SVG picture of its name: levels, limits, alarm states
    #[arg(long, value_name = "FOLDER")]
    strip: Option<PathBuf>,
    /// Also write the record of an acceptance test, to be signed: .txt or .html, which shows the pictures of
    /// --strip; may be given twice
    #[arg(long, value_name = "FILE", value_parser = document)]
    record: Vec<PathBuf>,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let text = site::text(&arguments.site)?;
    let site = site::parse(&text, &arguments.site)?;
    let scripts = all_of(arguments.scripts.iter().map(|path| Script::read(path)))?;
    arguments.spares_inputs()?;
    let cores = || std::thread::available_parallelism().ok();
    let jobs = arguments.jobs.or_else(cores).map_or(1, NonZeroUsize::get);
    let keep = match arguments.strip {
        Some(_) => Keep::Strips,
        None => Keep::Named,
    };
    let rehearsed = all_of(played(&site, &scripts, Manner { jobs, keep }).into_iter())?;
    let coverage = arguments.coverage.then(|| {
        let mut coverage = Coverage::new(&site.plan);
        rehearsed.iter().for_each(|one| coverage.add(&one.coverage));
        coverage
    });
    if let Some(path) = &arguments.junit {
        std::fs::write(path, junit(&rehearsed))
            .with_context(|| format!("{} cannot be written", path.display()))?;
    }
    if let Some(folder) = &arguments.strip {
        draw(folder, &rehearsed)?;
    }
    if !arguments.record.is_empty() {
        let file = (arguments.site.as_path(), text.as_str());
        let record = Record::of(&site, file, &scripts, &rehearsed, clock::moment().utc);
        for path in &arguments.record {
            let document = match is_html(path) {
                true => record.html(),
                false => record.to_string(),
            };
            std::fs::write(path, document)
                .with_context(|| format!("{} cannot be written", path.display()))?;
        }
    }
    let met = rehearsed.iter().all(Rehearsed::is_met);
    if arguments.json {
        let form = RehearsalForm {
            site: site.plan.site.to_string(),
            met,
            scripts: rehearsed
                .iter()
                .map(|one| one.form(arguments.events))
                .collect(),
            coverage: coverage.map(|coverage| coverage.alarms.iter().map(form).collect()),
        };
        writeln!(out, "{}", serde_json::to_string(&form)?)?;
    } else {
        for one in &rehearsed {
            report(one, out)?;
            if arguments.events {
                list(one, out)?;
            }
        }
        if let Some(coverage) = &coverage {
            tell(coverage, out)?;
        }
    }
    Ok(match met {
        true => ExitCode::SUCCESS,
        false => ExitCode::from(NO),
    })
}

/// Each of them, or everything that is wrong with any: the last ones are the error, the others are told before it.
fn all_of<T>(each: impl Iterator<Item = Result<T, Problems>>) -> anyhow::Result<Vec<T>> {
    let (mut sound, mut wrong) = (Vec::new(), Vec::new());
    each.for_each(|one| match one {
        Ok(one) => sound.push(one),
        Err(problems) => wrong.push(problems),
    });
    let Some(last) = wrong.pop() else {
        return Ok(sound);
    };
    for problems in wrong {
        let text = problems.render(io::stderr().is_terminal());
        writeln!(io::stderr(), "{}\n", text.trim_end())?;
    }
    Err(last.into())
}

/// Plays them all; how far that is shows on stderr, where it is a terminal and it takes its time.
fn played(site: &Site, scripts: &[Script], manner: Manner) -> Vec<Result<Rehearsed, Problems>> {
    let progress = &Progress::default();
    let whole: Duration = scripts.iter().filter_map(|script| script.last).sum();
    let (done, goes_on) = mpsc::channel::<()>();
    let show = move || {
        let mut shown = false;
        while goes_on.recv_timeout(SHOW_EVERY) == Err(mpsc::RecvTimeoutError::Timeout) {
            let played = progress.played();
            let percent = 100.0 * played.as_secs_f64() / whole.as_secs_f64();
            let (played, whole) = (rounded(played), rounded(whole));
            let line = format!("\r{percent:3.0} %: {played} of {whole} played ");
            // Nobody is harmed where it can't be shown.
            shown |= io::stderr().write_all(line.as_bytes()).is_ok();
        }
        if shown {
            let _ = write!(io::stderr(), "\r{:60}\r", "");
        }
    };
    thread::scope(|scope| {
        if io::stderr().is_terminal() {
            scope.spawn(show);
        }
        let rehearsed = rehearse(site, scripts, manner, progress);
        drop(done);
        rehearsed
    })
}

/// In hours, as a time that is read in passing.
fn rounded(time: Duration) -> String {
    format!("{:.0} h", time.as_secs_f64() / 3600.0)
}

impl Arguments {
    fn spares_inputs(&self) -> anyhow::Result<()> {
        let read = || self.scripts.iter().chain([&self.site]);
        let mut written = self.junit.iter().chain(&self.record);
        written.try_for_each(|path| spares(path, read().map(PathBuf::as_path)))
    }
}

/// A record's file says by its name what it is to be.
fn document(path: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(path);
    match is_html(&path) || path.extension().is_some_and(|extension| extension == "txt") {
        true => Ok(path),
        false => Err("a name that ends in .txt or .html, for example record.html".to_owned()),
    }
}

fn is_html(path: &Path) -> bool {
    path.extension()
        .is_some_and(|extension| extension == "html")
}

/// One picture a script, by the script's name; of two scripts of one name none goes over the other.
fn draw(folder: &Path, rehearsed: &[Rehearsed]) -> anyhow::Result<()> {
    std::fs::create_dir_all(folder)
        .with_context(|| format!("{} cannot be made", folder.display()))?;
    let mut names: Vec<OsString> = Vec::new();
    for one in rehearsed {
        let mut name = one.script.file_stem().unwrap_or_default().to_owned();
        while names.contains(&name) {
            name.push("-again");
        }
        names.push(name.clone());
        name.push(".svg");
        let path = folder.join(name);
        std::fs::write(&path, one.strip.as_deref().unwrap_or_default())
            .with_context(|| format!("{} cannot be written", path.display()))?;
    }
    Ok(())
}

fn report(one: &Rehearsed, out: &mut impl Write) -> std::io::Result<()> {
    let (all, met) = (one.judged.len(), one.judged.iter().filter(|one| one.met));
    let (path, last) = (one.script.display(), shown(one.last));
    match all {
        0 => writeln!(out, "{path}: {last} played; nothing is expected of it")?,
        _ => writeln!(out, "{path}: {} of {all} met, {last} played", met.count())?,
    }
    for judged in &one.judged {
        line(judged, out)?;
    }
    Ok(())
}

/// All that a script's site told, in order.
fn list(one: &Rehearsed, out: &mut impl Write) -> std::io::Result<()> {
    writeln!(out, "  told:")?;
    for told in &one.events {
        writeln!(out, "    {}  {}", shown(told.at), told.words())?;
    }
    Ok(())
}

fn line(judged: &Judged, out: &mut impl Write) -> std::io::Result<()> {
    let mark = if judged.met { "met    " } else { "NOT MET" };
    writeln!(out, "  {mark} {:>4}  {}", judged.line, judged.expected)?;
    if judged.met {
        return Ok(());
    }
    writeln!(out, "                {}", judged.found)?;
    for (at, text) in &judged.around {
        writeln!(out, "                {}  {text}", shown(*at))?;
    }
    Ok(())
}

fn tell(coverage: &Coverage, out: &mut impl Write) -> std::io::Result<()> {
    writeln!(
        out,
        "\n{:<16} {:<18} activated  acknowledged  cleared  bad quality",
        "tank", "alarm"
    )?;
    let mark = |is: bool| if is { "yes" } else { "-" };
    for alarm in &coverage.alarms {
        writeln!(
            out,
            "{:<16} {:<18} {:<10} {:<13} {:<8} {}",
            alarm.tank,
            alarm.code,
            mark(alarm.activated),
            mark(alarm.acknowledged),
            mark(alarm.cleared),
            mark(alarm.bad)
        )?;
    }
    let never = coverage.alarms.iter().filter(|alarm| !alarm.activated);
    let never: Vec<String> = never
        .map(|alarm| format!("{} {}", alarm.tank, alarm.code))
        .collect();
    match never.is_empty() {
        true => writeln!(out, "Every alarm was activated."),
        false => writeln!(out, "Never activated: {}.", never.join(", ")),
    }
}

fn form(alarm: &Exercised) -> CoverageForm {
    CoverageForm {
        tank: alarm.tank.clone(),
        code: alarm.code.clone(),
        activated: alarm.activated,
        acknowledged: alarm.acknowledged,
        cleared: alarm.cleared,
        bad: alarm.bad,
    }
}
