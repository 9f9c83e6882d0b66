//! What a drift of the residuals most likely is, by its sign, its course over the head, and the hookup.
//!
//! A chart alone makes a finding possible. It is probable once a further entry is off to the same side by more than
//! two standard deviations by itself, and two people have seen it: a second reader, because whoever reads a glass
//! from the side errs by the same amount each time. A sound tank then has a false "probable" once in some 170 years or
//! more ([`chart::false_probable_a_year`]), of the one a year that all checks may have together.

use super::chart;
use super::drift::Side;
use super::{RoundsView, RowView};
use crate::engine::checks::finding::{Ability, Confidence, Fault, Finding};
use crate::engine::memory::DriftMemory;
use crate::engine::plan::{Gives, Hookup, HookupPlan, LegFill, TankPlan};
use crate::engine::tank::Working;
use crate::physics::line::Points;
use crate::quantity::span;
use std::time::Duration;

/// Fewer entries than this in a run tell no cause.
const FEWEST: usize = 3;
/// By how much the squares (over the entries' variance) of one cause must be below those of the other to
/// decide between them: a likelihood ratio of e³ = 20. Common practice, no source.
const DECIDES: f64 = 6.0;
/// So many entries must have said what was normal before a change is counted from it.
const ENOUGH: u32 = 5;
/// People who must have seen it before it is probable.
const READERS: usize = 2;
const CHECK: &str = "rounds";

/// How the change goes with the head above the tap.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Course {
    Constant,
    /// A share of the head.
    Proportional(f64),
    /// The levels were too alike to tell.
    Untold,
}

pub(super) fn finding(
    view: &RoundsView,
    drift: &DriftMemory,
    tank: &TankPlan,
    workings: &[Working],
) -> Option<Finding> {
    let side = drift.side()?;
    let compared: Vec<&RowView> = view
        .rows
        .iter()
        .filter(|row| row.charted.is_some())
        .collect();
    let from = compared.len().saturating_sub(drift.run() as usize);
    let run = &compared[from..];
    if run.is_empty() {
        return None;
    }
    let has_normal = drift.normal_of >= ENOUGH;
    let changes = run.iter().filter_map(|row| {
        let head_m = row.entry.reading?.head_m;
        let normal_m = if has_normal {
            drift.normal(head_m)
        } else {
            0.0
        };
        Some((head_m, row.residual_m? - normal_m))
    });
    let changes: Vec<(f64, f64)> = changes.collect();
    // The sums have run since before the change.
    let from = change_point(&changes);
    let (run, changes) = (&run[from.min(run.len() - 1)..], &changes[from..]);
    let change_m = mean(changes);
    let variance = run.iter().map(|row| row.entry.sigma_m.powi(2)).sum::<f64>() / run.len() as f64;
    let course = course(changes, variance);
    let residuals: Vec<(f64, f64)> = run
        .iter()
        .filter_map(|row| Some((0.0, row.residual_m?)))
        .collect();
    let mut evidence = format!(
        "the reading was {:.0} mm {} the entry in the mean of the last {}",
        mean(&residuals).abs() * 1e3,
        if mean(&residuals) > 0.0 {
            "above"
        } else {
            "below"
        },
        counted(run.len()),
    );
    if has_normal {
        evidence += &format!(
            ", {:+.0} mm against the {} before",
            change_m * 1e3,
            counted(drift.normal_of as usize)
        );
    }
    let hookup = tank
        .hookups
        .iter()
        .zip(workings)
        .find(|(plan, _)| plan.gives == Gives::Level);
    let (fault, why) = cause(side, course, change_m, hookup);
    let sum = drift.high.max(drift.low).min(99.0);
    let mut evidence = format!(
        "{evidence}; {why}; CUSUM {sum:.1} of {:.0}",
        view.chart.decision_interval
    );
    let readers = readers(run, side);
    let is_sure = drift.confirmed > 0 && readers >= READERS;
    if is_sure {
        evidence += &format!(
            "; confirmed by {} after it, {readers} people have seen it",
            counted(drift.confirmed as usize)
        );
    } else if readers < READERS {
        evidence += "; an entry by another person would confirm it";
    }
    let confidence = if is_sure {
        Confidence::Probable
    } else {
        Confidence::Possible
    };
    Some(Finding::of_tank(fault, confidence, evidence))
}

/// How many people have seen it: those whose entries were off to that side.
fn readers(run: &[&RowView], side: Side) -> usize {
    let is_off = |row: &&&RowView| {
        row.charted.is_some_and(|charted| match side {
            Side::High => charted.z > 0.0,
            Side::Low => charted.z < 0.0,
        })
    };
    let by = || run.iter().filter(is_off).map(|row| &row.entry.by);
    let is_first = |place: usize| {
        !by()
            .take(place)
            .any(|earlier| by().nth(place) == Some(earlier))
    };
    (0..by().count()).filter(|place| is_first(*place)).count()
}

