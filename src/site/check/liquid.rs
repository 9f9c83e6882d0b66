//! What is in a tank or a leg.

use super::pressure;
use super::site::temperature_source;
use super::transmitter::Transmitters;
use crate::engine::plan::{LiquidPlan, MeasuredDensity, Source};
use crate::engine::tank::LIQUID_KG_M3;
use crate::physics::liquid::{
    DensityTable, Glycol, GlycolKind, Liquid, LiquidError, Petroleum, PetroleumBase,
    PetroleumGroup, SaturatedTable, SeaWater,
};
use crate::quantity::{Dimension, MassDensity, kelvin, kilograms_per_cubic_metre, per_kelvin_of};
use crate::site::file::{Given, Table};

pub fn read(table: &Table<'_>, transmitters: &Transmitters<'_>) -> Option<LiquidPlan> {
    table.choice("kind");
    let temperature = match table.has("temperature") {
        true => temperature_source(table, "temperature", transmitters),
        false => Some(Source::Ambient),
    };
    let uncertainty = table.si("uncertainty").map(kilograms_per_cubic_metre);
    let liquid = match table.kind()? {
        "water" => Liquid::Water { uncertainty },
        "constant" => Liquid::Constant {
            density: density(table)?,
            uncertainty,
        },
        "expanding" => {
            let (density, at, coefficient) =
                (density(table), table.si("at"), table.si("coefficient"));
            Liquid::Expanding {
                density: density?,
                at: kelvin(at?),
                coefficient: per_kelvin_of(coefficient?),
                uncertainty,
            }
        }
        "table" => Liquid::Table(density_table(table, uncertainty)?),
        "saturated-water" => Liquid::SaturatedWater { uncertainty },
        "compressed-water" => Liquid::CompressedWater { uncertainty },
        "petroleum" => Liquid::Petroleum(petroleum(table, uncertainty)?),
        "ethylene-glycol" => Liquid::Glycol(glycol(table, GlycolKind::Ethylene, uncertainty)?),
        "propylene-glycol" => Liquid::Glycol(glycol(table, GlycolKind::Propylene, uncertainty)?),
        "sea-water" => {
            let sea = SeaWater::new(table.si("salinity")?, uncertainty);
            Liquid::SeaWater(right(table, "salinity", sea)?)
        }
        "saturated-table" => Liquid::SaturatedTable(saturated_table(table, uncertainty)?),
        _ if table.has("from") => return measured_by_hookup(table, transmitters),
        _ => return measured(table, transmitters, temperature, uncertainty),
    };
    let pressure = match liquid.needs_pressure() && table.has("pressure") {
        true => Some(pressure::read(table, "a liquid", transmitters)?),
        false => None,
    };
    Some(LiquidPlan {
        liquid,
        temperature: temperature?,
        pressure,
        measured: None,
    })
}

/// What is taken while the tank's three transmitters do not measure it: the whole of the plan, for with
/// three transmitters any other liquid is that as well. Whether there are three, the tank's check sees to.
fn measured_by_hookup(table: &Table<'_>, transmitters: &Transmitters<'_>) -> Option<LiquidPlan> {
    table.choice("from");
    for name in ["density", "temperature", "uncertainty"] {
        if table.has(name) {
            let problem = table.problem_at(
                name,
                format!("`{name}` does not belong to a density that the hookup measures"),
            );
            table.report(problem.cure("take it out; or say it of the liquid under `otherwise`"));
        }
    }
    let otherwise = table.table("otherwise");
    if otherwise.is_none() && !table.has("otherwise") {
        let problem = table.problem_at(
            "otherwise",
            "nothing says what liquid is taken while the density is not measured",
        );
        table.report(problem.cure(
            "below the middle transmitter no density is seen: otherwise = { kind = \"constant\", density = \"850 kg/m3\" }",
        ));
    }
    let plan = read(&otherwise?, transmitters)?;
    Some(plan)
}

/// A density that a transmitter reads, and what stands in for it.
fn measured(
    table: &Table<'_>,
    transmitters: &Transmitters<'_>,
    temperature: Option<Source>,
    uncertainty: Option<MassDensity>,
) -> Option<LiquidPlan> {
    let otherwise = match table.has("otherwise") {
        true => Some(read(&table.table("otherwise")?, transmitters)?),
        false => None,
    };
    let transmitter = density_tag(table, transmitters)?;
    let stated = otherwise.filter(|otherwise| otherwise.measured.is_none());
    if table.has("otherwise") && stated.is_none() {
        let problem = table.problem_at("otherwise", "what stands in is measured itself");
        table.report(
            problem.cure(
                "state a liquid: otherwise = { kind = \"constant\", density = \"850 kg/m3\" }",
            ),
        );
    }
    let own_temperature = temperature?;
    let (liquid, of_stated, pressure) = match stated {
        Some(plan) => (Some(Box::new(plan.liquid)), plan.temperature, plan.pressure),
        None => (None, Source::Ambient, None),
    };
    Some(LiquidPlan {
        liquid: Liquid::Measured { otherwise: liquid },
        temperature: match table.has("temperature") {
            true => own_temperature,
            false => of_stated,
        },
        pressure,
        measured: Some(MeasuredDensity {
            transmitter,
            uncertainty,
        }),
    })
}

