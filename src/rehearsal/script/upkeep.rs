//! What people do to keep the readings true: entries, work, the horn, live tests.

use super::command::required;
use crate::engine::Command;
use crate::engine::command::{Looked, NewEntry, Permit, SeenAt, Surface, TestValue, Value};
use crate::quantity::{Dimension, Written, kilograms_per_cubic_metre, parse};
use crate::site::file::Table;
use std::sync::Arc;

/// The word for all places.
const EVERYWHERE: &str = "everywhere";
/// What a transmitter can read.
const READ: [Dimension; 6] = [
    Dimension::Pressure,
    Dimension::Temperature,
    Dimension::Density,
    Dimension::Flow,
    Dimension::Length,
    Dimension::Ratio,
];

pub(super) fn sight(table: &Table<'_>, by: Arc<str>) -> Option<Command> {
    let level = required(table, "level", Table::length);
    let (seen, blown_down) = (seen(table), table.boolean("blown_down")?);
    let looked = Looked::Sight {
        level: level?,
        blown_down,
    };
    enter(table, "sight", looked, seen, by)
}

pub(super) fn dip(table: &Table<'_>, by: Arc<str>) -> Option<Command> {
    if table.has("innage") == table.has("ullage") {
        let problem = table.problem_at("dip", "it must be said once where the tape met the liquid");
        table.report(problem.cure("give one of `innage` and `ullage`"));
        return None;
    }
    let innage = table.length("innage").map(Surface::Innage);
    let surface = innage.or_else(|| table.length("ullage").map(Surface::Ullage));
    let looked = Looked::Dip {
        surface: surface?,
        water_cut: table.length("water_cut"),
        density: table.si("density").map(kilograms_per_cubic_metre),
    };
    enter(table, "dip", looked, seen(table), by)
}

fn enter(
    table: &Table<'_>,
    name: &'static str,
    looked: Looked,
    seen: SeenAt,
    by: Arc<str>,
) -> Option<Command> {
    Some(Command::Enter {
        tank: table.text(name)?.to_owned(),
        entry: NewEntry {
            looked,
            seen,
            uncertainty: table.length("uncertainty"),
        },
        reader: None,
        by,
    })
}

fn seen(table: &Table<'_>) -> SeenAt {
    table.duration("ago").map_or(SeenAt::Now, SeenAt::Ago)
}

pub(super) fn work(table: &Table<'_>, by: Arc<str>) -> Option<Command> {
    let permit = required(table, "permit", Table::text);
    let time = required(table, "for", Table::duration);
    let hand = match table.has("hand") {
        true => Some(read(table, "hand")?.si),
        false => None,
    };
    Some(Command::Work {
        tag: table.text("work")?.to_owned(),
        permit: Permit {
            number: permit?.into(),
            time: time?,
            hand,
        },
        by,
    })
}

pub(super) fn end_work(table: &Table<'_>, by: Arc<str>) -> Option<Command> {
    Some(Command::EndWork {
        tag: table.text("end_work")?.to_owned(),
        anyway: table.boolean("anyway")?,
        by,
    })
}

pub(super) fn silence(table: &Table<'_>, by: Arc<str>) -> Option<Command> {
    let place = table.text("silence")?;
    Some(Command::Silence {
        place: (place != EVERYWHERE).then(|| place.into()),
        by,
    })
}

/// What is put in for a live test.
pub(super) fn test_value(table: &Table<'_>) -> Option<TestValue> {
    if table.has("level") == table.has("reads") {
        let problem = table.problem_at("test", "it must be said once what is put in");
        table.report(problem.cure("give one of `level` and `reads`"));
        return None;
    }
    let value = match table.has("level") {
        true => Value::Level(table.length("level")?),
        false => Value::Reads(read(table, "reads")?.si),
    };
    let time = required(table, "for", Table::duration);
    Some(TestValue {
        at: table.text("at").map(str::to_owned),
        value,
        time: time?,
    })
}

/// What a value that stands in for a transmitter's is a quantity of.
pub(super) fn reads(table: &Table<'_>) -> Option<Dimension> {
    let key = ["hand", "reads"].into_iter().find(|key| table.has(key))?;
    let text = table.text(key)?;
    let dimension = |dimension: &&Dimension| parse(text, **dimension).is_ok();
    READ.iter().find(dimension).copied()
}

/// A quantity of whatever the transmitter reads; which, is held against the site later.
fn read(table: &Table<'_>, key: &'static str) -> Option<Written> {
    let text = table.text(key)?;
    let found = READ
        .iter()
        .find_map(|dimension| parse(text, *dimension).ok());
    match found {
        Some(written) if written.reference.is_none() => return Some(written),
        Some(_) => {
            let problem = table.problem_at(
                key,
                format!("`{key}` stands in for what the transmitter itself reads"),
            );
            table.report(problem.cure("leave (g) and (a) out"));
        }
        None => {
            let problem = table.problem_at(
                key,
                format!("\"{text}\" is nothing that a transmitter reads"),
            );
            table.report(problem.cure(format!("for example {}", table.example(key))));
        }
    }
    None
}
