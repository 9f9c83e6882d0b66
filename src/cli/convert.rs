//! `standpipe convert SITE TANK --set TAG=QUANTITY …`: one reading worked by hand, with its working.

use super::stated::{nothing_missing, stated};
use super::{load, shown, tank_named};
use crate::daemon::clock;
use crate::engine::plan::{Hookup, HookupPlan, LegFill, Plan, TankPlan};
use crate::engine::tank::{TankState, Working};
use crate::engine::{Reading, Reason, words};
use crate::physics::budget::Budget;
use crate::quantity::print;
use crate::site::Site;
use crate::wire::{HookupForm, ReadingForm};
use anyhow::bail;
use serde::Serialize;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Work one reading by hand: every term of the balance, the densities, level, volume, uncertainty.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// What a transmitter shows, e.g. PDT-101="-27.6 kPa"; once for each that the answer needs
    #[arg(long, value_name = "TAG=QUANTITY", allow_hyphen_values = true)]
    set: Vec<String>,
    /// What is in it, by the name of one of its products; the first if left out
    #[arg(long, value_name = "PRODUCT")]
    product: Option<String>,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let mut site = load(&arguments.site)?;
    let index = tank_named(&site, &arguments.tank)?;
    if let Some(product) = &arguments.product {
        take_product(&mut site.plan.tanks[index], product)?;
    }
    let plan = &site.plan;
    let tank = &plan.tanks[index];
    let stated = stated(plan, tank, &arguments.set)?;
    let now = clock::moment();
    let mut state = TankState::new(plan, index, now);
    state.read(plan, tank, &stated, now, true);
    nothing_missing(plan, &stated)?;
    if arguments.json {
        let answer = Answer {
            reading: ReadingForm::new(&tank.name, &state.reading),
            hookups: several(tank)
                .map(|tank| state.views(tank).iter().map(HookupForm::new).collect()),
        };
        serde_json::to_writer(&mut *out, &answer)?;
        writeln!(out)?;
    } else {
        print_reading(&site, tank, &state, out)?;
        for (hookup, working) in tank.hookups.iter().zip(state.workings()) {
            print_working(plan, tank, hookup, working, out)?;
        }
        print_reasons(&state.reading, out)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// A reading, and where it was chosen from.
#[derive(Debug, Serialize)]
struct Answer {
    #[serde(flatten)]
    reading: ReadingForm,
    #[serde(skip_serializing_if = "Option::is_none")]
    hookups: Option<Vec<HookupForm>>,
}

fn several(tank: &TankPlan) -> Option<&TankPlan> {
    (tank.hookups.len() > 1).then_some(tank)
}

fn print_hookups(
    site: &Site,
    tank: &TankPlan,
    state: &TankState,
    out: &mut impl Write,
) -> std::io::Result<()> {
    for (place, (hookup, working)) in tank.hookups.iter().zip(state.workings()).enumerate() {
        writeln!(
            out,
            "  {} {:<12} {:<18} {:<10} {:>10}  {}",
            if place == state.leading { ">" } else { " " },
            hookup.name,
            hookup.hookup.name(),
            hookup.gives.name(),
            shown(working.level.map(|level| level.value), site.show.level, 4),
            words::quality(working.reasons)
        )?;
    }
    Ok(())
}

fn take_product(tank: &mut TankPlan, product: &str) -> anyhow::Result<()> {
    let place = tank
        .products
        .iter()
        .position(|known| *known.name == *product);
    let Some(place) = place else {
        let names: Vec<&str> = tank.products.iter().map(|known| &*known.name).collect();
        bail!(
            "tank \"{}\" has no product \"{product}\"; the site file has {}",
            tank.name,
            if names.is_empty() {
                "one liquid for it".to_owned()
            } else {
                names.join(", ")
            }
        );
    };
    tank.take_product(place);
    Ok(())
}

fn print_reading(
    site: &Site,
    tank: &TankPlan,
    state: &TankState,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let reading = &state.reading;
    let show = &site.show;
    let level = |level: Option<crate::quantity::Length>| {
        shown(level.map(|level| level.value), show.level, 4)
    };
    writeln!(
        out,
        "{} — {} ({})",
        tank.name,
        tank.title,
        tank.hookups[state.leading].hookup.name()
    )?;
    if let Some(tank) = several(tank) {
        print_hookups(site, tank, state, out)?;
    }
    let plus_minus = reading
        .level_uncertainty
        .map(|level| format!("  ± {} (k = 2)", print(level.value, show.level, 4)));
    writeln!(
        out,
        "  level     {}{}",
        level(reading.level),
        plus_minus.unwrap_or_default()
    )?;
    if reading.level_at_least.is_some() {
        writeln!(out, "  at least  {}", level(reading.level_at_least))?;
    }
    if reading.level_at_most.is_some() {
        writeln!(out, "  at most   {}", level(reading.level_at_most))?;
    }
    if reading.interface.is_some() {
        writeln!(out, "  interface {}", level(reading.interface))?;
    }
    writeln!(out, "  quality   {}", reading.quality.name())?;
    for reason in reading.reasons.iter() {
        writeln!(out, "            {}", reason.text())?;
    }
    let volume = |volume: Option<crate::quantity::Volume>| {
        shown(volume.map(|volume| volume.value), show.volume, 3)
    };
    if reading.level.is_some() {
        let plus_minus = reading
            .volume_uncertainty
            .map(|volume| print(volume.value, show.volume, 3));
        writeln!(
            out,
            "  volume    {}  ± {} (k = 2)",
            volume(reading.volume),
            plus_minus.unwrap_or_default()
        )?;
        if reading.standard_volume.is_some() {
            writeln!(out, "  standard  {}", volume(reading.standard_volume))?;
        }
        writeln!(out, "  usable    {}", volume(reading.usable))?;
        writeln!(out, "  ullage    {}", volume(reading.ullage))?;
        writeln!(
            out,
            "  fill      {:.1} %",
            reading.fill.unwrap_or(f64::NAN) * 100.0
        )?;
        writeln!(
            out,
            "  mass      {}  ± {} (k = 2)",
            shown(reading.mass.map(|mass| mass.value), show.mass, 3),
            shown(
                reading.mass_uncertainty.map(|mass| mass.value),
                show.mass,
                3
            )
        )?;
    }
    Ok(())
}

fn print_working(
    plan: &Plan,
    tank: &TankPlan,
    hookup: &HookupPlan,
    working: &Working,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let Some((terms, solved)) = working.terms.zip(working.solved) else {
        return Ok(());
    };
    let density = |density: crate::quantity::MassDensity| format!("{:.3} kg/m3", density.value);
    let balance = &working.balance;
    let column = |from: crate::quantity::Length, to: crate::quantity::Length| {
        format!("{:.4} m to {:.4} m", from.value, to.value)
    };
    writeln!(
        out,
        "\nThe balance{} at {:.4} m, g = {:.5} m/s2",
        several(tank).map_or(String::new(), |_| format!(" of {}", hookup.name)),
        solved.value,
        plan.gravity.value
    )?;
    let rows = [
        (
            "liquid column",
            terms.liquid_column,
            balance.liquid,
            column(balance.high.tap, solved),
        ),
        (
            "gas column",
            terms.gas_column,
            balance.gas,
            column(solved, balance.low.tap),
        ),
        (
            "high leg",
            terms.high_leg,
            balance.high.fill,
            column(balance.high.diaphragm, balance.high.tap),
        ),
        (
            "low leg",
            terms.low_leg,
            balance.low.fill,
            column(balance.low.diaphragm, balance.low.tap),
        ),
    ];
    for (name, pressure, rho, height) in rows {
        writeln!(
            out,
            "  {name:<15} {:>12.1} Pa   {:>16}   {height}",
            pressure.0.value,
            density(rho)
        )?;
    }
    writeln!(
        out,
        "  {:<15} {:>12.1} Pa",
        "high minus low",
        terms.sum().0.value
    )?;
    if hookup.correction.is_set() {
        writeln!(out, "  {}", corrected(hookup, working))?;
    }
    let around = &working.surroundings;
    writeln!(out, "\nTaken at")?;
    writeln!(
        out,
        "  liquid   {:.2} degC; density from: {}",
        around.liquid_temperature.value - 273.15,
        source(tank, hookup, working)
    )?;
    writeln!(
        out,
        "  ambient  {:.2} degC, {:.2} hPa(a)",
        around.ambient.value - 273.15,
        around.barometer.0.value / 100.0
    )?;
    writeln!(
        out,
        "  gas      {:.2} hPa(a)",
        around.gas_pressure.0.value / 100.0
    )?;
    print_budget(&working.budget, out)
}

/// What was added to the level by hand, by whom, and until when.
fn corrected(hookup: &HookupPlan, working: &Working) -> String {
    let correction = &hookup.correction;
    let level = working.corrected.map_or(f64::NAN, |level| level.value);
    let by = correction.by.as_ref().map(|by| format!(", found by {by}"));
    let until = correction
        .until
        .map(|until| format!(", good until {until}"));
    format!(
        "corrected       {level:.4} m: {} times the level {:+.1} mm{}{}",
        correction.gain,
        correction.offset.value * 1e3,
        by.unwrap_or_default(),
        until.unwrap_or_default()
    )
}

/// Where the density of the balance comes from.
fn source(tank: &TankPlan, hookup: &HookupPlan, working: &Working) -> String {
    let reasons = working.reasons;
    let liquid = match &hookup.hookup {
        Hookup::Interface {
            lower: LegFill::Filled(lower),
            ..
        } => &lower.liquid,
        _ => &tank.liquid.liquid,
    };
    if working.density_measured {
        "the pressures themselves: (p1 - p2)/(g (z2 - z1))".to_owned()
    } else if reasons.has(Reason::DensityLastTrusted) {
        "the pressures, as last trusted".to_owned()
    } else {
        liquid.source().to_owned()
    }
}

fn print_budget(budget: &Budget, out: &mut impl Write) -> std::io::Result<()> {
    writeln!(
        out,
        "\nUncertainty of level and mass (k = 2), largest first"
    )?;
    for line in budget.lines() {
        writeln!(
            out,
            "  {:<38} {:>9.2} mm {:>12.2} kg",
            line.input,
            line.level.value * 1000.0,
            line.mass.value
        )?;
    }
    writeln!(
        out,
        "  {:<38} {:>9.2} mm {:>12.2} kg",
        "together",
        budget.expanded().value * 1000.0,
        budget.expanded_mass().value
    )
}

fn print_reasons(reading: &Reading, out: &mut impl Write) -> std::io::Result<()> {
    if reading.reasons.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{}", words::reasons(reading.reasons))
}
