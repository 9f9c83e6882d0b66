//! `[[tank.alarm]]` and `[tank.measurement_failed]`: conditions that can come true, with their records.

use super::contact::Contacts;
use super::limit::Judged;
use super::names::distinct;
use super::ranges::difference_of;
use crate::engine::ContactId;
use crate::engine::plan::{AlarmPlan, Limit, OnBad, Priority, Record, Suppress, Watch};
use crate::quantity::{Dimension, Unit, Written};
use crate::site::file::Table;
use std::sync::Arc;
use std::time::Duration;

/// The code of the alarm that every tank has: its level cannot be trusted.
pub const MEASUREMENT: &str = "MEASUREMENT";

/// The code of the alarm for a transfer that was not stopped in time.
pub const TRANSFER: &str = "TRANSFER";

/// The longest time on the shelf where the site file says nothing (common practice, no source).
pub const SHELVE_AT_MOST: Duration = Duration::from_secs(12 * 3600);

/// All alarms of a tank; the last is that of the measurement.
pub fn read(
    table: &Table<'_>,
    contacts: &Contacts<'_>,
    tank: Option<&Judged<'_>>,
) -> Option<Vec<AlarmPlan>> {
    let tables = table.tables("alarm");
    let codes = tables
        .iter()
        .filter_map(|alarm| Some((alarm.text("code")?, alarm.place_of("code"))));
    distinct(table.document(), "alarm code", codes);
    for alarm in &tables {
        refuse_taken_code(alarm);
    }
    let alarms: Vec<Option<AlarmPlan>> = tables
        .iter()
        .map(|alarm| read_one(alarm, contacts, tank))
        .collect();
    let failed = table.table("measurement_failed");
    let mut alarms = alarms.into_iter().collect::<Option<Vec<_>>>()?;
    let measurement = measurement(failed.as_ref(), &alarms)?;
    if let Some(transfer) = table.table("transfer") {
        alarms.push(transfer_alarm(&transfer)?);
    }
    alarms.push(measurement);
    Some(alarms)
}

fn transfer_alarm(table: &Table<'_>) -> Option<AlarmPlan> {
    let priority = priority(table.choice("priority")?);
    Some(AlarmPlan {
        code: TRANSFER.into(),
        watch: Watch::Transfer,
        limit: Limit::Overdue,
        deadband: 0.0,
        on_delay: Duration::ZERO,
        off_delay: Duration::ZERO,
        priority,
        on_bad: OnBad::Hold,
        latch: false,
        re_alarm: None,
        shelve_at_most: (priority != Priority::Highest).then_some(SHELVE_AT_MOST),
        suppress: None,
        unit: None,
        record: Arc::new(Record {
            cause: Some("The flow was not stopped at the target of the transfer".to_owned()),
            consequence: Some("Too much is filled or drawn".to_owned()),
            response: Some("Stop the pump or close the valve at the tank".to_owned()),
            ..Record::default()
        }),
    })
}

/// Codes of alarms that the program makes itself.
fn refuse_taken_code(alarm: &Table<'_>) {
    let taken = [
        (MEASUREMENT, "every tank has", "measurement_failed"),
        (TRANSFER, "transfers have", "transfer"),
    ];
    let code = alarm.text("code").unwrap_or_default();
    for (own, owner, table) in taken {
        if code.eq_ignore_ascii_case(own) {
            let message = format!("the code {own} is taken by the alarm that {owner}");
            let problem = alarm.problem_at("code", message);
            alarm.report(problem.cure(format!(
                "choose another code; that alarm is set under [tank.{table}]"
            )));
        }
    }
}

/// The shortest time that an operator is given.
pub fn shortest_response(alarms: &[AlarmPlan]) -> Option<Duration> {
    alarms
        .iter()
        .filter_map(|alarm| alarm.record.respond_within)
        .min()
}

