//! An alarm's limit: one that nothing can ever decide is an error.
//!
//! Levels are seen between the taps only; a volume, ullage or fill is taken to the level that it stands for.

use super::hookup::shown;
use super::sight::Sight;
use crate::engine::plan::{
    AlarmPlan, Ambient, Limit, LiquidPlan, LiquidPressure, Marks, Source, Watch,
};
use crate::physics::liquid::Liquid;
use crate::physics::vessel::{Vessel, VesselAt};
use crate::quantity::{Length, cubic_metres, kelvin, metres};
use crate::site::file::Table;

/// What the limits of a tank's alarms are judged against.
#[derive(Debug)]
pub struct Judged<'a> {
    pub vessel: &'a Vessel,
    pub marks: &'a Marks,
    pub zero: Length,
    pub sight: Sight,
    pub liquid: Option<&'a LiquidPlan>,
    pub ambient: Option<&'a Ambient>,
    /// The density comes from the pressures, whatever the temperature.
    pub density_measured: bool,
}

/// A level that a limit stands for, and whether the alarm is active above it.
struct Threshold {
    level: Length,
    active_above: bool,
}

/// Rounding on the way from volume to level, m.
const ROUNDING_M: f64 = 1e-6;

impl Judged<'_> {
    /// A limit that nothing can ever decide is an error.
    pub fn check(&self, table: &Table<'_>, alarm: &AlarmPlan) {
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
        let (Some(liquid), Some(ambient)) = (self.liquid, self.ambient) else {
            return;
        };
        if alarm.watch == Watch::Density && self.density_measured {
            return;
        }
        let Some((never, key)) = never_changes(alarm.watch, liquid, ambient) else {
            return;
        };
        let message = format!("what {} watches can never change: {never}", alarm.code);
        let cure = format!("name a transmitter in `{key}` of [tank.liquid], or take the alarm out");
        table.report(table.problem_at("watch", message).cure(cure));
    }

    fn undecidable(&self, threshold: &Threshold) -> Option<(String, String)> {
        let (level, sight) = (threshold.level, &self.sight);
        let (end, side, is_tap, is_beyond) = match threshold.active_above {
            true => (
                sight.highest,
                "above",
                sight.highest_is_tap,
                level.value > sight.highest.value + ROUNDING_M,
            ),
            false => (
                sight.lowest,
                "below",
                sight.lowest_is_tap,
                level.value < sight.lowest.value - ROUNDING_M,
            ),
        };
        let what = match (threshold.active_above, is_tap) {
            (true, true) => "the upper tap",
            (true, false) => "the vessel's top",
            (false, true) => "the lower tap",
            (false, false) => "the vessel's bottom",
        };
        let (level, end) = (shown(level), shown(end));
        is_beyond.then(|| {
            (
                format!(
                    "nothing is seen {side} {what} at {end}, and its limit is at a level of {level}"
                ),
                format!(
                    "set the limit at or {} a level of {end}, or mend the elevation that is wrong",
                    opposite(side)
                ),
            )
        })
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
            Limit::BadQuality | Limit::Overdue | Limit::Is(_) => return None,
        })
    }

    fn level_of(&self, table: &Table<'_>, alarm: &AlarmPlan, value: f64) -> Option<Length> {
        let vessel = self.warm_vessel();
        let volume_at = |level: Length| vessel.volume(level + self.zero).value;
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
            vessel.volume(self.vessel.bottom()).value,
            vessel.capacity().value,
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
        Some(vessel.height(cubic_metres(volume_m3)) - self.zero)
    }

    /// As the engine will judge it, where the liquid's temperature stands in the file.
    fn warm_vessel(&self) -> VesselAt<'_> {
        let source = self.liquid.map(|liquid| &liquid.temperature);
        let source = match source {
            Some(Source::Ambient) => self.ambient.map(|ambient| &ambient.temperature),
            other => other,
        };
        self.vessel.at(match source {
            Some(Source::Fixed(fixed_k)) => Some(kelvin(*fixed_k)),
            _ => None,
        })
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
            Limit::Above(limit) => limit - alarm.deadband <= self.sight.lowest.value,
            Limit::Below(limit) => limit + alarm.deadband >= self.sight.highest.value,
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

/// Why a liquid's temperature or density stays as it is, and the key that could change it.
fn never_changes(
    watch: Watch,
    liquid: &LiquidPlan,
    ambient: &Ambient,
) -> Option<(&'static str, &'static str)> {
    if !matches!(watch, Watch::Temperature | Watch::Density) {
        return None;
    }
    let source = match &liquid.temperature {
        Source::Ambient => &ambient.temperature,
        other => other,
    };
    let fixed_temperature = matches!(source, Source::Fixed(_));
    let fixed_pressure = match &liquid.pressure {
        Some(LiquidPressure::Of(source)) => matches!(source, Source::Fixed(_)),
        Some(LiquidPressure::AboveAir(_)) => true,
        // that of the vessel
        None => !liquid.liquid.needs_pressure(),
    };
    match &liquid.liquid {
        _ if watch == Watch::Density && liquid.measured.is_some() => None,
        Liquid::SaturatedWater { .. } => {
            fixed_pressure.then_some(("the liquid's pressure is a fixed quantity", "pressure"))
        }
        known if watch == Watch::Density && !known.needs_temperature() => {
            Some(("the liquid's density is constant", "temperature"))
        }
        _ => {
            let fixed = fixed_temperature && (watch == Watch::Temperature || fixed_pressure);
            fixed.then_some((
                "the liquid's temperature is a fixed quantity",
                "temperature",
            ))
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

fn opposite(side: &str) -> &'static str {
    if side == "above" { "below" } else { "above" }
}
