//! `standpipe check SITE`: every error of the site file at its place, or what the program makes of it.

use super::{NO, shown};
use crate::engine::plan::{Limit, Plan, TankPlan, Watch};
use crate::engine::tank::level_range;
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
        "{}: {} links, {} transmitters, {} tanks. Gravity {:.5} m/s2.",
        plan.site,
        plan.links.len(),
        plan.transmitters.len(),
        plan.tanks.len(),
        plan.gravity.value
    )?;
    for tank in &plan.tanks {
        tank_line(site, tank, out)?;
        for oddity in oddities(plan, tank) {
            writeln!(out, "    note: {oddity}")?;
        }
    }
    Ok(())
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
        "  {:<16} {:<16} {} to {}, {}; alarms {}",
        tank.name,
        tank.hookup.name(),
        shown(Some(bottom.value), site.show.level, 3),
        shown(Some(top.value), site.show.level, 3),
        shown(Some(tank.vessel.capacity().value), site.show.volume, 2),
        alarms.join(" ")
    )
}

/// What is legal and looks odd.
fn oddities(plan: &Plan, tank: &TankPlan) -> Vec<String> {
    let mut odd = Vec::new();
    for transmitter in tank
        .hookup
        .transmitters()
        .map(|id| &plan.transmitters[id.index()])
    {
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
    if !tank.gas.given && tank.hookup.name() != "vented" {
        odd.push("no [tank.gas]: the gas is taken as air at ambient".to_owned());
    }
    for alarm in tank
        .alarms
        .iter()
        .filter(|alarm| alarm.watch != Watch::Measurement)
    {
        if alarm.record.response.is_none() {
            odd.push(format!(
                "{} has no response: what is the operator to do?",
                alarm.code
            ));
        }
        if alarm.deadband == 0.0 && !matches!(alarm.limit, Limit::BadQuality | Limit::Is(_)) {
            odd.push(format!(
                "{} has no deadband: on a noisy signal it will come and go",
                alarm.code
            ));
        }
    }
    odd
}
