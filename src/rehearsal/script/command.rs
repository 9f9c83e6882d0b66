//! `command = { … }`: what somebody asks of the daemon.

use super::{Asked, upkeep};
use crate::engine::{Command, TransferTo};
use crate::quantity::cubic_metres;
use crate::site::file::Table;
use crate::site::problem::Problem;
use std::sync::Arc;

/// What can be asked, and the further keys that each takes.
const ASKED: [(&str, &[&str]); 18] = [
    ("ack", &[]),
    ("reset", &[]),
    ("shelve", &["for", "reason", "once"]),
    ("unshelve", &[]),
    ("out_of_service", &["reason"]),
    ("return", &[]),
    ("confirm", &[]),
    ("product", &["is"]),
    (
        "transfer",
        &["to", "volume", "by_volume", "tell", "stop_within"],
    ),
    ("end_transfer", &[]),
    ("note", &["tank"]),
    ("sight", &["level", "blown_down", "uncertainty", "ago"]),
    (
        "dip",
        &[
            "innage",
            "ullage",
            "water_cut",
            "density",
            "uncertainty",
            "ago",
        ],
    ),
    ("work", &["permit", "for", "hand"]),
    ("end_work", &["anyway"]),
    ("silence", &[]),
    ("test", &["level", "reads", "at", "for"]),
    ("end_test", &[]),
];
const OF_ALL: [&str; 2] = ["by", "refused"];

pub(super) fn command(table: &Table<'_>) -> Option<Asked> {
    let name = named(table)?;
    let by: Option<Arc<str>> = table.text("by").map(Into::into);
    let refused = table.boolean("refused")?;
    // Each is read, so that all that is wrong is told.
    let command = asked(table, name, by.clone().unwrap_or_default());
    by?;
    Some(Asked {
        command: command?,
        refused,
        reads: upkeep::reads(table),
        said: format!("{name} {:?}", table.text(name).unwrap_or_default()),
        place: table.place_of(name),
    })
}

