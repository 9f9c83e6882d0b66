//! Deadbands: an alarm on a noisy signal that comes and goes is answered without being read.
//!
//! Usual starting values, from memory of EEMUA 191 and ANSI/ISA-18.2: level 5 % of the operating range and 60 s,
//! flow 5 % and 15 s, temperature 1 % and 60 s.

use super::finding::Notes;
use super::tank::{Advised, Threshold};
use super::words::{difference, flow, millimetres};
use crate::engine::plan::{AlarmPlan, Limit, Watch};
use crate::engine::tank::usable_marks;

const NONE: &str = "no-deadband";
const BELOW_NOISE: &str = "deadband-below-noise";

/// Of the operating range (from memory, EEMUA 191 / ANSI/ISA-18.2).
const LEVEL_SHARE: f64 = 0.05;
const FLOW_SHARE: f64 = 0.05;
/// The usual on-delay, s (from memory, as above).
const LEVEL_DELAY_S: f64 = 60.0;
const FLOW_DELAY_S: f64 = 15.0;
/// A deadband is so many σ of the noise: white noise crosses it once in some million samples.
const SIGMAS: f64 = 5.0;

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    for (place, alarm) in on.alarms() {
        let has_limit = matches!(
            alarm.limit,
            Limit::Above(_) | Limit::Below(_) | Limit::Outside(_, _)
        );
        if !has_limit {
            continue;
        }
        let noise = noise(on, place, alarm).map(|sigma| SIGMAS * sigma);
        if alarm.deadband <= 0.0 {
            let what = format!(
                "{} has no deadband: on a noisy signal it will come and go",
                alarm.code
            );
            let why = why(on, alarm, noise);
            let cure = cure(on, place, alarm, noise);
            notes.add(on.finding_at(NONE, (place, "deadband"), notes, what, why, cure));
        } else if let Some(noise) = noise.filter(|noise| alarm.deadband < *noise) {
            let what = format!(
                "the deadband of {} is less than the noise of its signal",
                alarm.code
            );
            let why = format!(
                "{}; the deadband is {}",
                why(on, alarm, Some(noise)),
                shown(alarm.deadband, alarm)
            );
            let cure = cure(on, place, alarm, Some(noise));
            notes.add(on.finding_at(BELOW_NOISE, (place, "deadband"), notes, what, why, cure));
        }
    }
}

fn shown(value: f64, alarm: &AlarmPlan) -> String {
    alarm
        .unit
        .map_or_else(String::new, |unit| difference(value, unit))
}

fn why(on: &Advised<'_>, alarm: &AlarmPlan, noise: Option<f64>) -> String {
    match (noise, on.heard) {
        (Some(noise), Some(heard)) => {
            format!(
                "{} tells a noise of {} (5 σ)",
                heard.from(),
                shown(noise, alarm)
            )
        }
        _ => {
            "nothing is known of its noise: a journal with samples, or --recording FILE, would tell"
                .to_owned()
        }
    }
}

/// The larger of the usual starting value and 5 σ, and what the usual delay costs.
fn cure(on: &Advised<'_>, place: usize, alarm: &AlarmPlan, noise: Option<f64>) -> String {
    let usual = usual(on, alarm);
    let suggested = usual.into_iter().chain(noise).reduce(f64::max);
    let Some(suggested) = suggested.filter(|suggested| *suggested > 0.0) else {
        return "add a deadband of a little more than the noise: 5 σ".to_owned();
    };
    let mut cure = format!("deadband = \"{}\"", shown(suggested, alarm));
    cure.push_str(match (usual, noise) {
        (Some(usual), Some(noise)) if noise > usual => {
            " (5 σ; the usual start of 5 % of the operating range is less)"
        }
        (Some(_), _) => " (the usual start: 5 % of the operating range)",
        (None, _) => " (5 σ)",
    });
    if let Some(cost) = cost(on, place, alarm) {
        cure.push_str(&cost);
    }
    cure
}

/// The usual starting value, in SI units of what is watched; none where there is no operating range.
fn usual(on: &Advised<'_>, alarm: &AlarmPlan) -> Option<f64> {
    let (low, high, _, _) = usable_marks(on.tank);
    let volume = |level_m: f64| Some(on.nominal.as_ref()?.volume_and_area(level_m).0);
    let volume_m3 = || Some(volume(high.value)? - volume(low.value)?);
    Some(match alarm.watch {
        Watch::Level => LEVEL_SHARE * (high - low).value,
        Watch::Fill => LEVEL_SHARE,
        Watch::Volume | Watch::Ullage => LEVEL_SHARE * volume_m3()?,
        Watch::Mass => LEVEL_SHARE * volume_m3()? * on.nominal.as_ref()?.density_kg_m3(),
        Watch::NetFlow => FLOW_SHARE * (on.fill_m3_s? + on.draw_m3_s?),
        _ => return None,
    })
}

/// What the usual delay costs at the largest rate.
fn cost(on: &Advised<'_>, place: usize, alarm: &AlarmPlan) -> Option<String> {
    if alarm.watch == Watch::NetFlow {
        return Some(format!(
            "; the usual on_delay with it is {FLOW_DELAY_S:.0} s"
        ));
    }
    let threshold = threshold(on, place)?;
    let (side, flow_m3_s) = match threshold.is_high {
        true => ("in", on.fill_m3_s?),
        false => ("out", on.draw_m3_s?),
    };
    let (_, area_m2) = on.nominal.as_ref()?.volume_and_area(threshold.level_m);
    (area_m2 > 0.0).then(|| {
        format!(
            "; the usual on_delay of {LEVEL_DELAY_S:.0} s costs {} at the {} that can flow {side}",
            millimetres(flow_m3_s * LEVEL_DELAY_S / area_m2),
            flow(flow_m3_s, on.show.flow)
        )
    })
}

/// σ of what is watched as it was heard, at the limit, in SI units.
fn noise(on: &Advised<'_>, place: usize, alarm: &AlarmPlan) -> Option<f64> {
    if alarm.watch == Watch::Temperature {
        return on.temperature_noise_k();
    }
    let level_m = on.level_noise_m()?;
    if alarm.watch == Watch::Level {
        return Some(level_m);
    }
    let nominal = on.nominal.as_ref()?;
    let (_, area_m2) = nominal.volume_and_area(threshold(on, place)?.level_m);
    let volume_m3 = level_m * area_m2;
    let (low, high, _, _) = usable_marks(on.tank);
    let working_m3 = nominal.volume_and_area(high.value).0 - nominal.volume_and_area(low.value).0;
    Some(match alarm.watch {
        Watch::Volume | Watch::Ullage => volume_m3,
        Watch::Mass => volume_m3 * nominal.density_kg_m3(),
        Watch::Fill => volume_m3 / working_m3,
        _ => return None,
    })
}

fn threshold(on: &Advised<'_>, place: usize) -> Option<Threshold> {
    on.thresholds.iter().copied().find(|of| of.alarm == place)
}
