//! `standpipe convert SITE TANK --set TAG=QUANTITY …`: one reading worked by hand, with its working.

mod working;

use super::stated::{nothing_missing, stated};
use super::{load, shown, tank_named};
use crate::daemon::clock;
use crate::engine::plan::TankPlan;
use crate::engine::snapshot::CorrectionView;
use crate::engine::tank::TankState;
use crate::engine::{Reading, words};
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
        let product = tank.product().map(|product| &*product.name);
        let corrected = state.correction(tank).map(CorrectionView::of);
        let answer = Answer {
            reading: ReadingForm::new(
                &tank.name,
                product,
                corrected.as_ref(),
                (&state.reading, &state.budget()),
            ),
            hookups: several(tank)
                .map(|tank| state.views(tank).iter().map(HookupForm::new).collect()),
        };
        serde_json::to_writer(&mut *out, &answer)?;
        writeln!(out)?;
    } else {
        print_reading(&site, tank, &state, out)?;
        for (place, (hookup, working)) in tank.hookups.iter().zip(state.workings()).enumerate() {
            let worked = (working, &state.budget_of(place));
            working::print(&site, tank, hookup, worked, out)?;
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

pub(super) fn take_product(tank: &mut TankPlan, product: &str) -> anyhow::Result<()> {
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
    if let Some(product) = tank.product() {
        writeln!(out, "  product   {}", product.name)?;
    }
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

fn print_reasons(reading: &Reading, out: &mut impl Write) -> std::io::Result<()> {
    if reading.reasons.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{}", words::reasons(reading.reasons))
}
