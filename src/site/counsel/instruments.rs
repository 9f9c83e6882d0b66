//! What is missing of instruments and gas, and what is not known for it.

use super::finding::{Finding, Notes};
use super::tank::Advised;
use crate::engine::TransmitterId;
use crate::engine::plan::{Gives, LegFill, StreamFlow, TankPlan};
use crate::site::problem::Problem;
use std::sync::Arc;

const NO_SPAN: &str = "no-span";
const NO_ACCURACY: &str = "no-accuracy";
const NO_GAS: &str = "no-gas";
const DRAW_UNKNOWN: &str = "draw-unknown";

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    let tank = on.tank;
    for id in tank.transmitters() {
        let transmitter = &on.plan.transmitters[id.index()];
        if transmitter.span.is_none() {
            let what = format!("{} has no span: its range is not checked", transmitter.tag);
            let why =
                "a span of the wrong sign or height is the commonest reason for a wrong level";
            let cure = "add what the transmitter is set to: span = [\"0 kPa\", \"40 kPa\"]";
            notes.add(about(on, id, NO_SPAN, notes, (what, why, cure)));
        }
        if transmitter.accuracy.is_none() {
            let what = format!(
                "{} has no accuracy: it is missing from the uncertainty",
                transmitter.tag
            );
            let why = "the uncertainty of the level is told too small";
            let cure = "add what its maker promises: accuracy = \"0.1 %\"";
            notes.add(about(on, id, NO_ACCURACY, notes, (what, why, cure)));
        }
    }
    if !tank.gas.given && !tank.is_open() {
        notes.add(Finding {
            rule: NO_GAS,
            tank: Some(Arc::clone(&tank.name)),
            alarm: None,
            problem: Problem::new(
                notes.places.tank(on.index),
                format!(
                    "{} has no [tank.gas]: the gas is taken as air at ambient",
                    tank.name
                ),
            )
            .why("a gas under pressure is heavier, and weighs on one side of the transmitter only")
            .cure("add [tank.gas] with `kind` and `pressure`"),
        });
    }
    if has_dry_leg(tank) && !draw_is_known(tank) {
        notes.add(Finding {
            rule: DRAW_UNKNOWN,
            tank: Some(Arc::clone(&tank.name)),
            alarm: None,
            problem: Problem::new(
                notes.places.tank(on.index),
                format!("{}: nothing says what is drawn", tank.name),
            )
            .why("where an overfill floods the dry leg no faster than the largest draw, the reading falls as if liquid were drawn, and no high alarm stands")
            .cure("give each outlet's [[tank.stream]] its `flow` (a meter), or `running` (a pump's contact) and `rate`; let the high-high alarm stand on a switch of its own"),
        });
    }
}

fn has_dry_leg(tank: &TankPlan) -> bool {
    let mut levels = tank
        .hookups
        .iter()
        .filter(|plan| plan.gives == Gives::Level);
    levels.any(|plan| {
        let leg = plan.hookup.low_leg();
        leg.is_some_and(|(leg, at)| leg.tap > at && matches!(leg.fill, LegFill::Gas))
    })
}

fn draw_is_known(tank: &TankPlan) -> bool {
    let mut outlets = tank
        .streams
        .iter()
        .filter(|stream| !stream.fills)
        .peekable();
    outlets.peek().is_some() && outlets.all(|stream| stream.flow != StreamFlow::Unknown)
}

fn about(
    on: &Advised<'_>,
    id: TransmitterId,
    rule: &'static str,
    notes: &Notes<'_>,
    (what, why, cure): (String, &str, &str),
) -> Finding {
    Finding {
        rule,
        tank: Some(Arc::clone(&on.tank.name)),
        alarm: None,
        problem: Problem::new(notes.places.transmitter(id), what)
            .why(why)
            .cure(cure),
    }
}
