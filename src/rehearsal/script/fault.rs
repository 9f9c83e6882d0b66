//! `fault = { … }`: what is wrong with a tank, a transmitter or a link.

use super::Placed;
use crate::plant::{HeadspaceFault, Side};
use crate::quantity::{Dimension, Length, QuantityError, parse};
use crate::site::file::Table;
use std::time::Duration;

/// What is wrong with a tank's lines, its gas, or a transmitter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ailment {
    Plugged {
        high: bool,
        low: bool,
        /// Nearly plugged only: its time constant, s.
        lag_s: Option<f64>,
        /// Of what the trapped liquid presses on, Pa; 0: of nothing.
        stiffness_pa: f64,
    },
    WetLegLost(Length),
    WetLegOverfilled(Length),
    Condensate(Length),
    LowLegFlooded,
    /// Gas stands in a leg.
    Gas(Side, Length),
    /// Lines freeze while they are colder than this, K.
    Freezes(f64),
    /// The share that passes; 1 is open.
    Equaliser(f64),
    /// Time constant, s.
    PurgeLost(f64),
    /// Pa/s.
    TubePlugged(f64),
    ReferenceBlocked,
    Headspace(HeadspaceFault),
    Frozen,
    Nan,
    FailedHigh,
    FailedLow,
    /// SI units of the dimension a second.
    Drift {
        per_second: f64,
        dimension: Dimension,
    },
    /// So many times what it was.
    Scaled(f64),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disturbance {
    Silent,
    Reset,
    Dropped,
    Late(Duration),
    Exception(u8),
    Torn(Duration),
    Swapped,
}

pub(super) const OF_TANKS: [&str; 19] = [
    "plugged",
    "wet_leg_lost",
    "wet_leg_overfilled",
    "condensate",
    "low_leg_flooded",
    "gas_in_leg",
    "freezes",
    "equaliser",
    "purge_lost",
    "tube_plugged",
    "reference",
    "vent",
    "blanket_lost",
    "gas_leak",
    "frozen",
    "nan",
    "failed",
    "drift",
    "scaled",
];
pub(super) const OF_TRANSMITTERS: [&str; 6] =
    ["frozen", "nan", "failed", "drift", "scaled", "reference"];
pub(super) const OF_LINKS: [&str; 7] = [
    "silent",
    "reset",
    "dropped",
    "late",
    "exception",
    "torn",
    "swapped",
];
/// Keys that say more of a fault, and of which.
const MORE: [(&str, &[&str]); 9] = [
    ("lag", &["plugged"]),
    ("stiffness", &["plugged"]),
    ("side", &["gas_in_leg"]),
    ("passing", &["equaliser"]),
    (
        "over",
        &[
            "wet_leg_lost",
            "wet_leg_overfilled",
            "condensate",
            "gas_in_leg",
            "equaliser",
        ],
    ),
    ("by", &["late"]),
    ("code", &["exception"]),
    ("apart", &["torn"]),
    ("share", &OF_LINKS),
];

/// The words of all faults that a script can bring about.
pub fn faults() -> impl Iterator<Item = &'static str> {
    OF_TANKS.into_iter().chain(OF_LINKS)
}

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
    let written = table.table("fault")?;
    let says_more = |name: &str| MORE.iter().any(|(key, _)| *key == name);
    let named: Vec<&str> = written
        .names()
        .map(|(name, _)| name)
        .filter(|name| !says_more(name))
        .collect();
    let [name] = named[..] else {
        let message = format!("`fault` must name one fault, not {}", named.len());
        let problem = table.problem_at("fault", message);
        table.report(problem.cure("put each in an [[at]] of its own"));
        return None;
    };
    for (key, of) in MORE {
        if written.has(key) && faults().any(|known| known == name) && !of.contains(&name) {
            let message = match of {
                [one] => format!("`{key}` goes with `{one}` alone"),
                _ => format!("`{key}` does not go with `{name}`"),
            };
            written.report(written.problem_at(key, message).cure("take it out"));
        }
    }
    match known.iter().find(|known| **known == name) {
        Some(name) => {
            return Some(FaultTable {
                table: written,
                name,
            });
        }
        // Any other word was refused when the table was opened.
        None if faults().any(|known| known == name) => {
            let problem = written.problem_at(name, format!("`{name}` is no fault of {target}"));
            written.report(problem.cure(format!("{target} can have: {}", known.join(", "))));
        }
        None => {}
    }
    None
}

impl FaultTable<'_> {
    pub fn grows_over(&self) -> Option<Duration> {
        self.table
            .has("over")
            .then(|| self.table.duration("over"))?
    }
}

