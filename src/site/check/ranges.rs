//! A transmitter's number: unit, scale, set range, and how well it tells it.

use crate::engine::LinkId;
use crate::engine::plan::{LinearScale, LoopCurrent, Measures, Reads, TransmitterPlan};
use crate::quantity::unit::Scale;
use crate::quantity::{Dimension, Reference, Written, parse};
use crate::site::file::Table;
use crate::site::settings::NumberType;
use std::time::Duration;

/// The plan but for link and polling, which the caller knows.
pub fn read(
    table: &Table<'_>,
    tag: &str,
    reads: Dimension,
    number: Option<NumberType>,
    measures: Option<Measures>,
) -> Option<TransmitterPlan> {
    let difference = difference_of(reads);
    // The unit's own problems are told where it is asked what it measures.
    let unit = table
        .text("unit")
        .and_then(|text| crate::quantity::parse_unit(text, reads).ok());
    let (scale, loop_current) = read_scale(table);
    let span = read_range(table, "span", reads, measures);
    let limits = read_range(table, "limits", reads, measures);
    if let (Some((low, high)), Some((least, most))) = (span, limits)
        && (low < least || high > most)
    {
        let problem = table
            .problem_at("span", "`span` goes beyond what the sensor can tell")
            .related(table.place_of("limits"), "its limits");
        table.report(problem.cure("check both: `span` is the range it is set to, `limits` what the sensor can stand and tell"));
    }
    let share = Share {
        table,
        span: span.map(|(low, high)| high - low),
        difference,
    };
    let accuracy = table
        .has("accuracy")
        .then(|| share.read("accuracy"))
        .flatten();
    let temperature_effect = share.per("temperature_effect", Dimension::TemperatureDifference);
    let stability = share.per("stability", Dimension::Time);
    Some(TransmitterPlan {
        tag: tag.into(),
        link: LinkId(0),
        poll_every: Duration::ZERO,
        reads: match reads {
            Dimension::Temperature => Reads::Temperature,
            Dimension::Density => Reads::Density,
            Dimension::Flow => Reads::Flow,
            Dimension::Length | Dimension::Ratio => Reads::Level,
            _ => Reads::Pressure(measures.unwrap_or(Measures::Differential)),
        },
        unit: unit?.0,
        scale,
        loop_current,
        span,
        limits,
        accuracy,
        temperature_effect,
        stability,
        calibrated: table.date("calibrated"),
        since_calibration: None,
        zero: difference_at(table, "zero", difference).unwrap_or(0.0),
        damping: table.duration("damping")?,
        resolution: difference_at(table, "resolution", difference),
        frozen_after: None,
        failed: failed(table, number),
        uncertain_after: Duration::ZERO,
        bad_after: Duration::ZERO,
    })
}

/// The dimension of how far two values are apart.
pub fn difference_of(dimension: Dimension) -> Dimension {
    match dimension {
        Dimension::Temperature => Dimension::TemperatureDifference,
        other => other,
    }
}

fn difference_at(table: &Table<'_>, name: &'static str, difference: Dimension) -> Option<f64> {
    let written = table.quantity_of(name, difference)?;
    is_linear(table, name, &written).then_some(written.si)
}

/// How far two densities are apart cannot be told in degAPI.
fn is_linear(table: &Table<'_>, name: &str, written: &Written) -> bool {
    let linear = written.unit.scale == Scale::Linear;
    if !linear {
        let problem = table.problem_at(
            name,
            format!("`{name}` cannot be a difference in {}", written.unit.symbol),
        );
        table.report(problem.cure("give it in kg/m3"));
    }
    linear
}

fn read_range(
    table: &Table<'_>,
    name: &'static str,
    reads: Dimension,
    measures: Option<Measures>,
) -> Option<(f64, f64)> {
    let (low, high) = table.range(name, reads)?;
    let absolute = measures == Some(Measures::Absolute);
    let says = [low.reference, high.reference];
    if measures.is_some()
        && says.contains(&Some(if absolute {
            Reference::Gauge
        } else {
            Reference::Absolute
        }))
    {
        let problem = table.problem_at(
            name,
            format!("`{name}` does not count from what the transmitter measures from"),
        );
        table.report(problem.cure("give it in the transmitter's own unit, without (g) or (a)"));
    }
    Some((low.si, high.si))
}

