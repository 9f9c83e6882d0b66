//! The engine's sentences for people: what an event says.

use super::ContactId;
use super::alarm::{Alarm, AlarmState, Cause, Process, Transition};
use super::checks::jump::{Jump, JumpVerdict};
use super::contact::ContactValue;
use super::memory::Shelf;
use super::plan::{AlarmPlan, Condition, Gives, Limit, Plan, TankPlan, Watch};
use super::quality::Reasons;
use super::tank::Working;
use super::{JournalLoss, JournalState};
use crate::quantity::{Length, Unit, print};

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

/// The quality that reasons give, and the reasons.
pub fn quality(all: Reasons) -> String {
    let name = all.quality().name();
    if all.is_empty() {
        return name.to_owned();
    }
    format!("{name}: {}", reasons(all))
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

/// What an alarm's transition means for the person who reads it; `what` says how its condition stands.
pub fn alarm(plan: &AlarmPlan, alarm: &Alarm, transition: Transition, what: &str) -> String {
    let flags = alarm.flags();
    match transition.cause {
        Cause::Condition => condition(plan, transition, what),
        Cause::ReAlarm => respond(plan, &format!("still active: {what}")),
        Cause::Acknowledged if transition.to == AlarmState::Normal => {
            "acknowledged after it had returned to normal".to_owned()
        }
        Cause::Acknowledged => "acknowledged".to_owned(),
        Cause::Reset => "reset".to_owned(),
        Cause::Shelved => flags.shelf.as_ref().map_or_else(String::new, shelved),
        Cause::Unshelved => emerged("unshelved", transition),
        Cause::ShelfTimeUp => emerged("its time on the shelf is up", transition),
        Cause::ShelfCleared => emerged("its condition has cleared, as its shelf asks", transition),
        Cause::ShelfUndeterminable => emerged(
            "unshelved: the clock stands before the last entry, so nobody can say when its time is up",
            transition,
        ),
        Cause::Suppressed => {
            let cause = flags
                .suppressed
                .as_ref()
                .map(|suppressed| &*suppressed.cause);
            format!("suppressed by design: {}", cause.unwrap_or_default())
        }
        Cause::SuppressionOver => emerged("its suppression is over", transition),
        Cause::SuppressionTooLong => emerged(
            "its suppression has lasted as long as it may, though its condition may still hold",
            transition,
        ),
        Cause::OutOfService => {
            let out = flags.out_of_service.as_ref();
            let reason = out.and_then(|out| out.reason.as_deref());
            reason.map_or_else(
                || "taken out of service".to_owned(),
                |reason| format!("taken out of service: {reason}"),
            )
        }
        Cause::Returned => emerged("returned to service", transition),
        Cause::Removed => "gone from the site file".to_owned(),
    }
}

fn condition(plan: &AlarmPlan, transition: Transition, what: &str) -> String {
    if transition.from == transition.to {
        let now = if transition.process.is_active() {
            "active"
        } else {
            "back to normal"
        };
        return format!("{now} while {}: {what}", transition.to.words());
    }
    match transition.process {
        Process::Unacknowledged => respond(plan, what),
        Process::ReturnedUnacknowledged => format!("back to normal, not acknowledged: {what}"),
        Process::LatchedUnacknowledged => {
            format!("back to normal, latched until it is acknowledged and reset: {what}")
        }
        Process::LatchedAcknowledged => {
            format!("back to normal, latched until it is reset: {what}")
        }
        Process::Normal | Process::Acknowledged => format!("back to normal: {what}"),
    }
}

fn respond(plan: &AlarmPlan, what: &str) -> String {
    match &plan.record.response {
        Some(response) => format!("{what}. Response: {response}"),
        None => what.to_owned(),
    }
}

fn shelved(shelf: &Shelf) -> String {
    let once = if shelf.once {
        ", or until its condition clears"
    } else {
        ""
    };
    format!("shelved until {:.0}{once}: {}", shelf.until, shelf.reason)
}

/// Something that hid an alarm has ended.
fn emerged(what: &str, transition: Transition) -> String {
    match transition.to {
        AlarmState::Unacknowledged => format!("{what}; it is active"),
        AlarmState::Normal => what.to_owned(),
        state => format!("{what}; it is {}", state.words()),
    }
}

/// How a watched value stands to its limit.
pub fn value(plan: &AlarmPlan, value: Option<f64>, trouble: Reasons) -> String {
    let Some(unit) = plan.unit else {
        return if trouble.is_empty() {
            "measured again".to_owned()
        } else {
            format!("no measurement: {}", reasons(trouble))
        };
    };
    let (watched, limit) = (watched(plan.watch), limit(plan));
    let Some(value) = value else {
        return format!("{watched}: {}, {limit}", reasons(trouble));
    };
    // Only what holds the alarm, since it was beyond the limit before.
    let held = match is_in_deadband(plan, value) {
        true => ", within its deadband",
        false => "",
    };
    format!("{watched} {}, {limit}{held}", shown(value, unit))
}

/// Back from beyond the limit, but by less than the deadband.
fn is_in_deadband(plan: &AlarmPlan, value: f64) -> bool {
    let inside = |inward: f64| inward > 0.0 && inward <= plan.deadband;
    match plan.limit {
        Limit::Above(limit) => inside(limit - value),
        Limit::Below(limit) => inside(value - limit),
        Limit::Outside(low, high) => inside(value - low) || inside(high - value),
        Limit::BadQuality | Limit::Overdue | Limit::Is(_) => false,
    }
}

/// "high limit 5.400 m".
pub fn limit(plan: &AlarmPlan) -> String {
    let Some(unit) = plan.unit else {
        return format!("the limit of {}", plan.code);
    };
    match plan.limit {
        Limit::Above(limit) => format!("high limit {}", shown(limit, unit)),
        Limit::Below(limit) => format!("low limit {}", shown(limit, unit)),
        Limit::Outside(low, high) => {
            format!("limits {} and {}", shown(low, unit), shown(high, unit))
        }
        Limit::BadQuality | Limit::Overdue | Limit::Is(_) => format!("the limit of {}", plan.code),
    }
}

/// How a contact stands: "LSHH-101 is on (high-high level)".
pub fn contact(plan: &Plan, contact: ContactId, said: ContactValue) -> String {
    let contact = &plan.contacts[contact.index()];
    let Some(on) = said.on else {
        return format!("{} is not known: {}", contact.tag, reasons(said.reasons));
    };
    let state = if on { "on" } else { "off" };
    match contact.means(on) {
        Some(means) => format!("{} is {state} ({means})", contact.tag),
        None => format!("{} is {state}", contact.tag),
    }
}

/// A condition that holds, in words.
pub fn condition_holds(plan: &Plan, condition: Condition) -> String {
    let said = ContactValue {
        on: Some(condition.on),
        reasons: Reasons::NONE,
    };
    contact(plan, condition.contact, said)
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
        Watch::TimeToOverflow => "time to overflow",
        Watch::Measurement => "measurement",
        Watch::Transfer => "transfer",
        Watch::Contact(_) => "contact",
        Watch::System(_) => "system",
    }
}