pub(super) fn ailment(fault: &FaultTable<'_>) -> Option<Placed<Ailment>> {
    let FaultTable { table, name } = fault;
    let value = match *name {
        "plugged" => plugged(table)?,
        "wet_leg_lost" => Ailment::WetLegLost(table.length("wet_leg_lost")?),
        "wet_leg_overfilled" => Ailment::WetLegOverfilled(table.length("wet_leg_overfilled")?),
        "condensate" => Ailment::Condensate(table.length("condensate")?),
        "low_leg_flooded" => is_on(table, "low_leg_flooded").then_some(Ailment::LowLegFlooded)?,
        "gas_in_leg" => {
            let side = match table.choice("side")? {
                "low" => Side::Low,
                _ => Side::High,
            };
            Ailment::Gas(side, table.length("gas_in_leg")?)
        }
        "freezes" => Ailment::Freezes(table.si("freezes")?),
        "equaliser" => equaliser(table)?,
        "purge_lost" => Ailment::PurgeLost(table.si("purge_lost")?),
        "tube_plugged" => {
            let (per_second, _) = change(table, "tube_plugged", &[Dimension::Pressure])?;
            Ailment::TubePlugged(per_second)
        }
        "reference" => table
            .choice("reference")
            .map(|_| Ailment::ReferenceBlocked)?,
        "vent" => table
            .choice("vent")
            .map(|_| Ailment::Headspace(HeadspaceFault::VentBlocked))?,
        "blanket_lost" => is_on(table, "blanket_lost")
            .then_some(Ailment::Headspace(HeadspaceFault::BlanketLost))?,
        "gas_leak" => Ailment::Headspace(HeadspaceFault::Leak(table.si("gas_leak")?)),
        "frozen" => is_on(table, "frozen").then_some(Ailment::Frozen)?,
        "nan" => is_on(table, "nan").then_some(Ailment::Nan)?,
        "failed" => match table.choice("failed")? {
            "low" => Ailment::FailedLow,
            _ => Ailment::FailedHigh,
        },
        "scaled" => scaled(table)?,
        _ => {
            // A change of temperature is a difference, so kelvin.
            let of = [Dimension::Pressure, Dimension::TemperatureDifference];
            let (per_second, dimension) = change(table, "drift", &of)?;
            Ailment::Drift {
                per_second,
                dimension,
            }
        }
    };
    Some(Placed {
        value,
        place: table.place_of(name),
    })
}

fn plugged(table: &Table<'_>) -> Option<Ailment> {
    let side = table.choice("plugged")?;
    let lag_s = table.si("lag");
    if lag_s.is_some() && table.has("stiffness") {
        let problem = table.problem_at("stiffness", "nothing is trapped behind a partial plug");
        table.report(problem.cure("take `stiffness` or `lag` out"));
    }
    Some(Ailment::Plugged {
        high: side != "low",
        low: side != "high",
        lag_s,
        stiffness_pa: table.si("stiffness").unwrap_or(0.0),
    })
}

fn equaliser(table: &Table<'_>) -> Option<Ailment> {
    let is_open = table.choice("equaliser")? == "open";
    if is_open && table.has("passing") {
        let problem = table.problem_at("passing", "an open equaliser passes all");
        table.report(problem.cure("take `passing` out, or write equaliser = \"leaking\""));
    }
    let passing = table.si("passing")?;
    if passing > 1.0 {
        let problem = table.problem_at("passing", "`passing` must be at most 100 %");
        table.report(problem.cure("at 100 % both sides have one pressure"));
    }
    Some(Ailment::Equaliser(if is_open { 1.0 } else { passing }))
}

fn scaled(table: &Table<'_>) -> Option<Ailment> {
    let times = table.number("scaled")?;
    if !(times.is_finite() && times > 0.0) {
        let problem = table.problem_at("scaled", "`scaled` must be above 0");
        table.report(problem.cure("for example scaled = 10: kPa that are told in mbar"));
        return None;
    }
    Some(Ailment::Scaled(times))
}

fn is_on(table: &Table<'_>, name: &'static str) -> bool {
    let is_on = table.boolean(name);
    if is_on == Some(false) {
        let problem = table.problem_at(name, format!("`{name} = false` says nothing"));
        table.report(problem.cure("a fault ends at the `until` of the [[at]] that brought it"));
    }
    is_on == Some(true)
}

/// "0.5 kPa / 1 h": the change a second in SI units, of the first dimension that fits.
fn change(table: &Table<'_>, key: &'static str, of: &[Dimension]) -> Option<(f64, Dimension)> {
    let text = table.text(key)?;
    let parts = text.split_once(" / ");
    let by = parts.and_then(|(by, _)| {
        of.iter().find_map(|dimension| {
            let written = parse(by, *dimension).ok()?;
            Some((written.si, *dimension))
        })
    });
    let time: Option<Result<_, QuantityError>> =
        parts.map(|(_, time)| parse(time, Dimension::Time));
    match (by, time) {
        (Some((by, dimension)), Some(Ok(time))) if time.si > 0.0 => Some((by / time.si, dimension)),
        _ => {
            let message = format!("`{key}` must be a change per time, not \"{text}\"");
            let problem = table.problem_at(key, message);
            let kelvin = match of.contains(&Dimension::TemperatureDifference) {
                true => " or \"0.2 K / 1 h\"",
                false => "",
            };
            table.report(problem.cure(format!("for example {key} = \"0.5 kPa / 1 h\"{kelvin}")));
            None
        }
    }
}

/// What befalls a link, which share of its moments, and for how long.
pub(super) fn disturbance(fault: &FaultTable<'_>) -> Option<(Disturbance, f64, Duration)> {
    let FaultTable { table, name } = fault;
    let lasting = table.duration(name);
    let share = table.si("share")?;
    if share > 1.0 {
        let problem = table.problem_at("share", "`share` must be at most 100 %");
        table.report(problem.cure("at 100 % it befalls every answer"));
    }
    let disturbance = match *name {
        "silent" => Disturbance::Silent,
        "reset" => Disturbance::Reset,
        "dropped" => Disturbance::Dropped,
        "late" => Disturbance::Late(table.duration("by")?),
        "torn" => Disturbance::Torn(table.duration("apart")?),
        "swapped" => Disturbance::Swapped,
        _ => {
            let code = table.whole("code", 1..=255)?;
            let code = u8::try_from(code).expect("it was checked to be at most 255");
            Disturbance::Exception(code)
        }
    };
    Some((disturbance, share, lasting?))
}
