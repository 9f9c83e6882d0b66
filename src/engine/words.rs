//! The engine's sentences for people: what an event says.

use super::alarm::{Process, Transition};
use super::checks::jump::{Jump, JumpVerdict};
use super::plan::{AlarmPlan, Limit, Watch};
use super::quality::Reasons;
use super::{JournalLoss, JournalState};
use crate::quantity::{Unit, print};

/// A number in a unit with about four significant digits.
pub fn shown(si: f64, unit: &Unit) -> String {
    let size = unit.from_si(si).abs();
    let whole_digits = if size < 1.0 {
        1
    } else {
        size.log10() as i32 + 1
    };
    print(si, unit, (4 - whole_digits).clamp(0, 4) as usize)
}

/// Every reason, in one line.
pub fn reasons(reasons: Reasons) -> String {
    reasons
        .iter()
        .map(super::Reason::text)
        .collect::<Vec<_>>()
        .join("; ")
}

/// How the journal fares, and what that costs.
pub fn journal(state: &JournalState) -> String {
    match state {
        JournalState::Failing { trouble } => format!(
            "the journal can't be written: {trouble}; alarming goes on, what happens waits in memory. Make room on its disk"
        ),
        JournalState::Written { lost } if *lost == JournalLoss::default() => {
            "the journal is written again; nothing was lost".to_owned()
        }
        JournalState::Written { lost } => {
            let numbers = lost
                .numbers
                .map(|(first, last)| format!(" (numbers {first} to {last})"));
            format!(
                "the journal is written again; lost for want of room: {} events{} and {} minutes of samples",
                lost.events,
                numbers.unwrap_or_default(),
                lost.minutes
            )
        }
        JournalState::Replaced { aside } => format!(
            "the journal could not be read and is kept aside as {aside}; a new one was started"
        ),
    }
}

/// What an alarm's transition means for the person who reads it.
pub fn alarm(
    plan: &AlarmPlan,
    transition: Transition,
    value: Option<f64>,
    trouble: Reasons,
) -> String {
    let what = condition(plan, value, trouble);
    match (transition.from, transition.to) {
        (_, Process::Unacknowledged) => match &plan.record.response {
            Some(response) => format!("{what}. Response: {response}"),
            None => what,
        },
        (Process::Unacknowledged, Process::Acknowledged) => "acknowledged".to_owned(),
        (Process::ReturnedUnacknowledged, Process::Normal) => {
            "acknowledged after it had returned to normal".to_owned()
        }
        (_, Process::ReturnedUnacknowledged) => {
            format!("back to normal, not acknowledged: {what}")
        }
        (_, _) => format!("back to normal: {what}"),
    }
}

fn condition(plan: &AlarmPlan, value: Option<f64>, trouble: Reasons) -> String {
    let Some(unit) = plan.unit else {
        return if trouble.is_empty() {
            "measured again".to_owned()
        } else {
            format!("no measurement: {}", reasons(trouble))
        };
    };
    let value = value.map_or_else(|| reasons(trouble), |value| shown(value, unit));
    let watch = watched(plan.watch);
    match plan.limit {
        Limit::Above(limit) => format!("{watch} {value}, high limit {}", shown(limit, unit)),
        Limit::Below(limit) => format!("{watch} {value}, low limit {}", shown(limit, unit)),
        Limit::Outside(low, high) => format!(
            "{watch} {value}, limits {} and {}",
            shown(low, unit),
            shown(high, unit)
        ),
        Limit::BadQuality => format!("{watch} {value}"),
    }
}

fn watched(watch: Watch) -> &'static str {
    match watch {
        Watch::Level => "level",
        Watch::Fill => "fill",
        Watch::Volume => "volume",
        Watch::Ullage => "ullage",
        Watch::Mass => "mass",
        Watch::Density => "density",
        Watch::Temperature => "temperature",
        Watch::Rate => "rate of level",
        Watch::NetFlow => "net flow",
        Watch::Uncertainty => "uncertainty of level",
        Watch::Measurement => "measurement",
    }
}

/// What jumped, what speaks for the verdict, what to do.
pub fn jump(jump: &Jump) -> String {
    let size_mm = jump.size.value * 1000.0;
    let moved = format!(
        "level jumped by {size_mm:+.0} mm ({:+.2} kPa); flow and noise allow {:.0} mm",
        jump.pressure_pa / 1000.0,
        jump.possible.value * 1000.0
    );
    let evidence = match (jump.verdict, jump.headspace_pa) {
        (JumpVerdict::PressureArtefact, Some(change_pa)) => {
            let side = if change_pa * jump.pressure_pa > 0.0 {
                "the low side does not feel the gas (plugged, closed or open to air)"
            } else {
                "the high side does not feel the gas (plugged or closed)"
            };
            format!(
                "pressure artefact: the headspace moved by {:+.2} kPa at the same time, so the liquid did not move; {side}",
                change_pa / 1000.0
            )
        }
        (_, Some(change_pa)) => {
            format!(
                "unexplained: the headspace moved by only {:+.2} kPa",
                change_pa / 1000.0
            )
        }
        (_, None) => "unexplained: no headspace pressure to compare with".to_owned(),
    };
    format!("{moved}. {evidence}. Look at the sight glass, then confirm the level")
}
