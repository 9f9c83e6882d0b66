//! `fault = { … }`: what is wrong with a tank, a transmitter or a link.

use super::Placed;
use crate::quantity::{Dimension, Length, QuantityError, parse};
use crate::site::file::Table;
use std::time::Duration;

/// What is wrong with a tank's lines or a transmitter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ailment {
    Plugged {
        high: bool,
        low: bool,
    },
    WetLegLost(Length),
    Condensate(Length),
    LowLegFlooded,
    EqualiserOpen,
    Frozen,
    Nan,
    /// SI units of the dimension a second.
    Drift {
        per_second: f64,
        dimension: Dimension,
    },
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disturbance {
    Silent,
    Exception(u8),
}

pub(super) const OF_TANKS: [&str; 8] = [
    "plugged",
    "wet_leg_lost",
    "condensate",
    "low_leg_flooded",
    "equaliser",
    "frozen",
    "nan",
    "drift",
];
pub(super) const OF_TRANSMITTERS: [&str; 3] = ["frozen", "nan", "drift"];
pub(super) const OF_LINKS: [&str; 2] = ["silent", "exception"];

/// A fault table with its one fault.
pub(super) struct FaultTable<'d> {
    table: Table<'d>,
    name: &'static str,
}

/// The fault that an entry names, if it is one of those that can befall its target.
pub(super) fn fault<'d>(
    table: &Table<'d>,
    known: &[&'static str],
    target: &str,
) -> Option<FaultTable<'d>> {
    let faults = table.table("fault")?;
    let named: Vec<&str> = faults
        .names()
        .map(|(name, _)| name)
        .filter(|name| *name != "code")
        .collect();
    let all = || OF_TANKS.iter().chain(&OF_LINKS);
    if faults.has("code") && named[..] != ["exception"] {
        let problem = faults.problem_at("code", "`code` goes with `exception` alone");
        faults.report(problem.cure("take it out"));
    }
    match named[..] {
        [name] => match known.iter().find(|known| **known == name) {
            Some(name) => {
                return Some(FaultTable {
                    table: faults,
                    name,
                });
            }
            // Any other word was refused when the table was opened.
            None if all().any(|known| *known == name) => {
                let problem = faults.problem_at(name, format!("`{name}` is no fault of {target}"));
                faults.report(problem.cure(format!("{target} can have: {}", known.join(", "))));
            }
            None => {}
        },
        _ => {
            let problem = table.problem_at(
                "fault",
                format!("`fault` must name one fault, not {}", named.len()),
            );
            table.report(problem.cure("put each in an [[at]] of its own"));
        }
    }
    None
}

pub(super) fn ailment(fault: &FaultTable<'_>) -> Option<Placed<Ailment>> {
    let FaultTable { table, name } = fault;
    let value = match *name {
        "plugged" => {
            let side = table.choice("plugged")?;
            Ailment::Plugged {
                high: side != "low",
                low: side != "high",
            }
        }
        "wet_leg_lost" => Ailment::WetLegLost(table.length("wet_leg_lost")?),
        "condensate" => Ailment::Condensate(table.length("condensate")?),
        "low_leg_flooded" => is_on(table, "low_leg_flooded").then_some(Ailment::LowLegFlooded)?,
        "equaliser" => table.choice("equaliser").map(|_| Ailment::EqualiserOpen)?,
        "frozen" => is_on(table, "frozen").then_some(Ailment::Frozen)?,
        "nan" => is_on(table, "nan").then_some(Ailment::Nan)?,
        _ => drift(table)?,
    };
    Some(Placed {
        value,
        place: table.place_of(name),
    })
}

fn is_on(table: &Table<'_>, name: &'static str) -> bool {
    let is_on = table.boolean(name);
    if is_on == Some(false) {
        let problem = table.problem_at(name, format!("`{name} = false` says nothing"));
        table.report(problem.cure("a fault ends at the `until` of the [[at]] that brought it"));
    }
    is_on == Some(true)
}

fn drift(table: &Table<'_>) -> Option<Ailment> {
    let text = table.text("drift")?;
    let parts = text.split_once(" / ");
    let by = |dimension| {
        parts.and_then(|(by, _)| {
            parse(by, dimension)
                .ok()
                .map(|written| (written.si, dimension))
        })
    };
    // A change of temperature is a difference, so kelvin.
    let by = by(Dimension::Pressure).or_else(|| by(Dimension::TemperatureDifference));
    let time: Option<Result<_, QuantityError>> =
        parts.map(|(_, time)| parse(time, Dimension::Time));
    match (by, time) {
        (Some((by, dimension)), Some(Ok(time))) if time.si > 0.0 => Some(Ailment::Drift {
            per_second: by / time.si,
            dimension,
        }),
        _ => {
            let problem = table.problem_at(
                "drift",
                format!("`drift` must be a change per time, not \"{text}\""),
            );
            table.report(problem.cure("for example drift = \"0.5 kPa / 1 h\" or \"0.2 K / 1 h\""));
            None
        }
    }
}

pub(super) fn disturbance(fault: &FaultTable<'_>) -> Option<(Disturbance, Duration)> {
    let FaultTable { table, name } = fault;
    if *name == "silent" {
        return Some((Disturbance::Silent, table.duration("silent")?));
    }
    let (lasting, code) = (table.duration("exception"), table.whole("code", 1..=255));
    let code = u8::try_from(code?).expect("it was checked to be at most 255");
    Some((Disturbance::Exception(code), lasting?))
}
