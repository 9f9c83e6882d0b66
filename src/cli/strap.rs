//! `standpipe strap SITE TANK`: the vessel's strapping table.

use super::{load, quantity, tank_named};
use crate::engine::plan::TankPlan;
use crate::engine::tank::level_range;
use crate::quantity::{Dimension, Length, metres, print};
use crate::site::Site;
use serde::Serialize;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// The most rows that one table holds.
const MOST_ROWS: f64 = 1_000_000.0;

/// Print the vessel's strapping table: level, volume, surface.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("levels").required(true).args(["every", "at"]))]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// A row at every step from the bottom to the top, e.g. "10 mm"
    #[arg(long, value_name = "LENGTH")]
    every: Option<String>,
    /// A row at this level, from the site's zero; may be given often
    #[arg(long, value_name = "LEVEL", allow_hyphen_values = true)]
    at: Vec<String>,
    /// Answer as JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Answer as CSV, in SI units
    #[arg(long)]
    csv: bool,
}

#[derive(Debug, Serialize)]
struct Table {
    rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug, Serialize)]
struct Row {
    level_m: f64,
    volume_m3: f64,
    area_m2: f64,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let site = load(&arguments.site)?;
    let tank = &site.plan.tanks[tank_named(&site, &arguments.tank)?];
    let rows = levels(arguments, tank)?
        .into_iter()
        .map(|level| row(tank, level))
        .collect();
    let table = Table { rows };
    if arguments.json {
        serde_json::to_writer(&mut *out, &table)?;
        writeln!(out)?;
    } else if arguments.csv {
        let mut rows = csv::Writer::from_writer(&mut *out);
        table.rows.iter().try_for_each(|row| rows.serialize(row))?;
        rows.flush()?;
    } else {
        print_table(&site, tank, &table, out)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn levels(arguments: &Arguments, tank: &TankPlan) -> anyhow::Result<Vec<Length>> {
    let Some(every) = &arguments.every else {
        let levels = arguments
            .at
            .iter()
            .map(|text| Ok(metres(quantity(text, Dimension::Length)?.si)));
        return levels.collect();
    };
    let step_m = quantity(every, Dimension::Length)?.si;
    let (bottom, top) = level_range(tank);
    let steps = (top - bottom).value / step_m;
    anyhow::ensure!(
        step_m > 0.0,
        "--every must be more than nothing, not \"{every}\""
    );
    anyhow::ensure!(
        steps <= MOST_ROWS,
        "--every \"{every}\" would make {steps:.0} rows; at most {MOST_ROWS:.0}"
    );
    // A hair short of the top is the top.
    let whole = (steps + 1e-9).floor();
    let mut levels: Vec<Length> = (0..=whole as u32)
        .map(|step| bottom + metres(step_m * f64::from(step)))
        .collect();
    if (top - bottom).value - whole * step_m > 1e-9 {
        levels.push(top);
    }
    Ok(levels)
}

fn row(tank: &TankPlan, level: Length) -> Row {
    let inside = level + tank.zero;
    Row {
        level_m: level.value,
        volume_m3: tank.vessel.volume(inside).value,
        area_m2: tank.vessel.area(inside).value,
    }
}

fn print_table(
    site: &Site,
    tank: &TankPlan,
    table: &Table,
    out: &mut impl Write,
) -> std::io::Result<()> {
    writeln!(out, "{} — {}", tank.name, tank.title)?;
    writeln!(out, "{:>14} {:>16} {:>14}", "level", "volume", "surface")?;
    for row in &table.rows {
        writeln!(
            out,
            "{:>14} {:>16} {:>11.4} m2",
            print(row.level_m, site.show.level, 4),
            print(row.volume_m3, site.show.volume, 4),
            row.area_m2
        )?;
    }
    if tank.vessel.expands() {
        writeln!(out, "At the reference temperature of the vessel's shell.")?;
    }
    writeln!(out, "Not for custody transfer or tax.")
}
