//! `standpipe check SITE`: every error of the site file at its place, or what the program makes of it.

use super::{NO, notice, shown};
use crate::daemon::clock;
use crate::engine::plan::{Limit, Plan, TankPlan, Watch};
use crate::engine::tank::level_range;
use crate::physics::gravity;
use crate::site::settings::PersonSettings;
use crate::site::{self, Site};
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

/// Read the site file; report every error at its place, or one line a tank.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    match site::read(&arguments.site) {
        Ok(site) => {
            report(&site, out)?;
            Ok(ExitCode::SUCCESS)
        }
        Err(problems) => {
            let colour = std::io::stdout().is_terminal();
            writeln!(out, "{}", problems.render(colour).trim_end())?;
            Ok(ExitCode::from(NO))
        }
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
        for oddity in oddities(plan, tank).into_iter().chain(corrections(tank)) {
            writeln!(out, "    note: {oddity}")?;
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

/// What is legal and looks odd.
fn oddities(plan: &Plan, tank: &TankPlan) -> Vec<String> {
    let mut odd = Vec::new();
    for transmitter in tank.transmitters().map(|id| &plan.transmitters[id.index()]) {
        if transmitter.span.is_none() {
            odd.push(format!(
                "{} has no span: its range is not checked",
                transmitter.tag
            ));
        }
        if transmitter.accuracy.is_none() {
            odd.push(format!(
                "{} has no accuracy: it is missing from the uncertainty",
                transmitter.tag
            ));
        }
    }
    if !tank.gas.given && !tank.is_open() {
        odd.push("no [tank.gas]: the gas is taken as air at ambient".to_owned());
    }
    for alarm in tank
        .alarms
        .iter()
        .filter(|alarm| !matches!(alarm.watch, Watch::Measurement | Watch::Transfer))
    {
        if alarm.record.response.is_none() {
            odd.push(format!(
                "{} has no response: what is the operator to do?",
                alarm.code
            ));
        }
        if alarm.deadband == 0.0
            && !matches!(
                alarm.limit,
                Limit::BadQuality | Limit::Overdue | Limit::Is(_)
            )
        {
            odd.push(format!(
                "{} has no deadband: on a noisy signal it will come and go",
                alarm.code
            ));
        }
    }
    odd
}