fn density_tag(
    table: &Table<'_>,
    transmitters: &Transmitters<'_>,
) -> Option<crate::engine::TransmitterId> {
    if !table.has("density") {
        let problem = table.problem_at("kind", "nothing says what measures the density");
        table.report(problem.cure(
            "name the transmitter that reads it: density = \"DT-101\"; or from = \"hookup\" with three transmitters",
        ));
        return None;
    }
    match table.source("density")? {
        Given::Tags(tags) if tags.len() == 1 => {
            let (tag, place) = tags.into_iter().next().expect("there is one");
            transmitters.find(table, tag, place, Dimension::Density)
        }
        given => {
            let (message, cure) = match given {
                Given::Tags(_) => (
                    "a density is measured by one transmitter",
                    "name one of them: density = \"DT-101\"",
                ),
                _ => (
                    "a measured density is that of a transmitter",
                    "name it: density = \"DT-101\"; for a density that stays write kind = \"constant\"",
                ),
            };
            table.report(table.problem_at("density", message).cure(cure));
            None
        }
    }
}

fn petroleum(table: &Table<'_>, uncertainty: Option<MassDensity>) -> Option<Petroleum> {
    let group = table.choice("group").map(|group| match group {
        "crude" => PetroleumGroup::Crude,
        "refined" => PetroleumGroup::Refined,
        _ => PetroleumGroup::Lubricating,
    });
    let (density, base) = (density(table), petroleum_base(table));
    let petroleum = Petroleum::new(group?, density?, base?, uncertainty);
    right(table, "density", petroleum)
}

fn petroleum_base(table: &Table<'_>) -> Option<PetroleumBase> {
    let at_k = table.si("at")?;
    for base in [PetroleumBase::Celsius15, PetroleumBase::Fahrenheit60] {
        if (base.temperature().value - at_k).abs() < 1e-6 {
            return Some(base);
        }
    }
    let problem = table.problem_at(
        "at",
        "the density of petroleum is told at 15 degC or 60 degF",
    );
    table.report(problem.cure("at = \"15 degC\" or at = \"60 degF\""));
    None
}

fn glycol(table: &Table<'_>, kind: GlycolKind, uncertainty: Option<MassDensity>) -> Option<Glycol> {
    let glycol = Glycol::new(kind, table.si("share")?, uncertainty);
    right(table, "share", glycol)
}

/// What the liquid itself refuses is told at its key.
fn right<T>(table: &Table<'_>, key: &'static str, liquid: Result<T, LiquidError>) -> Option<T> {
    match liquid {
        Ok(liquid) => Some(liquid),
        Err(error) => {
            let cure = format!("check the number and its unit: {}", table.example(key));
            table.report(table.problem_at(key, error.to_string()).cure(cure));
            None
        }
    }
}

fn density(table: &Table<'_>) -> Option<MassDensity> {
    let written = table.quantity("density")?;
    if !LIQUID_KG_M3.contains(&written.si) {
        let problem = table.problem_at("density", format!("no liquid weighs {} kg/m3", written.si));
        table.report(problem.cure("check the number and its unit: density = \"1150 kg/m3\""));
        return None;
    }
    Some(kilograms_per_cubic_metre(written.si))
}

fn density_table(table: &Table<'_>, uncertainty: Option<MassDensity>) -> Option<DensityTable> {
    let rows = table.rows("rows")?;
    let rows = rows
        .iter()
        .map(|(temperature, density)| {
            (
                kelvin(temperature.si),
                kilograms_per_cubic_metre(density.si),
            )
        })
        .collect();
    let rows = DensityTable::new(rows, uncertainty);
    right_rows(table, "rows of temperature and density", rows)
}

fn saturated_table(table: &Table<'_>, uncertainty: Option<MassDensity>) -> Option<SaturatedTable> {
    let rows = table.rows_of_three("rows")?;
    let density = |si: f64| kilograms_per_cubic_metre(si);
    let rows: Vec<_> = rows
        .iter()
        .map(|[temperature, liquid, vapour]| {
            (
                kelvin(temperature.si),
                density(liquid.si),
                density(vapour.si),
            )
        })
        .collect();
    let rows = SaturatedTable::new(&rows, uncertainty);
    right_rows(table, "rows of temperature, liquid and vapour", rows)
}

fn right_rows<T>(table: &Table<'_>, of: &str, rows: Result<T, LiquidError>) -> Option<T> {
    match rows {
        Ok(rows) => Some(rows),
        Err(error) => {
            let problem = table.problem_at("rows", format!("`rows`, {error}"));
            let example = table.example("rows");
            let example = example.trim_start_matches("rows = ");
            table.report(problem.cure(format!("{of}, the coldest first: {example}")));
            None
        }
    }
}