/// The level of each hookup that tells one.
pub fn levels(tank: &TankPlan, workings: &[Working]) -> String {
    tank.hookups
        .iter()
        .zip(workings)
        .filter(|(hookup, _)| hookup.gives == Gives::Level)
        .map(|(hookup, working)| match working.level {
            Some(level) => format!("{} {:.3} m", hookup.name, level.value),
            None => format!("{} none", hookup.name),
        })
        .collect::<Vec<_>>()
        .join(", ")
}

/// What jumped, what speaks for the verdict, what to do.
/// How far the level moved at once; nothing where one of the two is not known.
pub fn level_step(was: Option<Length>, now: Option<Length>) -> String {
    match was.zip(now) {
        Some((was, now)) => format!(
            "; the level now reads {:.3} m, {:+.0} mm",
            now.value,
            (now - was).value * 1e3
        ),
        None => String::new(),
    }
}

pub fn jump(jump: &Jump) -> String {
    let (size_mm, possible_mm) = (jump.size.value * 1e3, jump.possible.value * 1e3);
    // As many digits as tell one from the other.
    let near = (size_mm.abs() - possible_mm).abs() < 1.0;
    let decimals = usize::from(near);
    let moved = format!(
        "level jumped by {size_mm:+.decimals$} mm ({:+.2} kPa); flow and noise allow {possible_mm:.decimals$} mm",
        jump.pressure_pa / 1000.0,
    );
    if jump.verdict == JumpVerdict::GlassUnmoved {
        return format!(
            "{moved}. The sight glass stood at {:.3} m: the liquid did not move. Find what did at the transmitter and its lines",
            jump.plausible.value
        );
    }
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
        (JumpVerdict::CommonCause, _) => format!(
            "common cause: {} other tanks jumped within half a minute, so look at what they share",
            jump.together
        ),
        (JumpVerdict::EqualiserOpen, _) => {
            "equaliser open: no difference is left between the two ports".to_owned()
        }
        (JumpVerdict::LegLost, _) => {
            "wet leg lost: it moved by what the whole column in the low leg is worth; it reads high"
                .to_owned()
        }
        (JumpVerdict::UnitOrWords, _) => {
            "unit or word order: the number is off by the factor of another unit".to_owned()
        }
        (JumpVerdict::Real, _) => {
            "real: what is known to flow makes it; the largest flow in the site file is too small"
                .to_owned()
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