fn read_scale(table: &Table<'_>) -> (Option<LinearScale>, Option<LoopCurrent>) {
    let Some(scale) = table.table("scale") else {
        return (None, None);
    };
    let (raw, value) = (pair(&scale, "raw"), pair(&scale, "value"));
    let is_loop = scale.choice("signal").is_some();
    let live_zero = scale.boolean("live_zero").unwrap_or(true);
    if scale.has("live_zero") && !scale.has("signal") {
        let problem = scale.problem_at("live_zero", "`live_zero` belongs to a loop current only");
        scale.report(problem.cure("add signal = \"4-20 mA\", or take it out"));
    }
    let loop_current = raw
        .filter(|_| is_loop)
        .map(|raw| LoopCurrent { raw, live_zero });
    let linear = raw
        .zip(value)
        .map(|(raw, value)| LinearScale { raw, value });
    (linear, loop_current)
}

fn pair(scale: &Table<'_>, name: &'static str) -> Option<(f64, f64)> {
    let numbers = scale.numbers(name);
    match numbers[..] {
        [first, second] if (first - second).abs() > 0.0 => return Some((first, second)),
        [_, _] => {
            let problem =
                scale.problem_at(name, format!("the two numbers of `{name}` are the same"));
            scale.report(
                problem.cure("give the numbers at both ends of the range, for example [4.0, 20.0]"),
            );
        }
        _ if scale.is_list(name) && scale.count(name) != 2 => {
            let problem = scale.problem_at(name, format!("`{name}` must hold two numbers"));
            scale.report(problem.cure("for example [4.0, 20.0]"));
        }
        _ => {}
    }
    None
}

/// Keys that are a share of the span, or a quantity of what is read.
struct Share<'a, 'd> {
    table: &'a Table<'d>,
    span: Option<f64>,
    difference: Dimension,
}

impl Share<'_, '_> {
    fn read(&self, name: &'static str) -> Option<f64> {
        let text = self.table.text(name)?;
        let is_share = text.ends_with(['%']) || text.ends_with("ppm");
        let written = self.table.quantity_of(
            name,
            if is_share {
                Dimension::Ratio
            } else {
                self.difference
            },
        )?;
        self.value(name, &written)
    }

    fn value(&self, name: &str, written: &Written) -> Option<f64> {
        if written.unit.dimension != Dimension::Ratio {
            return is_linear(self.table, name, written).then_some(written.si);
        }
        if self.span.is_none() && !self.table.has("span") {
            let problem = self.table.problem_at(
                name,
                format!("`{name}` is a share of the span, but there is no `span`"),
            );
            self.table.report(problem.cure(format!(
                "add `span`, or give `{name}` as a quantity of what is read"
            )));
        }
        Some(written.si * self.span?)
    }

    /// "0.05 % / 10 K": a share per something, in SI.
    fn per(&self, name: &'static str, dimension: Dimension) -> Option<f64> {
        let text = self.table.text(name)?;
        let example = if dimension == Dimension::Time {
            "0.1 % / 1 y"
        } else {
            "0.05 % / 10 K"
        };
        let parts = text.split_once(" / ").and_then(|(share, per)| {
            let share = parse(share.trim(), Dimension::Ratio)
                .or_else(|_| parse(share.trim(), self.difference))
                .ok()?;
            Some((
                share,
                parse(per.trim(), dimension)
                    .ok()
                    .filter(|per| per.si > 0.0)?,
            ))
        });
        match parts {
            Some((share, per)) if share.si >= 0.0 => Some(self.value(name, &share)? / per.si),
            _ => {
                let due = dimension.with_article();
                let problem = self.table.problem_at(
                    name,
                    format!("`{name}` must be a share per {}, not \"{text}\"", &due[2..]),
                );
                self.table
                    .report(problem.cure(format!("for example {name} = \"{example}\"")));
                None
            }
        }
    }
}

/// Raw numbers that mean failure; a number that the register cannot hold would never be seen.
fn failed(table: &Table<'_>, number: Option<NumberType>) -> Vec<f64> {
    let numbers = table.numbers("failed");
    let range = number.and_then(|number| match number {
        NumberType::I16 => Some((f64::from(i16::MIN), f64::from(i16::MAX))),
        NumberType::U16 => Some((0.0, f64::from(u16::MAX))),
        NumberType::I32 => Some((f64::from(i32::MIN), f64::from(i32::MAX))),
        NumberType::U32 => Some((0.0, f64::from(u32::MAX))),
        NumberType::F32 | NumberType::F64 => None,
    });
    if let Some((least, most)) = range {
        for number in numbers
            .iter()
            .filter(|number| **number < least || **number > most || number.fract() != 0.0)
        {
            let problem = table.problem_at(
                "failed",
                format!("{number} can never stand in a register of this `type`"),
            );
            table.report(problem.cure(format!("it holds whole numbers from {least} to {most}")));
        }
    }
    numbers
}
