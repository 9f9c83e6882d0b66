//! Alarms: condition (limit, deadband, delays) and lifecycle (ANSI/ISA-18.2, IEC 62682).

mod condition;
mod lifecycle;
mod watched;

pub use condition::{Known, judge};
pub use lifecycle::{Alarm, Judgement, Transition};
pub use watched::{judgement, value};

/// A state of the lifecycle, with the code that goes out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AlarmState {
    /// A: not active, nothing to answer.
    #[default]
    Normal,
    /// B: active, nobody has answered.
    Unacknowledged,
    /// C: active, answered.
    Acknowledged,
    /// D: back to normal, never answered.
    ReturnedUnacknowledged,
}

impl AlarmState {
    pub const ALL: &'static [AlarmState] = &[
        AlarmState::Normal,
        AlarmState::Unacknowledged,
        AlarmState::Acknowledged,
        AlarmState::ReturnedUnacknowledged,
    ];

    /// The code of the standard's state.
    pub fn code(self) -> &'static str {
        match self {
            AlarmState::Normal => "NORM",
            AlarmState::Unacknowledged => "UNACK",
            AlarmState::Acknowledged => "ACKED",
            AlarmState::ReturnedUnacknowledged => "RTNUN",
        }
    }
    /// The state in words.
    pub fn words(self) -> &'static str {
        match self {
            AlarmState::Normal => "normal",
            AlarmState::Unacknowledged => "active, unacknowledged",
            AlarmState::Acknowledged => "active, acknowledged",
            AlarmState::ReturnedUnacknowledged => "returned to normal, unacknowledged",
        }
    }
    pub fn is_active(self) -> bool {
        matches!(self, AlarmState::Unacknowledged | AlarmState::Acknowledged)
    }
    pub fn needs_acknowledgement(self) -> bool {
        matches!(
            self,
            AlarmState::Unacknowledged | AlarmState::ReturnedUnacknowledged
        )
    }
}
