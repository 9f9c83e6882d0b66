//! `standpipe sheet SITE TANK`: ranging and five-point calibration sheet.

use super::convert::take_product;
use super::stated::{nothing_missing, stated};
use super::{load, quantity, shown, tank_named};
use crate::engine::plan::{Choose, Hookup, HookupPlan, Plan, TankPlan};
use crate::engine::tank::{Stated, Working, visible_levels};
use crate::physics::balance::UpperTap;
use crate::physics::ranging::Range;
use crate::quantity::{DifferentialPressure, Dimension, Length, metres, print};
use crate::site::Site;
use anyhow::Context;
use serde::Serialize;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Print what the transmitter is to be ranged to, and a sheet to calibrate it by.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// The hookup, where the tank has several; the chosen one if left out
    #[arg(long, value_name = "NAME")]
    hookup: Option<String>,
    /// Level at 0 %; the lowest that the hookup can see if left out
    #[arg(long, value_name = "LEVEL", allow_hyphen_values = true)]
    zero: Option<String>,
    /// Level at 100 %; the highest that the hookup can see if left out
    #[arg(long, value_name = "LEVEL", allow_hyphen_values = true)]
    full: Option<String>,
    /// What is in it, by the name of one of its products; the first if left out
    #[arg(long, value_name = "PRODUCT")]
    product: Option<String>,
    /// What a transmitter shows, where a density depends on it
    #[arg(long, value_name = "TAG=QUANTITY", allow_hyphen_values = true)]
    set: Vec<String>,
    /// Answer as JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Answer with the points as CSV, in SI units
    #[arg(long)]
    csv: bool,
}

#[derive(Debug, Serialize)]
struct Sheet {
    lrv_pa: f64,
    urv_pa: f64,
    span_pa: f64,
    level_at_zero_pressure_m: f64,
    density_kg_m3: f64,
    points: Vec<Point>,
}

#[derive(Debug, Serialize)]
struct Point {
    percent: f64,
    level_m: f64,
    differential_pressure_pa: f64,
    current_ma: f64,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let mut site = load(&arguments.site)?;
    let index = tank_named(&site, &arguments.tank)?;
    if let Some(product) = &arguments.product {
        take_product(&mut site.plan.tanks[index], product)?;
    }
    let plan = &site.plan;
    let tank = &plan.tanks[index];
    let hookup = hookup_named(tank, arguments.hookup.as_deref())?;
    anyhow::ensure!(
        !matches!(hookup.hookup, Hookup::Level { .. }),
        "{} is ranged in level already: its transmitter feels no pressure that could be worked out here",
        hookup.name
    );
    let working = working(plan, tank, hookup, &arguments.set)?;
    let (lowest, highest) = visible_levels(tank, &hookup.hookup);
    let zero = level(arguments.zero.as_deref(), lowest)?;
    let full = level(arguments.full.as_deref(), highest)?;
    anyhow::ensure!(
        full > zero,
        "the level at 100 % ({:.4} m) must be above that at 0 % ({:.4} m)",
        full.value,
        zero.value
    );
    let elevation = |level: Length| tank.vessel.elevation(level);
    let reversed = hookup.hookup.is_reversed();
    let range = Range::new(&working.balance, elevation(zero), elevation(full), reversed);
    let mut range = felt(range, &hookup.hookup, &working);
    // A pressure tells how high the surface stands, plumb; the sheet shows levels.
    (range.zero, range.full) = (zero, full);
    range.level_at_nothing = tank.vessel.level(range.level_at_nothing);
    if arguments.json {
        serde_json::to_writer(&mut *out, &sheet(&working, &range))?;
        writeln!(out)?;
    } else if arguments.csv {
        let mut rows = csv::Writer::from_writer(&mut *out);
        let points = sheet(&working, &range).points;
        points.iter().try_for_each(|point| rows.serialize(point))?;
        rows.flush()?;
    } else {
        print_sheet(&site, (tank, hookup), &working, &range, out)?;
        warn_of_range(&site, &working, &range, (lowest, highest), out)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn hookup_named<'t>(tank: &'t TankPlan, name: Option<&str>) -> anyhow::Result<&'t HookupPlan> {
    let Some(name) = name else {
        return Ok(match tank.choice.level {
            Choose::One(place) => &tank.hookups[place],
            _ => &tank.hookups[0],
        });
    };
    let names = || tank.hookups.iter().map(|hookup| &*hookup.name);
    let place = names().position(|known| known == name);
    let place = place.with_context(|| {
        format!(
            "{} has no hookup \"{name}\"; it has: {}",
            tank.name,
            names().collect::<Vec<_>>().join(", ")
        )
    })?;
    Ok(&tank.hookups[place])
}

/// What the transmitter itself feels: the friction of a purge, and with an absolute one the air as well.
fn felt(range: Range, hookup: &Hookup, working: &Working) -> Range {
    match hookup {
        Hookup::DipTube { friction, .. } => range.raised(&working.balance, friction.pressure),
        Hookup::Barometer { .. } => range.raised(
            &working.balance,
            DifferentialPressure(working.surroundings.barometer.0),
        ),
        _ => range,
    }
}

