//! `standpipe check SITE`: every error of the site file at its place, or what the program makes of it and counsel
//! on its alarms.

use super::{NO, heard, notice, shown};
use crate::daemon::clock;
use crate::engine::plan::{Plan, TankPlan};
use crate::engine::tank::level_range;
use crate::physics::gravity;
use crate::site::counsel::{self, Finding, Findings};
use crate::site::settings::PersonSettings;
use crate::site::{self, Problem, Problems, Site, Source};
use crate::wire::{AdviceForm, CheckForm, PlacedForm};
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

/// Read the site file; report every error at its place, or one line a tank and counsel on its alarms.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// A recording that tells the noise of the signals, instead of the journal: CSV with `time` (RFC 3339) or
    /// `seconds`, then one column a tag, in the transmitter's unit
    #[arg(long, value_name = "FILE")]
    recording: Option<PathBuf>,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let path = &arguments.site;
    let read = site::text(path).and_then(|text| Ok((site::parse(&text, path)?, text)));
    let (site, text) = match read {
        Ok(read) => read,
        Err(problems) => {
            refuse(&problems, arguments.json, out)?;
            return Ok(ExitCode::from(NO));
        }
    };
    let heard = match &arguments.recording {
        Some(file) => Some(heard::recording(&site.plan, file)?),
        None => heard::journal(&site),
    };
    let findings = counsel::advise(&site, &text, path, heard.as_ref());
    if arguments.json {
        let form = CheckForm {
            site: Some(site.plan.site.to_string()),
            problems: Vec::new(),
            findings: findings
                .iter()
                .map(|finding| advice(findings.source(), finding))
                .collect(),
        };
        writeln!(out, "{}", serde_json::to_string(&form)?)?;
    } else {
        report(&site, out)?;
        tell(&findings, out)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn refuse(problems: &Problems, json: bool, out: &mut impl Write) -> anyhow::Result<()> {
    if json {
        let each = problems.iter();
        let form = CheckForm {
            site: None,
            problems: each
                .map(|problem| placed(problems.source(), problem))
                .collect(),
            findings: Vec::new(),
        };
        writeln!(out, "{}", serde_json::to_string(&form)?)?;
    } else {
        let colour = std::io::stdout().is_terminal();
        writeln!(out, "{}", problems.render(colour).trim_end())?;
    }
    Ok(())
}

fn tell(findings: &Findings, out: &mut impl Write) -> std::io::Result<()> {
    if findings.is_empty() {
        return Ok(());
    }
    let colour = std::io::stdout().is_terminal();
    writeln!(out, "\n{}", findings.render(colour))?;
    let count = match findings.len() {
        1 => "1 finding".to_owned(),
        count => format!("{count} findings"),
    };
    writeln!(
        out,
        "\n{count}: the site runs as it is. Local codes and licensed practice decide."
    )
}

fn placed(source: &Source, problem: &Problem) -> PlacedForm {
    let place = problem.span.as_ref();
    let place = place.map(|span| source.line_and_column(span));
    PlacedForm {
        line: place.map(|(line, _)| line),
        column: place.map(|(_, column)| column),
        what: problem.message.clone(),
        why: problem.why.clone(),
        remedy: problem.cure.clone(),
    }
}

fn advice(source: &Source, finding: &Finding) -> AdviceForm {
    AdviceForm {
        rule: finding.rule,
        tank: finding.tank.as_deref().map(str::to_owned),
        alarm: finding.alarm.as_deref().map(str::to_owned),
        at: placed(source, &finding.problem),
    }
}

fn report(site: &Site, out: &mut impl Write) -> std::io::Result<()> {
    let plan = &site.plan;
    writeln!(
        out,
        "{}: {} links, {} transmitters, {} tanks. {}",
        plan.site,
        plan.links.len(),
        plan.transmitters.len(),
        plan.tanks.len(),
        gravity(plan)
    )?;
    for tank in &plan.tanks {
        tank_line(site, tank, out)?;
        if let Some(products) = products(tank) {
            writeln!(out, "      {products}")?;
        }
        for odd in corrections(tank) {
            writeln!(out, "    note: {odd}")?;
        }
    }
    writeln!(out, "{}", people(site))?;
    notice::report(&plan.notices, &plan.tanks, out)?;
    Ok(())
}

/// Who may give commands.
fn people(site: &Site) -> String {
    let person = |person: &PersonSettings| {
        let way = match person.users.is_empty() {
            true => ", no user: no command line",
            false => "",
        };
        format!("{} ({}{way})", person.name, person.role.name())
    };
    if site.people.is_empty() {
        return "People: none named, so whoever calls as the daemon's user gives any name."
            .to_owned();
    }
    let people: Vec<String> = site.people.iter().map(person).collect();
    format!("People: {}.", people.join(", "))
}

/// The gravity that is taken, and what the choice is worth.
fn gravity(plan: &Plan) -> String {
    let (taken, standard) = (plan.gravity.value, gravity::STANDARD);
    let share = plan.gravity_uncertainty.value / taken * 100.0;
    let percent = (taken / standard - 1.0) * 100.0;
    if percent.abs() < 1e-6 && share > 0.1 {
        format!(
            "Standard gravity {standard} m/s2 is taken: between pole and equator that is wrong by up to \
             {share:.2} % of the liquid's height; give gravity = {{ latitude, elevation }}."
        )
    } else {
        let off = match share {
            0.0 => "taken as exact: no `uncertainty` is given".to_owned(),
            _ => format!("known to {share:.4} % (k = 2)"),
        };
        format!("Gravity {taken:.5} m/s2, {percent:+.3} % from the standard one, {off}.")
    }
}

fn tank_line(site: &Site, tank: &TankPlan, out: &mut impl Write) -> std::io::Result<()> {
    let (bottom, top) = level_range(tank);
    let alarms: Vec<String> = tank
        .alarms
        .iter()
        .map(|alarm| alarm.code.to_string())
        .collect();
    writeln!(
        out,
        "  {:<16} {:<18} {} to {}, {}; alarms {}",
        tank.name,
        kinds(tank),
        shown(Some(bottom.value), site.show.level, 3),
        shown(Some(top.value), site.show.level, 3),
        shown(Some(tank.vessel.capacity().value), site.show.volume, 2),
        alarms.join(" ")
    )
}

/// What it can hold, where that is a choice.
fn products(tank: &TankPlan) -> Option<String> {
    let names: Vec<&str> = tank.products.iter().map(|product| &*product.name).collect();
    (names.len() > 1).then(|| {
        format!(
            "products: {}; {} is taken until a person chooses",
            names.join(", "),
            names[0]
        )
    })
}

/// The kinds of its hookups: "vented+differential".
fn kinds(tank: &TankPlan) -> String {
    let names = tank.hookups.iter().map(|hookup| hookup.hookup.name());
    names.collect::<Vec<_>>().join("+")
}

/// Corrections by hand that nobody answers for, or that are not good any more.
fn corrections(tank: &TankPlan) -> Vec<String> {
    let mut odd = Vec::new();
    let now = clock::moment().utc;
    for hookup in &tank.hookups {
        let correction = &hookup.correction;
        if correction.is_overdue(now) {
            odd.push(format!(
                "the correction of {} is past its last day: its level is uncertain until it is found anew",
                hookup.name
            ));
        }
        if correction.is_set() && (correction.by.is_none() || correction.until.is_none()) {
            odd.push(format!(
                "the correction of {} does not say who found it (`by`) or how long it is good for (`until`)",
                hookup.name
            ));
        }
    }
    odd
}