/// The one thing that is asked.
fn named(table: &Table<'_>) -> Option<&'static str> {
    let mut known = ASKED.iter().filter(|(name, _)| table.has(name));
    let Some((name, takes)) = known.next() else {
        let names: Vec<&str> = ASKED.iter().map(|(name, _)| *name).collect();
        let problem = table.problem_at("by", "it is not said what is asked");
        table.report(problem.cure(format!("say one of {}", names.join(", "))));
        return None;
    };
    let mut sound = true;
    for (other, place) in table.names() {
        if other == *name || OF_ALL.contains(&other) || takes.contains(&other) {
            continue;
        }
        let is_known = ASKED
            .iter()
            .any(|(name, takes)| *name == other || takes.contains(&other));
        // Any other word was refused when the table was opened.
        if is_known {
            sound = false;
            let message = format!("`{other}` does not go with `{name}`");
            let problem = Problem::new(place, message);
            table.report(problem.cure("put each command in an [[at]] of its own"));
        }
    }
    sound.then_some(name)
}

fn asked(table: &Table<'_>, name: &'static str, by: Arc<str>) -> Option<Command> {
    match name {
        "product" => {
            let (tank, product) = (table.text("product"), required(table, "is", Table::text));
            Some(Command::ChooseProduct {
                tank: tank?.to_owned(),
                product: product?.to_owned(),
                by,
            })
        }
        "transfer" => {
            let (tank, to) = (table.text("transfer"), target(table));
            let (tell, stop_within) = (table.duration("tell"), table.duration("stop_within"));
            Some(Command::Transfer {
                tank: tank?.to_owned(),
                to: to?,
                tell: tell?,
                stop_within: stop_within?,
                by,
            })
        }
        "end_transfer" => Some(Command::EndTransfer {
            tank: table.text("end_transfer")?.to_owned(),
            by,
        }),
        "note" => Some(Command::Note {
            text: table.text("note")?.into(),
            tank: table.text("tank").map(str::to_owned),
            by,
        }),
        "confirm" => confirm(table, by),
        "sight" => upkeep::sight(table, by),
        "dip" => upkeep::dip(table, by),
        "work" => upkeep::work(table, by),
        "end_work" => upkeep::end_work(table, by),
        "silence" => upkeep::silence(table, by),
        _ => of_alarm(table, name, by),
    }
}

fn of_alarm(table: &Table<'_>, name: &'static str, by: Arc<str>) -> Option<Command> {
    let alarm = table.text(name).and_then(|text| {
        let parts = super::tank_and_code(text);
        if parts.is_none() {
            let problem = table.problem_at(
                name,
                format!("`{name}` must name a tank and an alarm's code"),
            );
            table.report(problem.cure(format!("for example {}", table.example(name))));
        }
        parts
    });
    let reason = || table.text("reason").map(Arc::from);
    if name == "test" {
        let test = upkeep::test_value(table);
        let (tank, code) = alarm?;
        return Some(Command::TestAlarm {
            tank,
            code,
            test: test?,
            by,
        });
    }
    Some(match name {
        "ack" => {
            let (tank, code) = alarm?;
            Command::Acknowledge {
                tank,
                code,
                by,
                activation: None,
            }
        }
        "reset" => {
            let (tank, code) = alarm?;
            Command::Reset { tank, code, by }
        }
        "shelve" => {
            let time = required(table, "for", Table::duration);
            let reason = required(table, "reason", Table::text);
            let once = table.boolean("once")?;
            let (tank, code) = alarm?;
            Command::Shelve {
                tank,
                code,
                by,
                time: time?,
                reason: reason?.into(),
                once,
            }
        }
        "unshelve" => {
            let (tank, code) = alarm?;
            Command::Unshelve { tank, code, by }
        }
        "out_of_service" => {
            let (tank, code) = alarm?;
            Command::OutOfService {
                tank,
                code,
                by,
                reason: reason(),
            }
        }
        "end_test" => {
            let (tank, code) = alarm?;
            Command::EndTestAlarm { tank, code, by }
        }
        _ => {
            let (tank, code) = alarm?;
            Command::Return { tank, code, by }
        }
    })
}

fn confirm(table: &Table<'_>, by: Arc<str>) -> Option<Command> {
    let parts = table.text("confirm")?.rsplit_once(' ');
    match parts.map(|(tank, what)| (tank.trim().to_owned(), what)) {
        Some((tank, "level")) => Some(Command::ConfirmLevel { tank, by }),
        Some((tank, "leg-drained")) => Some(Command::ConfirmLegDrained { tank, by }),
        _ => {
            let problem = table.problem_at(
                "confirm",
                "`confirm` must name a tank and what is confirmed",
            );
            table.report(
                problem.cure("for example \"clearwell level\" or \"degasser leg-drained\""),
            );
            None
        }
    }
}

fn target(table: &Table<'_>) -> Option<TransferTo> {
    let targets = ["to", "volume", "by_volume"].map(|key| table.has(key));
    if targets.iter().filter(|there| **there).count() != 1 {
        let problem = table.problem_at("transfer", "it must be said once where the transfer ends");
        table.report(problem.cure("give one of `to`, `volume` and `by_volume`"));
        return None;
    }
    let level = table.length("to").map(TransferTo::Level);
    let cubic = |key| table.si(key).map(cubic_metres);
    level
        .or_else(|| cubic("volume").map(TransferTo::Volume))
        .or_else(|| cubic("by_volume").map(TransferTo::ByVolume))
}

pub(super) fn required<'d, T>(
    table: &Table<'d>,
    key: &'static str,
    read: impl Fn(&Table<'d>, &'static str) -> Option<T>,
) -> Option<T> {
    if !table.has(key) {
        let problem = table.problem_at("by", format!("`{key}` is missing in the command"));
        table.report(problem.cure(format!("add {}", table.example(key))));
        return None;
    }
    read(table, key)
}