/// The densities as they are; the pressures themselves are what the sheet gives, so they need not be stated.
fn working(
    plan: &Plan,
    tank: &TankPlan,
    hookup: &HookupPlan,
    settings: &[String],
) -> anyhow::Result<Working> {
    let mut stated: Stated = stated(plan, tank, settings)?;
    for transmitter in hookup.hookup.transmitters() {
        stated.set(plan, transmitter, 0.0);
    }
    let working = Working::of(plan, tank, hookup, &stated, None);
    nothing_missing(plan, &stated)?;
    anyhow::ensure!(
        working.balance.is_solvable(),
        "the liquid is no denser than what is above it: there is no range"
    );
    Ok(working)
}

fn level(text: Option<&str>, otherwise: Length) -> anyhow::Result<Length> {
    Ok(match text {
        Some(text) => metres(quantity(text, Dimension::Length)?.si),
        None => otherwise,
    })
}

fn sheet(working: &Working, range: &Range) -> Sheet {
    let points = range.points().into_iter().map(|point| Point {
        percent: point.percent,
        level_m: point.level.value,
        differential_pressure_pa: point.difference.0.value,
        current_ma: point.current_ma,
    });
    Sheet {
        lrv_pa: range.lower.0.value,
        urv_pa: range.upper.0.value,
        span_pa: range.span().0.value,
        level_at_zero_pressure_m: range.level_at_nothing.value,
        density_kg_m3: working.liquid.value.value,
        // Up once: what an instrument reads on the way down is for the calibration to find.
        points: points.take(5).collect(),
    }
}

fn print_sheet(
    site: &Site,
    (tank, hookup): (&TankPlan, &HookupPlan),
    working: &Working,
    range: &Range,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let pressure = |pressure: crate::quantity::DifferentialPressure| {
        print(pressure.0.value, site.show.pressure, 4)
    };
    let tags: Vec<String> = hookup
        .hookup
        .transmitters()
        .map(|id| site.plan.transmitters[id.index()].tag.to_string())
        .collect();
    writeln!(
        out,
        "Calibration sheet: {}, {} — {} ({})",
        tags.join(" with "),
        tank.name,
        tank.title,
        hookup.hookup.name()
    )?;
    writeln!(
        out,
        "  0 %    {:>12}   LRV {}",
        shown(Some(range.zero.value), site.show.level, 4),
        pressure(range.lower)
    )?;
    writeln!(
        out,
        "  100 %  {:>12}   URV {}",
        shown(Some(range.full.value), site.show.level, 4),
        pressure(range.upper)
    )?;
    writeln!(out, "  span   {}", pressure(range.span()))?;
    let zero = range.lower.0.value;
    if zero.abs() >= 0.5 {
        let word = if zero > 0.0 {
            "suppression"
        } else {
            "elevation"
        };
        writeln!(
            out,
            "  zero {word} {}",
            print(zero.abs(), site.show.pressure, 4)
        )?;
    }
    writeln!(
        out,
        "  no pressure at all would show {}",
        shown(Some(range.level_at_nothing.value), site.show.level, 4)
    )?;
    writeln!(
        out,
        "  liquid {:.3} kg/m3, g {:.5} m/s2",
        working.liquid.value.value, working.balance.gravity.value
    )?;
    writeln!(
        out,
        "\n  {:>6} {:>12} {:>16} {:>10}   as found    as left",
        "%", "level", "pressure", "mA"
    )?;
    for point in range.points() {
        writeln!(
            out,
            "  {:>6.0} {:>12} {:>16} {:>10.3}   ________    ________",
            point.percent,
            shown(Some(point.level.value), site.show.level, 4),
            pressure(point.difference),
            point.current_ma
        )?;
    }
    writeln!(
        out,
        "\n  By ______________________   Date ______________   Permit ______________"
    )?;
    writeln!(
        out,
        "  Isolate, vent and equalise only under the site's permit."
    )
}

fn warn_of_range(
    site: &Site,
    working: &Working,
    range: &Range,
    (lowest, highest): (Length, Length),
    out: &mut impl Write,
) -> std::io::Result<()> {
    let level = |level: Length| print(level.value, site.show.level, 3);
    if range.zero < lowest {
        writeln!(
            out,
            "  Note: levels below {} are not seen: the tap is there.",
            level(lowest)
        )?;
    }
    if range.full > highest && working.upper != UpperTap::Open {
        writeln!(
            out,
            "  Note: levels above {} are not seen: the upper tap is there.",
            level(highest)
        )?;
    }
    let nothing = range.level_at_nothing;
    if working.upper != UpperTap::Open && (range.zero..=range.full).contains(&nothing) {
        writeln!(
            out,
            "  Note: with both sides equalised it shows {}, which can look like a healthy level.",
            level(nothing)
        )?;
    }
    Ok(())
}