fn measurement(table: Option<&Table<'_>>, others: &[AlarmPlan]) -> Option<AlarmPlan> {
    let of_level = |alarm: &&AlarmPlan| {
        matches!(
            alarm.watch,
            Watch::Level | Watch::Fill | Watch::Volume | Watch::Ullage | Watch::Mass
        )
    };
    let highest = others
        .iter()
        .filter(of_level)
        .map(|alarm| alarm.priority)
        .max()
        .unwrap_or(Priority::Medium);
    let priority = match table.filter(|table| table.has("priority")) {
        Some(table) => table.choice("priority").map(priority)?,
        None => highest,
    };
    Some(AlarmPlan {
        code: MEASUREMENT.into(),
        watch: Watch::Measurement,
        limit: Limit::BadQuality,
        deadband: 0.0,
        on_delay: match table {
            Some(table) => table.duration("on_delay")?,
            None => Duration::ZERO,
        },
        off_delay: Duration::ZERO,
        priority,
        on_bad: OnBad::Hold,
        latch: false,
        re_alarm: None,
        shelve_at_most: (priority != Priority::Highest).then_some(SHELVE_AT_MOST),
        suppress: None,
        unit: None,
        record: Arc::new(Record {
            cause: Some("Transmitter, its lines or its link failed".to_owned()),
            consequence: Some("Level unknown: its other alarms may be missed".to_owned()),
            response: Some("Read the level at the tank; see the reasons of the reading".to_owned()),
            ..Record::default()
        }),
    })
}

fn read_one(
    table: &Table<'_>,
    contacts: &Contacts<'_>,
    tank: Option<&Judged<'_>>,
) -> Option<AlarmPlan> {
    let watch = read_watch(table, contacts);
    let latch = table.boolean("latch");
    let re_alarm = table.duration("re_alarm");
    let suppress = read_suppress(table, contacts);
    let (on_delay, off_delay) = (table.duration("on_delay"), table.duration("off_delay"));
    let priority = table.choice("priority").map(priority);
    let on_bad = table.choice("on_bad").map(|word| match word {
        "annunciate" => OnBad::Annunciate,
        "clear" => OnBad::Clear,
        _ => OnBad::Hold,
    });
    let record = read_record(table);
    let code = table.text("code");
    let (watch, limit, unit, deadband) = match watch? {
        Watched::Contact(contact) => (Watch::Contact(contact), read_state(table)?, None, 0.0),
        Watched::Quantity(watch, dimension) => {
            let (limit, unit) = read_limit(table, dimension)?;
            let deadband = match table.has("deadband") {
                true => table.quantity_of("deadband", difference_of(dimension))?.si,
                false => 0.0,
            };
            (watch, limit, Some(unit), deadband)
        }
    };
    let shelve_at_most = read_shelve(table, priority?)?;
    let alarm = AlarmPlan {
        code: code?.into(),
        watch,
        limit,
        deadband,
        on_delay: on_delay?,
        off_delay: off_delay?,
        priority: priority?,
        on_bad: on_bad?,
        latch: latch?,
        re_alarm,
        shelve_at_most,
        suppress: suppress?,
        unit,
        record: Arc::new(record),
    };
    if let Some(tank) = tank {
        tank.check(table, &alarm);
    }
    Some(alarm)
}

/// What an alarm looks at.
enum Watched {
    Quantity(Watch, Dimension),
    Contact(ContactId),
}

/// A quantity of the tank by its word, or else a contact by its tag.
fn read_watch(table: &Table<'_>, contacts: &Contacts<'_>) -> Option<Watched> {
    let text = table.text("watch")?;
    let is_word = table.is_word("watch", text);
    if let Some(contact) = contacts.find(text).filter(|_| !is_word) {
        return Some(Watched::Contact(contact));
    }
    if let Some(near) = contacts.nearest(text).filter(|_| !is_word) {
        let problem = table.problem_at("watch", format!("there is no contact \"{text}\""));
        table.report(problem.cure(format!("did you mean \"{near}\"?")));
        return None;
    }
    let word = table.choice("watch")?;
    if table.has("is") {
        let problem = table.problem_at("is", "`is` belongs to an alarm that watches a contact");
        table.report(problem.cure("take it out, or name a contact's tag in `watch`"));
    }
    Some(Watched::Quantity(watch(word), dimension(word)))
}

