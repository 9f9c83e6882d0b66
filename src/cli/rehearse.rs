//! `standpipe rehearse SITE SCRIPT…`: the site's alarms against its simulated plant, in virtual time.

use super::NO;
use crate::rehearsal::coverage::{Coverage, Exercised};
use crate::rehearsal::script::shown;
use crate::rehearsal::{Judged, Rehearsed, Script, junit, rehearse};
use crate::site;
use crate::wire::rehearsal::{CoverageForm, RehearsalForm};
use anyhow::Context;
use std::io::Write;
use std::num::NonZeroUsize;
use std::path::PathBuf;
use std::process::ExitCode;

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
    /// Answer as JSON
    #[arg(long)]
    json: bool,
    /// Also write the result to this file as JUnit XML
    #[arg(long, value_name = "FILE")]
    junit: Option<PathBuf>,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let site = site::read(&arguments.site)?;
    let scripts = arguments.scripts.iter().map(|path| Script::read(path));
    let scripts: Vec<Script> = scripts.collect::<Result<_, _>>()?;
    let cores = || std::thread::available_parallelism().ok();
    let jobs = arguments.jobs.or_else(cores).map_or(1, NonZeroUsize::get);
    let rehearsed = rehearse(&site, &scripts, jobs);
    let rehearsed: Vec<Rehearsed> = rehearsed.into_iter().collect::<Result<_, _>>()?;
    let coverage = arguments.coverage.then(|| {
        let mut coverage = Coverage::new(&site.plan);
        rehearsed.iter().for_each(|one| coverage.add(&one.coverage));
        coverage
    });
    if let Some(path) = &arguments.junit {
        std::fs::write(path, junit(&rehearsed))
            .with_context(|| format!("{} cannot be written", path.display()))?;
    }
    let met = rehearsed.iter().all(Rehearsed::is_met);
    if arguments.json {
        let form = RehearsalForm {
            site: site.plan.site.to_string(),
            met,
            scripts: rehearsed.iter().map(Rehearsed::form).collect(),
            coverage: coverage.map(|coverage| coverage.alarms.iter().map(form).collect()),
        };
        writeln!(out, "{}", serde_json::to_string(&form)?)?;
    } else {
        for one in &rehearsed {
            report(one, out)?;
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

fn line(judged: &Judged, out: &mut impl Write) -> std::io::Result<()> {
    let mark = if judged.met { "met    " } else { "NOT MET" };
    let place = judged
        .line
        .map_or("    ".to_owned(), |line| format!("{line:>4}"));
    writeln!(out, "  {mark} {place}  {}", judged.expected)?;
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
