//! What needs a person, and how much: the one order of the overview, the alarms and the handover.

use crate::engine::Quality;
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::{AlarmView, Priority, TankView};
use std::cmp::Reverse;

/// From what has to be seen to now, to what is well.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// Active, and nobody has answered.
    Act,
    /// Active, and somebody is at it.
    Answered,
    /// Back to normal, and waits for an answer or a reset.
    Settle,
    /// What is said of it may be wrong.
    Doubt,
    /// Something is hidden by a person or by design.
    Hidden,
    Calm,
}

impl Need {
    /// The class that carries its colour and shape.
    pub fn class(self) -> &'static str {
        match self {
            Need::Act => "act",
            Need::Answered => "answered",
            Need::Settle => "settle",
            Need::Doubt => "doubt",
            Need::Hidden => "hidden",
            Need::Calm => "calm",
        }
    }

    pub fn of_alarm(alarm: &AlarmView) -> Self {
        match alarm.state {
            AlarmState::Unacknowledged => Need::Act,
            AlarmState::Acknowledged => Need::Answered,
            AlarmState::ReturnedUnacknowledged
            | AlarmState::LatchedUnacknowledged
            | AlarmState::LatchedAcknowledged => Need::Settle,
            AlarmState::Shelved | AlarmState::Suppressed | AlarmState::OutOfService => Need::Hidden,
            AlarmState::Normal if alarm.questionable => Need::Doubt,
            AlarmState::Normal => Need::Calm,
        }
    }

    pub fn of_tank(tank: &TankView) -> Self {
        let of_alarms = tank.alarms.iter().map(Need::of_alarm).min();
        let doubted = tank.reading.quality != Quality::Good
            || tank.jump.is_some()
            || tank.test.is_some()
            || !tank.findings.is_empty();
        let own = if doubted { Need::Doubt } else { Need::Calm };
        of_alarms.map_or(own, |need| need.min(own))
    }
}

/// What sorts an alarm: the most urgent first.
pub fn rank(alarm: &AlarmView) -> (Need, Reverse<Priority>) {
    (Need::of_alarm(alarm), Reverse(alarm.priority))
}

/// The alarm of a tank that a person must see first; none where all are normal.
pub fn foremost(tank: &TankView) -> Option<&AlarmView> {
    let open = tank
        .alarms
        .iter()
        .filter(|alarm| Need::of_alarm(alarm) != Need::Calm);
    open.min_by_key(|alarm| rank(alarm))
}

/// The tanks, the most urgent first; as the site file has them where nothing tells them apart.
pub fn sorted(tanks: &[TankView]) -> Vec<&TankView> {
    let mut sorted: Vec<&TankView> = tanks.iter().collect();
    sorted.sort_by_key(|tank| {
        let priority = foremost(tank).map(|alarm| alarm.priority);
        (Need::of_tank(tank), Reverse(priority))
    });
    sorted
}
