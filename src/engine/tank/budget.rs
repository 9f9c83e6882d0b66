//! The level's uncertainty budget: each input of the balance moved by its uncertainty, one at a time.
//!
//! Sensitivities are central differences of the solved level, so whatever the hookup, its budget is that
//! of the balance itself. Inputs that are one quantity (the tank's own liquid in tank and leg) move together.

use super::Working;
use crate::engine::plan::{Hookup, LegFill, Plan, TankPlan, TransmitterPlan};
use crate::physics::balance::Balance;
use crate::physics::budget::{Budget, from_expanded, rectangular};
use crate::quantity::{DifferentialPressure, Length};

/// The temperature that transmitters are calibrated at, K: 20 °C. Common practice, no source.
const CALIBRATION_TEMPERATURE_K: f64 = 293.15;

pub fn level(plan: &Plan, tank: &TankPlan, working: &Working, solved: Length) -> Budget {
    let mut budget = Budget::default();
    let difference = working.balance.differential_pressure(solved);
    let ambient_k = working.surroundings.ambient.value;
    // ∂h/∂Δp = 1 / (g·(ρl − ρv))
    let per_pascal = sensitivity(1.0, |step| {
        (
            working.balance,
            difference + DifferentialPressure::pascals(step),
        )
    });
    for id in tank.hookup.transmitters() {
        pressure_lines(
            &mut budget,
            &plan.transmitters[id.index()],
            ambient_k,
            per_pascal,
        );
    }
    density_lines(&mut budget, tank, working, difference);
    elevation_lines(&mut budget, tank, working, difference);
    let gravity = from_expanded(plan.gravity_uncertainty.value);
    budget.add(
        "gravity",
        gravity,
        of_balance(working, difference, 1e-4, |balance, step| {
            balance.gravity.value += step
        }),
    );
    budget.sort();
    budget
}

fn pressure_lines(
    budget: &mut Budget,
    transmitter: &TransmitterPlan,
    ambient_k: f64,
    per_pascal: f64,
) {
    let accuracy = transmitter.accuracy.map_or(0.0, rectangular);
    budget.add("transmitter accuracy", accuracy, per_pascal);
    let away_k = (ambient_k - CALIBRATION_TEMPERATURE_K).abs();
    let temperature = transmitter
        .temperature_effect
        .map_or(0.0, |per_k| rectangular(per_k * away_k));
    budget.add("transmitter temperature effect", temperature, per_pascal);
    let drift = transmitter.stability.zip(transmitter.since_calibration);
    let drift = drift.map_or(0.0, |(per_s, age)| rectangular(per_s * age.as_secs_f64()));
    budget.add("transmitter stability", drift, per_pascal);
    let resolution = transmitter
        .resolution
        .map_or(0.0, |step| rectangular(step / 2.0));
    budget.add("transmitter resolution", resolution, per_pascal);
}

fn density_lines(
    budget: &mut Budget,
    tank: &TankPlan,
    working: &Working,
    difference: DifferentialPressure,
) {
    let (high_fill, low_fill) = fills(tank);
    let (own_high, own_low) = (
        matches!(high_fill, Some(LegFill::OwnLiquid)),
        matches!(low_fill, Some(LegFill::OwnLiquid)),
    );
    let liquid = from_expanded(working.surroundings.liquid.uncertainty.value);
    budget.add(
        "liquid density",
        liquid,
        of_balance(working, difference, 0.1, |balance, step| {
            balance.liquid.value += step;
            balance.high.fill.value += if own_high { step } else { 0.0 };
            balance.low.fill.value += if own_low { step } else { 0.0 };
        }),
    );
    let dry = matches!(low_fill, Some(LegFill::Gas));
    let gas = from_expanded(working.surroundings.gas.uncertainty.value);
    budget.add(
        "gas density",
        gas,
        of_balance(working, difference, 0.1, |balance, step| {
            balance.gas.value += step;
            balance.low.fill.value += if dry { step } else { 0.0 };
        }),
    );
    if let Some(LegFill::Filled(_)) = high_fill {
        let fill = from_expanded(working.high_leg.uncertainty.value);
        budget.add(
            "high leg density",
            fill,
            of_balance(working, difference, 0.1, |balance, step| {
                balance.high.fill.value += step
            }),
        );
    }
    if let Some(LegFill::Filled(_)) = low_fill {
        let fill = from_expanded(working.low_leg.uncertainty.value);
        budget.add(
            "low leg density",
            fill,
            of_balance(working, difference, 0.1, |balance, step| {
                balance.low.fill.value += step
            }),
        );
    }
}

fn elevation_lines(
    budget: &mut Budget,
    tank: &TankPlan,
    working: &Working,
    difference: DifferentialPressure,
) {
    let elevation = from_expanded(tank.elevation_uncertainty.value);
    let one_diaphragm = !matches!(tank.hookup, Hookup::TwoTransmitter { .. });
    budget.add(
        "high tap elevation",
        elevation,
        of_balance(working, difference, 0.01, |balance, step| {
            balance.high.tap.value += step
        }),
    );
    budget.add(
        "low tap elevation",
        elevation,
        of_balance(working, difference, 0.01, |balance, step| {
            balance.low.tap.value += step
        }),
    );
    budget.add(
        "transmitter elevation",
        elevation,
        of_balance(working, difference, 0.01, |balance, step| {
            balance.high.diaphragm.value += step;
            balance.low.diaphragm.value += if one_diaphragm { step } else { 0.0 };
        }),
    );
    if !one_diaphragm {
        budget.add(
            "headspace transmitter elevation",
            elevation,
            of_balance(working, difference, 0.01, |balance, step| {
                balance.low.diaphragm.value += step
            }),
        );
    }
}

fn fills(tank: &TankPlan) -> (Option<&LegFill>, Option<&LegFill>) {
    match &tank.hookup {
        Hookup::Vented { high, .. } => (Some(&high.fill), None),
        Hookup::Differential { high, low, .. } => (Some(&high.fill), Some(&low.fill)),
        Hookup::TwoTransmitter { bottom, headspace } => {
            (Some(&bottom.leg.fill), Some(&headspace.leg.fill))
        }
    }
}

/// Central difference of the solved level for one input of the balance.
fn of_balance(
    working: &Working,
    difference: DifferentialPressure,
    step: f64,
    shift: impl Fn(&mut Balance, f64),
) -> f64 {
    sensitivity(step, |step| {
        let mut balance = working.balance;
        shift(&mut balance, step);
        (balance, difference)
    })
}

fn sensitivity(step: f64, moved: impl Fn(f64) -> (Balance, DifferentialPressure)) -> f64 {
    let level = |step: f64| {
        let (balance, difference) = moved(step);
        balance.solve(difference).value
    };
    (level(step) - level(-step)) / (2.0 * step)
}
