//! What is missing of instruments and gas, and what is not known for it.

use super::finding::{Finding, Notes};
use super::tank::Advised;
use crate::engine::TransmitterId;
use crate::site::problem::Problem;
use std::sync::Arc;

const NO_SPAN: &str = "no-span";
const NO_ACCURACY: &str = "no-accuracy";
const NO_GAS: &str = "no-gas";

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
