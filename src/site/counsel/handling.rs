//! How an alarm is handled: on the shelf, sounding again, and while its reading is bad.

use super::finding::Notes;
use super::tank::Advised;
use super::words::duration;
use crate::engine::plan::{AlarmPlan, OnBad, Priority};
use std::time::Duration;

const SHELF: &str = "long-shelf";
const HIGHEST: &str = "highest-can-be-shelved";
const AGAIN: &str = "re-alarm-too-soon";
const CLEARS: &str = "cleared-by-bad-data";

/// A shift: whoever shelved it is there when it comes back (common practice, no source).
const LONGEST_SHELF: Duration = Duration::from_secs(12 * 3600);
/// Sooner is a horn, not a reminder (common practice, no source).
const SOONEST_AGAIN: Duration = Duration::from_secs(5 * 60);

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    for (place, alarm) in on.alarms() {
        shelf(on, place, alarm, notes);
        again(on, place, alarm, notes);
        clears(on, place, alarm, notes);
    }
}

fn shelf(on: &Advised<'_>, place: usize, alarm: &AlarmPlan, notes: &mut Notes<'_>) {
    let Some(at_most) = alarm.shelve_at_most else {
        return;
    };
    if at_most > LONGEST_SHELF {
        let what = format!("{} may be shelved for {}", alarm.code, duration(at_most));
        let why = format!(
            "longer than a shift of {}: who finds it missing is not who shelved it",
            duration(LONGEST_SHELF)
        );
        let cure = "shorten shelve.at_most; for repairs there is `out-of-service`, which is listed until it ends";
        notes.add(on.finding_at(SHELF, (place, "shelve"), notes, what, why, cure));
    }
    if alarm.priority == Priority::Highest {
        let what = format!(
            "{} is of the highest priority and can be shelved",
            alarm.code
        );
        let why = "what must be answered at once is hidden by one person's word";
        let cure = "take `shelve` out, or give the alarm a lower priority";
        notes.add(on.finding_at(HIGHEST, (place, "shelve"), notes, what, why, cure));
    }
}

fn again(on: &Advised<'_>, place: usize, alarm: &AlarmPlan, notes: &mut Notes<'_>) {
    let Some(again) = alarm.re_alarm else { return };
    let why = match alarm.record.respond_within {
        Some(within) if again < within => format!(
            "the operator who answered it has {} to respond and is still at it",
            duration(within)
        ),
        _ if again < SOONEST_AGAIN => format!(
            "more often than every {} it only wears people out",
            duration(SOONEST_AGAIN)
        ),
        _ => return,
    };
    let what = format!(
        "{} sounds again {} after it was acknowledged",
        alarm.code,
        duration(again)
    );
    let longest = alarm
        .record
        .respond_within
        .map_or(SOONEST_AGAIN, |within| within.max(SOONEST_AGAIN));
    let cure = format!(
        "re_alarm = \"{}\" or longer, or leave it out",
        duration(longest)
    );
    notes.add(on.finding_at(AGAIN, (place, "re_alarm"), notes, what, why, cure));
}

/// A transmitter that fails as the tank overflows would take the alarm back.
fn clears(on: &Advised<'_>, place: usize, alarm: &AlarmPlan, notes: &mut Notes<'_>) {
    let is_high = on
        .thresholds
        .iter()
        .any(|threshold| threshold.alarm == place && threshold.is_high);
    if alarm.on_bad != OnBad::Clear || !(is_high || alarm.priority >= Priority::High) {
        return;
    }
    let what = format!("{} is cleared by a bad reading", alarm.code);
    let why = if is_high {
        "what overfills a tank can take its transmitter with it, and then the alarm says that all is well"
    } else {
        "its transmitter fails, and the alarm says that all is well"
    };
    let cure = "on_bad = \"hold\" keeps it as it is; \"annunciate\" is the fail-safe choice";
    notes.add(on.finding_at(CLEARS, (place, "on_bad"), notes, what, why, cure));
}
