//! `[[tank.alarm]]` and `[tank.measurement_failed]`: conditions that can come true, with their records.

use super::hookup::{Extent, shown};
use super::names::distinct;
use super::ranges::difference_of;
use super::sight::Sight;
use crate::engine::plan::{
    AlarmPlan, Limit, LiquidPlan, Marks, OnBad, Priority, Record, Source, Watch,
};
use crate::physics::liquid::Liquid;
use crate::physics::vessel::Vessel;
use crate::quantity::{Dimension, Length, Written, cubic_metres, metres};
use crate::site::file::Table;
use std::sync::Arc;
use std::time::Duration;

/// The code of the alarm that every tank has: its level cannot be trusted.
pub const MEASUREMENT: &str = "MEASUREMENT";

/// What an alarm's limit is judged against.
#[derive(Debug)]
pub struct Tank<'a> {
    pub vessel: &'a Vessel,
    pub extent: Extent,
    pub marks: &'a Marks,
    pub zero: Length,
    pub sight: Option<Sight>,
    pub liquid: Option<&'a LiquidPlan>,
}

/// All alarms of a tank; the last is that of the measurement.
pub fn read(table: &Table<'_>, tank: Option<&Tank<'_>>) -> Option<Vec<AlarmPlan>> {
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

fn read_one(table: &Table<'_>, tank: Option<&Tank<'_>>) -> Option<AlarmPlan> {
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

fn read_limit(
    table: &Table<'_>,
    dimension: Dimension,
) -> Option<(Limit, &'static crate::quantity::Unit)> {
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

/// A level that a limit stands for, and whether the alarm is active above it.
struct Threshold {
    level: Length,
    active_above: bool,
}

/// Rounding on the way from volume to level, m.
const ROUNDING_M: f64 = 1e-6;

impl Tank<'_> {
    /// A limit that nothing can ever decide is an error.
    fn check(&self, table: &Table<'_>, alarm: &AlarmPlan) {
        self.check_watched(table, alarm);
        let Some(thresholds) = self.thresholds(table, alarm) else {
            return;
        };
        let key = limit_key(alarm);
        for threshold in &thresholds {
            if let Some((why, cure)) = self.undecidable(threshold) {
                let problem =
                    table.problem_at(key, format!("{} can never come true: {why}", alarm.code));
                table.report(problem.cure(cure));
                return;
            }
        }
        if alarm.watch == Watch::Level {
            self.check_deadband(table, alarm);
        }
    }

    /// What is watched must be able to change.
    fn check_watched(&self, table: &Table<'_>, alarm: &AlarmPlan) {
        let Some(liquid) = self.liquid else { return };
        let is_read = |source: &Source| matches!(source, Source::Tags(_) | Source::Ambient);
        let (never, cure) = match alarm.watch {
            Watch::Temperature if !is_read(&liquid.temperature) => (
                "the liquid's temperature is a fixed quantity",
                "name a transmitter in `temperature` of [tank.liquid]",
            ),
            Watch::Density if matches!(liquid.liquid, Liquid::Constant { .. }) => (
                "the liquid's density is constant",
                "take the alarm out, or give a liquid whose density changes",
            ),
            _ => return,
        };
        table.report(
            table
                .problem_at("watch", format!("{} can never change: {never}", alarm.code))
                .cure(cure),
        );
    }

    fn undecidable(&self, threshold: &Threshold) -> Option<(String, String)> {
        let level = threshold.level;
        let sight = self.sight.unwrap_or(Sight {
            lowest: self.extent.bottom,
            highest: self.extent.top,
            lowest_is_tap: false,
            highest_is_tap: false,
        });
        if threshold.active_above && level.value > sight.highest.value + ROUNDING_M {
            let end = if sight.highest_is_tap {
                "the upper tap, above which nothing is seen, is"
            } else {
                "the vessel's top is"
            };
            return Some((
                format!(
                    "its limit is at a level of {}, {end} at {}",
                    shown(level),
                    shown(sight.highest)
                ),
                format!(
                    "set the limit at or below that of {}, or mend the elevation that is wrong",
                    shown(sight.highest)
                ),
            ));
        }
        if !threshold.active_above && level.value < sight.lowest.value - ROUNDING_M {
            let end = if sight.lowest_is_tap {
                "the lower tap, below which nothing is seen, is"
            } else {
                "the vessel's bottom is"
            };
            return Some((
                format!(
                    "its limit is at a level of {}, {end} at {}",
                    shown(level),
                    shown(sight.lowest)
                ),
                format!(
                    "set the limit at or above that of {}, or mend the elevation that is wrong",
                    shown(sight.lowest)
                ),
            ));
        }
        None
    }

    /// The levels that the limits stand for; none where the watched quantity is no measure of level.
    fn thresholds(&self, table: &Table<'_>, alarm: &AlarmPlan) -> Option<Vec<Threshold>> {
        let of = |value: f64, active_above: bool| -> Option<Threshold> {
            let level = self.level_of(table, alarm, value)?;
            // little ullage is a high level
            Some(Threshold {
                level,
                active_above: active_above != (alarm.watch == Watch::Ullage),
            })
        };
        Some(match alarm.limit {
            Limit::Above(limit) => vec![of(limit, true)?],
            Limit::Below(limit) => vec![of(limit, false)?],
            Limit::Outside(low, high) => vec![of(low, false)?, of(high, true)?],
            Limit::BadQuality => return None,
        })
    }

    fn level_of(&self, table: &Table<'_>, alarm: &AlarmPlan, value: f64) -> Option<Length> {
        let volume_at = |level: Length| self.vessel.volume(level + self.zero).value;
        let volume_m3 = match alarm.watch {
            Watch::Level => return Some(metres(value)),
            Watch::Volume => value,
            Watch::Ullage => {
                volume_at(self.mark(table, alarm, "overflow", self.marks.overflow)?) - value
            }
            Watch::Fill => {
                let low = self.mark(table, alarm, "working_low", self.marks.working_low);
                let high = self.mark(table, alarm, "working_high", self.marks.working_high);
                let (low_m3, high_m3) = (volume_at(low?), volume_at(high?));
                // fill = (V − V(working_low)) / (V(working_high) − V(working_low))
                low_m3 + value * (high_m3 - low_m3)
            }
            _ => return None,
        };
        let (least_m3, most_m3) = (
            self.vessel.volume(self.vessel.bottom()).value,
            self.vessel.capacity().value,
        );
        if volume_m3 < least_m3 || volume_m3 > most_m3 * (1.0 + 1e-9) {
            let message = format!(
                "the limit of {} is a volume of {volume_m3:.3} m3, which the vessel cannot hold",
                alarm.code
            );
            table.report(
                table
                    .problem_at(limit_key(alarm), message)
                    .cure(format!("it holds from {least_m3:.3} m3 to {most_m3:.3} m3")),
            );
            return None;
        }
        Some(self.vessel.height(cubic_metres(volume_m3)) - self.zero)
    }

    fn mark(
        &self,
        table: &Table<'_>,
        alarm: &AlarmPlan,
        name: &str,
        mark: Option<Length>,
    ) -> Option<Length> {
        if mark.is_none() {
            let message = format!(
                "{} counts from the mark `{name}`, which is not given",
                alarm.code
            );
            table.report(
                table
                    .problem_at("watch", message)
                    .cure(format!("add `{name}` to [tank.marks], or watch the level")),
            );
        }
        mark
    }

    /// A deadband that reaches past everything that is seen would never let the alarm clear.
    fn check_deadband(&self, table: &Table<'_>, alarm: &AlarmPlan) {
        let never = match alarm.limit {
            Limit::Above(limit) => {
                limit - alarm.deadband
                    <= self
                        .sight
                        .map_or(self.extent.bottom, |sight| sight.lowest)
                        .value
            }
            Limit::Below(limit) => {
                limit + alarm.deadband
                    >= self
                        .sight
                        .map_or(self.extent.top, |sight| sight.highest)
                        .value
            }
            _ => false,
        };
        if never && alarm.deadband > 0.0 {
            let message = format!(
                "{} can never clear: its deadband reaches past everything that is seen",
                alarm.code
            );
            table.report(
                table
                    .problem_at("deadband", message)
                    .cure("a deadband is a little more than the noise: deadband = \"0.05 m\""),
            );
        }
    }
}

fn limit_key(alarm: &AlarmPlan) -> &'static str {
    match alarm.limit {
        Limit::Above(_) => "above",
        Limit::Below(_) => "below",
        _ => "outside",
    }
}
