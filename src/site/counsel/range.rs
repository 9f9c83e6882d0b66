//! Limits that the transmitter is not set to read.

use super::finding::Notes;
use super::tank::{Advised, Threshold};
use super::words::metres;
use crate::engine::plan::{Hookup, Source, TankPlan, TransmitterPlan};
use crate::engine::quality::Reason;
use crate::engine::signal::in_range;
use crate::physics::liquid::Gas;
use crate::quantity::print;

const OUTSIDE: &str = "outside-the-range";

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    let Some(nominal) = on.nominal.as_ref().filter(|_| is_settled(on.tank)) else {
        return;
    };
    let leading = nominal.hookup.hookup.leading();
    let transmitter = &on.plan.transmitters[leading.index()];
    for threshold in on.thresholds.clone() {
        let reading = nominal.reading(threshold.level_m);
        let said = in_range(transmitter, reading);
        let (why, end) = if said.reasons.has(Reason::OutsideLimits) {
            (
                "the reading is bad there, and a bad reading brings no limit about",
                transmitter.limits,
            )
        } else if said.reasons.has(Reason::OutsideSpan) {
            let why = match transmitter.loop_current {
                Some(_) => {
                    "its loop current ends before: beyond 20.5 mA it tells a failure (NAMUR NE 43), never this limit"
                }
                None => "the reading is uncertain there, and its accuracy is not promised",
            };
            (why, transmitter.span)
        } else {
            continue;
        };
        let what = what(on, threshold, transmitter, reading, end);
        let cure = "move the limit, or set the transmitter to a wider range and then mend `span` and `scale`";
        notes.add(on.finding(OUTSIDE, threshold, notes, what, why, cure));
    }
}

fn what(
    on: &Advised<'_>,
    threshold: Threshold,
    transmitter: &TransmitterPlan,
    reading: f64,
    range: Option<(f64, f64)>,
) -> String {
    let shown = |si: f64| print(si, transmitter.unit, 2);
    let range = range.map_or_else(String::new, |(low, high)| {
        format!(", beyond its range of {} to {}", shown(low), shown(high))
    });
    format!(
        "at the limit of {}, {}, {} reads {}{range}",
        on.alarm(threshold).code,
        metres(threshold.level_m),
        transmitter.tag,
        shown(reading + transmitter.zero)
    )
}

/// Whether the file alone tells what one transmitter reads at a level: not where a second one reads against it,
/// nor where the density follows what is measured.
fn is_settled(tank: &TankPlan) -> bool {
    let hookups = tank.hookups.iter();
    let alone = hookups.map(|hookup| &hookup.hookup).all(|hookup| {
        !matches!(
            hookup,
            Hookup::TwoTransmitter { .. } | Hookup::ThreeTransmitter { .. }
        )
    });
    let measured_gas = matches!(tank.gas.pressure, Source::Tags(_));
    let follows_gas = tank.liquid.liquid.needs_pressure() || tank.gas.gas == Gas::Steam;
    alone
        && tank.liquid.measured.is_none()
        && tank.liquid.pressure.is_none()
        && !(measured_gas && follows_gas)
}