/// The state of a contact that is the alarm.
fn read_state(table: &Table<'_>) -> Option<Limit> {
    for name in ["above", "below", "outside", "deadband"] {
        if table.has(name) {
            let problem =
                table.problem_at(name, format!("a contact has no `{name}`: it is on or off"));
            table.report(problem.cure("write is = \"on\" or is = \"off\" instead"));
            return None;
        }
    }
    if !table.has("is") {
        let problem = crate::site::Problem::new(
            table.place(),
            "nothing says which state of the contact is the alarm",
        );
        table.report(problem.cure("add is = \"on\" or is = \"off\""));
        return None;
    }
    table.choice("is").map(|word| Limit::Is(word == "on"))
}

/// The longest time on the shelf; the highest priority only where the site file says so.
fn read_shelve(table: &Table<'_>, priority: Priority) -> Option<Option<Duration>> {
    if table.has("shelve") {
        return table.table("shelve")?.duration("at_most").map(Some);
    }
    Some((priority != Priority::Highest).then_some(SHELVE_AT_MOST))
}

fn read_suppress(table: &Table<'_>, contacts: &Contacts<'_>) -> Option<Option<Suppress>> {
    if !table.has("suppress") {
        return Some(None);
    }
    let rule = table.table("suppress")?;
    let (when, hold) = (contacts.conditions(&rule, "while"), rule.duration("hold"));
    let at_most = rule.duration("at_most");
    Some(Some(Suppress {
        when: when?,
        hold: hold?,
        at_most,
    }))
}

fn watch(word: &str) -> Watch {
    match word {
        "fill" => Watch::Fill,
        "volume" => Watch::Volume,
        "ullage" => Watch::Ullage,
        "mass" => Watch::Mass,
        "density" => Watch::Density,
        "temperature" => Watch::Temperature,
        "rate" => Watch::Rate,
        "net_flow" => Watch::NetFlow,
        "uncertainty" => Watch::Uncertainty,
        "time_to_overflow" => Watch::TimeToOverflow,
        _ => Watch::Level,
    }
}

fn dimension(word: &str) -> Dimension {
    match word {
        "fill" => Dimension::Ratio,
        "time_to_overflow" => Dimension::Time,
        "volume" | "ullage" => Dimension::Volume,
        "mass" => Dimension::Mass,
        "density" => Dimension::Density,
        "temperature" => Dimension::Temperature,
        "rate" => Dimension::LevelRate,
        "net_flow" => Dimension::Flow,
        _ => Dimension::Length,
    }
}

pub fn priority(word: &str) -> Priority {
    match word {
        "low" => Priority::Low,
        "high" => Priority::High,
        "highest" => Priority::Highest,
        _ => Priority::Medium,
    }
}

fn read_record(table: &Table<'_>) -> Record {
    let text = |name| table.text(name).map(str::to_owned);
    Record {
        cause: text("cause"),
        consequence: text("consequence"),
        response: text("response"),
        respond_within: table.duration("respond_within"),
        basis: text("basis"),
        class: text("class"),
        test_every: table.duration("test_every"),
    }
}

fn read_limit(table: &Table<'_>, dimension: Dimension) -> Option<(Limit, &'static Unit)> {
    let named: Vec<&str> = ["above", "below", "outside"]
        .into_iter()
        .filter(|name| table.has(name))
        .collect();
    match named[..] {
        ["above"] => table
            .quantity_of("above", dimension)
            .map(|limit| (Limit::Above(limit.si), limit.unit)),
        ["below"] => table
            .quantity_of("below", dimension)
            .map(|limit| (Limit::Below(limit.si), limit.unit)),
        [_] => {
            let (low, high): (Written, Written) = table.range("outside", dimension)?;
            Some((Limit::Outside(low.si, high.si), high.unit))
        }
        [] => {
            let problem = crate::site::Problem::new(table.place(), "the alarm has no limit");
            table.report(problem.cure(format!(
                "add one of above = \"{0}\", below = \"{0}\", outside = [\"…\", \"…\"]",
                dimension.example()
            )));
            None
        }
        [_, second, ..] => {
            let problem = table.problem_at(second, "an alarm has one limit only");
            table.report(
                problem.cure(
                    "keep one of `above`, `below` and `outside`; make two alarms of two limits",
                ),
            );
            None
        }
    }
}
