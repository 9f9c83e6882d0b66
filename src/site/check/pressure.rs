//! The pressure in a vessel: of its gas, or of a liquid that goes by it.

use super::transmitter::Transmitters;
use crate::engine::plan::{LiquidPressure, Measures, Source};
use crate::quantity::{Dimension, Reference, Written};
use crate::site::Problem;
use crate::site::file::{Given, Table};

/// What `pressure` of the table says; `whose`: "a gas".
pub fn read(
    table: &Table<'_>,
    whose: &str,
    transmitters: &Transmitters<'_>,
) -> Option<LiquidPressure> {
    Some(match table.source("pressure")? {
        Given::Ambient => LiquidPressure::Of(Source::Ambient),
        Given::Quantity(written) => fixed(table, whose, &written)?,
        Given::Tags(tags) => {
            let mut ids = Vec::new();
            for (tag, place) in tags {
                let id = transmitters.find(table, tag, place.clone(), Dimension::Pressure)?;
                if transmitters.measures(id, table, place.clone())? == Measures::Differential {
                    let message =
                        format!("{tag} measures a difference, which is no pressure of {whose}");
                    table.report(
                        Problem::new(place, message)
                            .related(transmitters.measures_place(id), "says so")
                            .cure("name a gauge or absolute transmitter on the headspace"),
                    );
                }
                ids.push(id);
            }
            LiquidPressure::Of(Source::Tags(ids))
        }
    })
}

fn fixed(table: &Table<'_>, whose: &str, written: &Written) -> Option<LiquidPressure> {
    let pressure = match written.reference {
        Some(Reference::Absolute) => LiquidPressure::Of(Source::Fixed(written.si)),
        Some(Reference::Gauge) => LiquidPressure::AboveAir(written.si),
        None => {
            let (number, symbol) = (written.number, written.unit.symbol);
            let problem = table.problem_at(
                "pressure",
                format!("the pressure of {whose} must say whether it is gauge or absolute"),
            );
            table.report(problem.cure(format!(
                "write \"{number} {symbol}(g)\" or \"{number} {symbol}(a)\""
            )));
            return None;
        }
    };
    if written.reference == Some(Reference::Absolute) && written.si < 0.0 {
        report_vacuum(table);
    }
    Some(pressure)
}

pub fn report_vacuum(table: &Table<'_>) {
    table.report(
        table
            .problem_at("pressure", "this is below vacuum")
            .cure("check the number, its sign and (g) or (a)"),
    );
}
