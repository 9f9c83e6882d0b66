//! Limits against the marks: an alarm stands before what it protects, and comes and goes with the level.

use super::finding::Notes;
use super::tank::{Advised, SAME_M, Threshold};
use super::words::metres;
use crate::quantity::Length;

const BEHIND: &str = "behind-its-mark";
const ALWAYS: &str = "always-active";

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    for threshold in on.thresholds.clone() {
        if !always(on, threshold, notes)
            && let Some((name, mark)) = behind(on, threshold)
        {
            let what = format!(
                "{} at {} is not before the mark `{name}` at {}",
                on.alarm(threshold).code,
                metres(threshold.level_m),
                metres(mark.value)
            );
            let why = match name {
                "overflow" => {
                    "the tank runs over there: the level gets no further, and the alarm may never come"
                }
                "heel" => {
                    "nothing can be drawn from there on: the level gets no further, and the alarm may never come"
                }
                _ => "when it tells, what it is to prevent has happened",
            };
            let cure = "move the limit before the mark, by what flows in the time to respond; or mend the mark";
            notes.add(on.finding(BEHIND, threshold, notes, what, why, cure));
        }
    }
}

/// The mark that is reached no later than the alarm, if there is one.
pub fn behind(on: &Advised<'_>, threshold: Threshold) -> Option<(&'static str, Length)> {
    let marks = &on.tank.marks;
    let of_side = match threshold.is_high {
        true => [
            ("critical_high", marks.critical_high),
            ("overflow", marks.overflow),
        ],
        false => [("critical_low", marks.critical_low), ("heel", marks.heel)],
    };
    let reached = |mark: Length| match threshold.is_high {
        true => threshold.level_m >= mark.value - SAME_M,
        false => threshold.level_m <= mark.value + SAME_M,
    };
    let marks = of_side.into_iter();
    marks
        .filter_map(|(name, mark)| Some((name, mark?)))
        .find(|(_, mark)| reached(*mark))
}

/// A limit at the far end of what is seen: nothing that is read is on its other side.
fn always(on: &Advised<'_>, threshold: Threshold, notes: &mut Notes<'_>) -> bool {
    let (lowest_m, highest_m) = on.sight();
    let (end_m, is_always) = match threshold.is_high {
        true => (lowest_m, threshold.level_m <= lowest_m + SAME_M),
        false => (highest_m, threshold.level_m >= highest_m - SAME_M),
    };
    if is_always {
        let (side, end) = match threshold.is_high {
            true => ("below", "lowest"),
            false => ("above", "highest"),
        };
        let what = format!(
            "{} is always active: its limit is at {}",
            on.alarm(threshold).code,
            metres(threshold.level_m)
        );
        let why = format!(
            "the {end} level that is seen is {}, and nothing {side} it",
            metres(end_m)
        );
        let cure = "mend the limit, or the elevation that is wrong";
        notes.add(on.finding(ALWAYS, threshold, notes, what, why, cure));
    }
    is_always
}