fn cause(
    side: Side,
    course: Course,
    change_m: f64,
    hookup: Option<(&HookupPlan, &Working)>,
) -> (Fault, String) {
    if let Course::Proportional(share) = course {
        let mut why = format!(
            "it is {:+.2} % of the head above the tap at every level",
            share * 1e2
        );
        if let Some((_, working)) = hookup {
            // reading·ρ_taken = head·ρ_true
            let rho_kg_m3 = working.liquid.value.value * (1.0 + share);
            why += &format!(
                ": {rho_kg_m3:.1} kg/m3 instead of {:.1} would explain it",
                working.liquid.value.value
            );
        }
        return (Fault::DensityWrong, why);
    }
    let (course, is_constant) = match course {
        Course::Constant => ("it is the same at every level", true),
        _ => (
            "the entries are too alike in level, or too few, to tell a wrong density from it",
            false,
        ),
    };
    let zero = hookup.map(|(_, working)| {
        let rho = (working.liquid.value - working.above.value).value;
        let shift_kpa = change_m * rho * working.balance.gravity.value / 1e3;
        format!("a zero off by {shift_kpa:+.2} kPa")
    });
    if let Some((fault, leg)) =
        hookup.and_then(|(plan, working)| leg(side, change_m, plan, working))
    {
        let zero = zero.unwrap_or_default();
        let why = format!(
            "{course}; {leg} would explain it, and so would {zero}: equalise both sides to tell"
        );
        return (fault, why);
    }
    match zero {
        Some(zero) if is_constant => (Fault::ZeroOff, format!("{course}, as {zero} would make it")),
        _ if is_constant => (Fault::ZeroOff, course.to_owned()),
        _ => (Fault::DriftsFromEntries, course.to_owned()),
    }
}

/// What of its low leg would explain it; none where the leg is not so high.
fn leg(side: Side, change_m: f64, plan: &HookupPlan, working: &Working) -> Option<(Fault, String)> {
    let (leg, at) = plan.hookup.low_leg()?;
    let height_m = (leg.tap - at).value;
    let (rho_l, rho_v) = (working.liquid.value.value, working.above.value.value);
    let (fault, metres, what) = match side {
        // δ = Δh·(ρl − ρv)/(ρleg − ρv)
        Side::High if has_wet_leg(plan) => (
            Fault::WetLegLost,
            change_m * (rho_l - rho_v) / (working.low_leg.value.value - rho_v),
            "gone from the wet leg",
        ),
        // z = −Δh·(ρl − ρv)/(ρc − ρv), the condensate as dense as the liquid
        Side::Low if has_dry_leg(plan) => (
            Fault::CondensateInLeg,
            -change_m,
            "of condensate in the dry leg",
        ),
        _ => return None,
    };
    let fits = (0.0..=height_m).contains(&metres);
    fits.then(|| (fault, format!("about {:.0} mm {what}", metres * 1e3)))
}

fn has_wet_leg(plan: &HookupPlan) -> bool {
    low_fill(plan).is_some_and(|fill| !matches!(fill, LegFill::Gas))
}

fn has_dry_leg(plan: &HookupPlan) -> bool {
    low_fill(plan).is_some_and(|fill| matches!(fill, LegFill::Gas))
}

/// Of a differential transmitter's low leg, where it has some height.
fn low_fill(plan: &HookupPlan) -> Option<&LegFill> {
    let Hookup::Differential { .. } = plan.hookup else {
        return None;
    };
    let (leg, at) = plan.hookup.low_leg()?;
    (leg.tap > at).then_some(&leg.fill)
}

fn course(changes: &[(f64, f64)], variance: f64) -> Course {
    if changes.len() < FEWEST {
        return Course::Untold;
    }
    let constant = mean(changes);
    let squares = |expected: &dyn Fn(f64) -> f64| {
        let left = changes
            .iter()
            .map(|(head, change)| (change - expected(*head)).powi(2));
        left.sum::<f64>() / variance
    };
    let heads: f64 = changes.iter().map(|(head, _)| head * head).sum();
    if heads <= 0.0 {
        return Course::Untold;
    }
    let share = changes
        .iter()
        .map(|(head, change)| head * change)
        .sum::<f64>()
        / heads;
    let gain = squares(&|_| constant) - squares(&|head| share * head);
    match gain {
        gain if gain > DECIDES => Course::Proportional(share),
        gain if gain < -DECIDES => Course::Constant,
        _ => Course::Untold,
    }
}

/// Where the likeliest change of the mean lies: the largest (Σ change)²/n of what comes after it.
fn change_point(changes: &[(f64, f64)]) -> usize {
    let (mut sum, mut best, mut place) = (0.0, 0.0, 0);
    for (from, (_, change)) in changes.iter().enumerate().rev() {
        sum += change;
        let gain = sum * sum / (changes.len() - from) as f64;
        if gain > best {
            (best, place) = (gain, from);
        }
    }
    place
}

fn mean(pairs: &[(f64, f64)]) -> f64 {
    let mut points = Points::default();
    pairs.iter().for_each(|(_, y)| points.add(0.0, *y));
    points.mean_difference().unwrap_or(0.0)
}

fn counted(entries: usize) -> String {
    match entries {
        1 => "entry".to_owned(),
        entries => format!("{entries} entries"),
    }
}

pub(super) fn ability(view: &RoundsView) -> Ability {
    let chart = &view.chart;
    if chart.entries == 0 {
        return Ability::cannot(
            CHECK,
            "no entries yet; enter what the sight glass or the tape says",
        );
    }
    if (chart.entries as usize) < FEWEST {
        let reason = format!(
            "{} yet, and fewer than {FEWEST} tell no drift from a slip of the eye",
            counted(chart.entries as usize)
        );
        return Ability::cannot(CHECK, reason);
    }
    let newest = view.rows.iter().rev().find_map(|row| row.charted);
    let sigma_mm = newest.map_or(0.0, |charted| charted.sigma_m * 1e3);
    let shift = |entries: f64| chart::smallest_shift(chart.decision_interval, entries) * sigma_mm;
    let years = chart.run_length * chart.every_s / (365.25 * 86_400.0);
    let text = format!(
        "from {} about {} apart: a shift of {:.0} mm within three more, of {:.0} mm within ten; one false signal in {years:.0} years (CUSUM k {}, h {:.0}: {:.0} entries)",
        counted(chart.entries as usize),
        span(Duration::from_secs(chart.every_s as u64)),
        shift(3.0),
        shift(10.0),
        chart::K,
        chart.decision_interval,
        chart.run_length,
    );
    Ability::can(CHECK, text)
}
