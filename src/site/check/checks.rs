//! `[tank.checks]`, all but the jump: how long a number may stand, whose lines are clear, whether wild samples are
//! looked for, when nothing flows.

use super::contact::Contacts;
use crate::engine::plan::{ChecksPlan, IdleCheck, TankPlan, TransmitterPlan};
use crate::quantity::cubic_metres_per_second;
use crate::site::file::Table;

pub fn read(tank: &Table<'_>, contacts: &Contacts<'_>) -> Option<ChecksPlan> {
    let Some(checks) = tank.table("checks") else {
        return Some(ChecksPlan::default());
    };
    let frozen = checks.table("frozen");
    let frozen_after = frozen.as_ref().and_then(|frozen| frozen.duration("after"));
    let idle = match checks.table("idle") {
        Some(idle) => Some(read_idle(&idle, contacts)?),
        None => None,
    };
    Some(ChecksPlan {
        frozen_after,
        plugging: checks.table("plugging").is_some(),
        spike: checks.table("spike").is_some(),
        idle,
    })
}

fn read_idle(idle: &Table<'_>, contacts: &Contacts<'_>) -> Option<IdleCheck> {
    let when = if idle.has("when") {
        contacts.conditions(idle, "when")?
    } else {
        Vec::new()
    };
    let moves_at_most = if idle.has("moves_at_most") {
        Some(cubic_metres_per_second(idle.si("moves_at_most")?))
    } else {
        None
    };
    Some(IdleCheck {
        when,
        moves_at_most,
    })
}

/// What tanks say of their transmitters' numbers; the shortest time of several.
pub fn settle(transmitters: &mut [TransmitterPlan], tanks: &[TankPlan]) {
    for tank in tanks {
        for id in tank.transmitters() {
            let of_it = &mut transmitters[id.index()].frozen_after;
            let both = of_it.iter().chain(&tank.checks.frozen_after).min();
            *of_it = both.copied();
        }
    }
}
