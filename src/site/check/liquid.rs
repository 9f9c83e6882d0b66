//! What is in a tank or a leg, and the gas above it.

use super::site::temperature_source;
use super::transmitter::Transmitters;
use crate::engine::plan::{Ambient, GasPlan, LiquidPlan, Measures, Source};
use crate::physics::liquid::{DensityTable, Gas, Liquid};
use crate::quantity::{
    Dimension, MassDensity, Reference, kelvin, kilograms_per_cubic_metre, kilograms_per_mole,
    per_kelvin_of,
};
use crate::site::file::{Given, Table};

pub fn read(table: &Table<'_>, transmitters: &Transmitters<'_>) -> Option<LiquidPlan> {
    table.choice("kind");
    let temperature = match table.has("temperature") {
        true => temperature_source(table, "temperature", transmitters),
        false => Some(Source::Ambient),
    };
    let uncertainty = table.si("uncertainty").map(kilograms_per_cubic_metre);
    if table.kind()? == "measured" {
        // Which hookup measures it, the tank's check sees to; this is what is taken while none does.
        table.choice("from");
        return read(&table.table("otherwise")?, transmitters);
    }
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
        _ => Liquid::Table(density_table(table, uncertainty)?),
    };
    Some(LiquidPlan {
        liquid,
        temperature: temperature?,
    })
}

/// Liquids outside of these are a slip of the unit (common practice, no source), kg/m³.
const LIQUID_KG_M3: std::ops::RangeInclusive<f64> = 100.0..=20_000.0;

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
    match DensityTable::new(rows, uncertainty) {
        Ok(table) => Some(table),
        Err(error) => {
            let problem = table.problem_at("rows", format!("`rows`, {error}"));
            table.report(problem.cure("rows of temperature and density, the coldest first: [[\"10 degC\", \"850 kg/m3\"], [\"30 degC\", \"836 kg/m3\"]]"));
            None
        }
    }
}

/// `[tank.gas]`; air at ambient where it is left out.
pub fn gas(
    tank: &Table<'_>,
    transmitters: &Transmitters<'_>,
    ambient: &Ambient,
) -> Option<GasPlan> {
    let Some(table) = tank.table("gas") else {
        let air = GasPlan {
            gas: Gas::Air,
            temperature: Source::Ambient,
            pressure: Source::Ambient,
            given: false,
        };
        return (!tank.has("gas")).then_some(air);
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
        Some(_) => table.choice("kind").map(|kind| match kind {
            "nitrogen" => Gas::Nitrogen,
            "carbon-dioxide" => Gas::CarbonDioxide,
            _ => Gas::Air,
        }),
        None => Some(Gas::Air),
    };
    let temperature = match table.has("temperature") {
        true => temperature_source(&table, "temperature", transmitters),
        false => Some(Source::Ambient),
    };
    let pressure = gas_pressure(&table, transmitters, ambient);
    Some(GasPlan {
        gas: gas?,
        temperature: temperature?,
        pressure: pressure?,
        given: true,
    })
}

fn gas_pressure(
    table: &Table<'_>,
    transmitters: &Transmitters<'_>,
    ambient: &Ambient,
) -> Option<Source> {
    if !table.has("pressure") {
        return Some(Source::Ambient);
    }
    match table.source("pressure")? {
        Given::Ambient => Some(Source::Ambient),
        Given::Quantity(written) => {
            let absolute_pa = match written.reference {
                Some(Reference::Absolute) => written.si,
                // a gauge pressure counts from the air, of which the fixed part is known here
                Some(Reference::Gauge) => written.si + ambient.pressure_otherwise.0.value,
                None => {
                    let symbol = written.unit.symbol;
                    let problem = table.problem_at(
                        "pressure",
                        "the pressure of a gas must say whether it is gauge or absolute",
                    );
                    table.report(problem.cure(format!(
                        "write \"{0} {symbol}(g)\" or \"{0} {symbol}(a)\"",
                        written.number
                    )));
                    return None;
                }
            };
            if absolute_pa < 0.0 {
                table.report(
                    table
                        .problem_at("pressure", "this is below vacuum")
                        .cure("check the number, its sign and (g) or (a)"),
                );
            }
            Some(Source::Fixed(absolute_pa))
        }
        Given::Tags(tags) => {
            let mut ids = Vec::new();
            for (tag, place) in tags {
                let id = transmitters.find(table, tag, place.clone(), Dimension::Pressure)?;
                if transmitters.measures(id, table, place.clone())? == Measures::Differential {
                    let problem = crate::site::Problem::new(
                        place,
                        format!("{tag} measures a difference, which is no pressure of the gas"),
                    );
                    table.report(
                        problem
                            .related(transmitters.measures_place(id), "says so")
                            .cure("name a gauge or absolute transmitter on the headspace"),
                    );
                }
                ids.push(id);
            }
            Some(Source::Tags(ids))
        }
    }
}
