//! `[[tank.alarm]]` and `[tank.measurement_failed]`: conditions that can come true, with their records.

use super::limit::Judged;
use super::names::distinct;
use super::ranges::difference_of;
use crate::engine::plan::{AlarmPlan, Limit, OnBad, Priority, Record, Watch};
use crate::quantity::{Dimension, Unit, Written};
use crate::site::file::Table;
use std::sync::Arc;
use std::time::Duration;

/// The code of the alarm that every tank has: its level cannot be trusted.
pub const MEASUREMENT: &str = "MEASUREMENT";

/// All alarms of a tank; the last is that of the measurement.
pub fn read(table: &Table<'_>, tank: Option<&Judged<'_>>) -> Option<Vec<AlarmPlan>> {
    let tables = table.tables("alarm");
    let codes = tables
        .iter()
        .filter_map(|alarm| Some((alarm.text("code")?, alarm.place_of("code"))));
    distinct(table.document(), "alarm code", codes);
    for alarm in tables.iter().filter(|alarm| {
        alarm
            .text("code")
            .is_some_and(|code| code.eq_ignore_ascii_case(MEASUREMENT))
    }) {
        let problem = alarm.problem_at(
            "code",
            format!("the code {MEASUREMENT} is taken by the alarm that every tank has"),
        );
        alarm.report(
            problem.cure("choose another code; that alarm is set under [tank.measurement_failed]"),
        );
    }
    let alarms: Vec<Option<AlarmPlan>> = tables.iter().map(|alarm| read_one(alarm, tank)).collect();
    let failed = table.table("measurement_failed");
    let mut alarms = alarms.into_iter().collect::<Option<Vec<_>>>()?;
    alarms.push(measurement(failed.as_ref(), &alarms)?);
    Some(alarms)
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
        unit: None,
        record: Arc::new(Record {
            cause: Some("Transmitter, its lines or its link failed".to_owned()),
            consequence: Some("Level unknown: its other alarms may be missed".to_owned()),
            response: Some("Read the level at the tank; see the reasons of the reading".to_owned()),
            ..Record::default()
        }),
    })
}

fn read_one(table: &Table<'_>, tank: Option<&Judged<'_>>) -> Option<AlarmPlan> {
    let watch = table
        .choice("watch")
        .map(|word| (watch(word), dimension(word)));
    if table.boolean("latch") == Some(true) {
        table.report(
            table
                .problem_at("latch", "latch = true is not supported yet")
                .cure("take it out, or write latch = false"),
        );
    }
    let (on_delay, off_delay) = (table.duration("on_delay"), table.duration("off_delay"));
    let priority = table.choice("priority").map(priority);
    let on_bad = table.choice("on_bad").map(|word| match word {
        "annunciate" => OnBad::Annunciate,
        "clear" => OnBad::Clear,
        _ => OnBad::Hold,
    });
    let record = read_record(table);
    let code = table.text("code");
    let (watch, dimension) = watch?;
    let (limit, unit) = read_limit(table, dimension)?;
    let deadband = match table.has("deadband") {
        true => table.quantity_of("deadband", difference_of(dimension))?.si,
        false => 0.0,
    };
    let alarm = AlarmPlan {
        code: code?.into(),
        watch,
        limit,
        deadband,
        on_delay: on_delay?,
        off_delay: off_delay?,
        priority: priority?,
        on_bad: on_bad?,
        unit: Some(unit),
        record: Arc::new(record),
    };
    if let Some(tank) = tank {
        tank.check(table, &alarm);
    }
    Some(alarm)
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
        _ => Watch::Level,
    }
}

fn dimension(word: &str) -> Dimension {
    match word {
        "fill" => Dimension::Ratio,
        "volume" | "ullage" => Dimension::Volume,
        "mass" => Dimension::Mass,
        "density" => Dimension::Density,
        "temperature" => Dimension::Temperature,
        "rate" => Dimension::LevelRate,
        "net_flow" => Dimension::Flow,
        _ => Dimension::Length,
    }
}

fn priority(word: &str) -> Priority {
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
