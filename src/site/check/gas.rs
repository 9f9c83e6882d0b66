//! `[tank.gas]`: what is above the liquid.

use super::pressure;
use super::site::temperature_source;
use super::transmitter::Transmitters;
use crate::engine::plan::{Ambient, GasPlan, LiquidPlan, LiquidPressure, Source};
use crate::physics::liquid::{Gas, Liquid};
use crate::quantity::{kilograms_per_cubic_metre, kilograms_per_mole};
use crate::site::file::Table;

/// Air at ambient where it is left out.
pub fn read(
    tank: &Table<'_>,
    transmitters: &Transmitters<'_>,
    ambient: &Ambient,
    liquid: Option<&LiquidPlan>,
) -> Option<GasPlan> {
    let Some(table) = tank.table("gas") else {
        if tank.has("gas") {
            return None;
        }
        report_missing(tank, liquid);
        return Some(GasPlan {
            gas: Gas::Air,
            temperature: Source::Ambient,
            pressure: Source::Ambient,
            given: false,
        });
    };
    let named = ["kind", "molar_mass", "density"]
        .into_iter()
        .filter(|name| table.has(name))
        .collect::<Vec<_>>();
    if let [_, second, ..] = named[..] {
        let problem = table.problem_at(
            second,
            "a gas is told by one of `kind`, `molar_mass` and `density`",
        );
        table.report(problem.cure("keep one of them"));
    }
    let gas = match named.first() {
        Some(&"molar_mass") => table
            .si("molar_mass")
            .map(|mass| Gas::MolarMass(kilograms_per_mole(mass))),
        Some(&"density") => table
            .si("density")
            .map(|density| Gas::Density(kilograms_per_cubic_metre(density))),
        Some(_) => kind(&table, liquid),
        None => Some(Gas::Air),
    };
    let temperature = match table.has("temperature") {
        true => temperature_source(&table, "temperature", transmitters),
        false => Some(liquid_temperature(gas.as_ref(), liquid)),
    };
    let pressure = gas_pressure(&table, transmitters, ambient, gas.as_ref(), liquid);
    Some(GasPlan {
        gas: gas?,
        temperature: temperature?,
        pressure: pressure?,
        given: true,
    })
}

fn kind(table: &Table<'_>, liquid: Option<&LiquidPlan>) -> Option<Gas> {
    let gas = match table.choice("kind")? {
        "nitrogen" => Gas::Nitrogen,
        "carbon-dioxide" => Gas::CarbonDioxide,
        "steam" => Gas::Steam,
        "from-liquid" => match &liquid?.liquid {
            Liquid::SaturatedWater { .. } => Gas::Steam,
            Liquid::SaturatedTable(rows) => Gas::Vapour(rows.clone()),
            other => {
                let message = format!("the vapour of \"{}\" is not known", other.name());
                let problem = table.problem_at("kind", message);
                table.report(problem.cure(
                    "from-liquid belongs to saturated-water and saturated-table; else name the gas, for example kind = \"nitrogen\"",
                ));
                return None;
            }
        },
        _ => Gas::Air,
    };
    if gas.is_saturated() && table.has("temperature") {
        let message = "the temperature of a saturated vapour follows from its pressure or liquid";
        let problem = table.problem_at("temperature", message);
        table.report(problem.cure("take it out; for superheated steam give its `density`"));
    }
    Some(gas)
}

/// A vapour is as warm as its liquid.
fn liquid_temperature(gas: Option<&Gas>, liquid: Option<&LiquidPlan>) -> Source {
    match (gas, liquid) {
        (Some(Gas::Vapour(_)), Some(liquid)) => liquid.temperature.clone(),
        _ => Source::Ambient,
    }
}

/// Its own, or else that of the liquid, or else ambient.
fn gas_pressure(
    table: &Table<'_>,
    transmitters: &Transmitters<'_>,
    ambient: &Ambient,
    gas: Option<&Gas>,
    liquid: Option<&LiquidPlan>,
) -> Option<Source> {
    let of_liquid = liquid.and_then(|liquid| liquid.pressure.clone());
    let pressure = match table.has("pressure") {
        true => pressure::read(table, "a gas", transmitters)?,
        false => of_liquid.unwrap_or_else(|| {
            if gas == Some(&Gas::Steam) && liquid.is_some() {
                let problem = table.problem_at("kind", "steam needs its pressure");
                table.report(
                    problem.cure("add pressure = \"PT-101\", or a quantity with (g) or (a)"),
                );
            }
            LiquidPressure::Of(Source::Ambient)
        }),
    };
    Some(match pressure {
        LiquidPressure::Of(source) => source,
        // a gauge pressure counts from the air, of which the fixed part is known here
        LiquidPressure::AboveAir(gauge_pa) => {
            let absolute_pa = gauge_pa + ambient.pressure_otherwise.0.value;
            if absolute_pa < 0.0 {
                pressure::report_vacuum(table);
            }
            Source::Fixed(absolute_pa)
        }
    })
}

/// A saturated liquid has its own vapour above it, whose weight counts.
fn report_missing(tank: &Table<'_>, liquid: Option<&LiquidPlan>) {
    let Some(liquid) = liquid.filter(|liquid| liquid.liquid.is_saturated()) else {
        return;
    };
    let message = format!(
        "what is above a liquid of kind \"{}\" must be said",
        liquid.liquid.name()
    );
    let problem = tank.problem_at("liquid", message);
    tank.report(problem.cure("its own vapour: gas = { kind = \"from-liquid\" }"));
}
