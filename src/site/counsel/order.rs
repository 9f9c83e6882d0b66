//! Limits of one tank among each other: in the order that their names say, none twice, low below high.

use super::finding::Notes;
use super::letters::{Letters, letters};
use super::tank::{Advised, SAME_M, Threshold};
use super::words::metres;
use crate::engine::plan::{AlarmPlan, Limit, Watch};

const CROSSED: &str = "limits-cross";
const DIRECTION: &str = "code-and-limit";
const SAME: &str = "same-limit";

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    direction(on, notes);
    let pairs = pairs(&on.thresholds);
    for (a, b) in pairs {
        match (a.is_high, b.is_high) {
            (true, true) | (false, false) => {
                outer(on, a, b, notes);
                outer(on, b, a, notes);
            }
            (true, false) => low_above_high(on, b, a, notes),
            (false, true) => low_above_high(on, a, b, notes),
        }
    }
    same(on, notes);
}

/// Every two limits of different alarms, once.
fn pairs(thresholds: &[Threshold]) -> impl Iterator<Item = (Threshold, Threshold)> {
    let each = thresholds.iter().enumerate();
    each.flat_map(|(place, a)| thresholds[place + 1..].iter().map(|b| (*a, *b)))
        .filter(|(a, b)| a.alarm != b.alarm)
}

fn letters_of(on: &Advised<'_>, threshold: Threshold) -> Option<Letters> {
    let letters = letters(&on.alarm(threshold).code)?;
    (letters.is_high == threshold.is_high).then_some(letters)
}

/// LAH says high: its limit must be one that is passed upwards.
fn direction(on: &Advised<'_>, notes: &mut Notes<'_>) {
    for threshold in &on.thresholds {
        let alarm = on.alarm(*threshold);
        let Some(said) = letters(&alarm.code) else {
            continue;
        };
        let two_sided = matches!(alarm.limit, Limit::Outside(_, _));
        // A low ullage is a high level, and may be called either.
        if said.is_high == threshold.is_high || two_sided || alarm.watch == Watch::Ullage {
            continue;
        }
        let (word, is) = match said.is_high {
            true => ("high", "low"),
            false => ("low", "high"),
        };
        let what = format!(
            "{} is a {word} alarm by its letters, and a {is} one by its limit",
            alarm.code
        );
        let why = "at night people go by the code (letters of ANSI/ISA-5.1)";
        let cure = match said.is_high {
            true => "write `above` for `below`, or give it the code of a low alarm",
            false => "write `below` for `above`, or give it the code of a high alarm",
        };
        notes.add(on.finding(DIRECTION, *threshold, notes, what, why, cure));
    }
}

/// The one with more letters must stand further out.
fn outer(on: &Advised<'_>, far: Threshold, near: Threshold, notes: &mut Notes<'_>) {
    let (Some(of_far), Some(of_near)) = (letters_of(on, far), letters_of(on, near)) else {
        return;
    };
    let beyond_m = match far.is_high {
        true => near.level_m - far.level_m,
        false => far.level_m - near.level_m,
    };
    if of_far.count <= of_near.count || beyond_m <= SAME_M {
        return;
    }
    let (far_code, near_code) = (&on.alarm(far).code, &on.alarm(near).code);
    let side = if far.is_high { "below" } else { "above" };
    let what = format!(
        "{far_code} at {} comes before {near_code} at {}",
        metres(far.level_m),
        metres(near.level_m)
    );
    let why = format!("{far_code} stands {side} {near_code}: the further alarm would tell first");
    let cure = "exchange the two limits, or the codes";
    let place = notes.places.alarm(on.index, near.alarm, near.key);
    let mut finding = on.finding(CROSSED, far, notes, what, why, cure);
    finding.problem = finding.problem.related(place, near_code.to_string());
    notes.add(finding);
}

fn low_above_high(on: &Advised<'_>, low: Threshold, high: Threshold, notes: &mut Notes<'_>) {
    if low.level_m < high.level_m - SAME_M {
        return;
    }
    let (low_code, high_code) = (&on.alarm(low).code, &on.alarm(high).code);
    let what = format!(
        "the low alarm {low_code} at {} is not below the high alarm {high_code} at {}",
        metres(low.level_m),
        metres(high.level_m)
    );
    let why = "one of the two is active whatever the level";
    let cure = "set the low limit below the high one; both count as levels from the site's zero";
    let place = notes.places.alarm(on.index, high.alarm, high.key);
    let mut finding = on.finding(CROSSED, low, notes, what, why, cure);
    finding.problem = finding.problem.related(place, high_code.to_string());
    notes.add(finding);
}

/// Two alarms at one place are one alarm that sounds twice.
fn same(on: &Advised<'_>, notes: &mut Notes<'_>) {
    let alarms: Vec<(usize, &AlarmPlan)> = on.alarms().collect();
    for (place, (first, one)) in alarms.iter().enumerate() {
        for (second, other) in &alarms[place + 1..] {
            // Suppressed at different times they can be meant for each other.
            if one.suppress != other.suppress || !is_same(on, (*first, one), (*second, other)) {
                continue;
            }
            let what = format!("{} and {} have the same limit", one.code, other.code);
            let why = "they sound together: two things to answer, and nothing more told";
            let cure = "take one of them out, or set it where the operator would do something else";
            let key = key(other.limit);
            let at_first = notes.places.alarm(on.index, *first, self::key(one.limit));
            let mut finding = on.finding_at(SAME, (*second, key), notes, what, why, cure);
            finding.problem = finding.problem.related(at_first, one.code.to_string());
            notes.add(finding);
        }
    }
}

fn is_same(
    on: &Advised<'_>,
    (first, one): (usize, &AlarmPlan),
    (second, other): (usize, &AlarmPlan),
) -> bool {
    let of = |alarm: usize| on.thresholds.iter().filter(move |of| of.alarm == alarm);
    if of(first).next().is_none() || of(second).next().is_none() {
        return one.watch == other.watch && one.limit == other.limit;
    }
    of(first).count() == of(second).count()
        && of(first)
            .zip(of(second))
            .all(|(a, b)| a.is_high == b.is_high && (a.level_m - b.level_m).abs() <= SAME_M)
}

/// The limit's key in the site file.
fn key(limit: Limit) -> &'static str {
    match limit {
        Limit::Above(_) => "above",
        Limit::Below(_) => "below",
        Limit::Outside(_, _) => "outside",
        Limit::Is(_) => "is",
        Limit::BadQuality | Limit::Overdue => "watch",
    }
}
