//! Alarms: condition (limit, deadband, delays) and lifecycle (ANSI/ISA-18.2, IEC 62682).

mod condition;
pub mod figures;
mod flags;
mod lifecycle;
mod watched;

pub use condition::{Known, judge};
pub use flags::{Flags, Teller, Wanted};
pub use lifecycle::{Alarm, Cause, Judgement, Seen, Transition};
pub use watched::{Judged, judgement, value};

/// What the process does and what people have answered: the states A to F, which run underneath whatever
/// hides them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Process {
    /// A: not active, nothing to answer.
    #[default]
    Normal,
    /// B: active, nobody has answered.
    Unacknowledged,
    /// C: active, answered.
    Acknowledged,
    /// D: back to normal, never answered.
    ReturnedUnacknowledged,
    /// E: back to normal, latched, never answered.
    LatchedUnacknowledged,
    /// F: back to normal, latched, answered: waits for the reset.
    LatchedAcknowledged,
}

impl Process {
    pub const ALL: &'static [Process] = &[
        Process::Normal,
        Process::Unacknowledged,
        Process::Acknowledged,
        Process::ReturnedUnacknowledged,
        Process::LatchedUnacknowledged,
        Process::LatchedAcknowledged,
    ];

    /// The code of the standard's state.
    pub fn code(self) -> &'static str {
        AlarmState::from(self).code()
    }
    pub fn is_active(self) -> bool {
        matches!(self, Process::Unacknowledged | Process::Acknowledged)
    }
}

/// A state of the lifecycle as it is shown, with the code that goes out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AlarmState {
    #[default]
    Normal,
    Unacknowledged,
    Acknowledged,
    ReturnedUnacknowledged,
    LatchedUnacknowledged,
    LatchedAcknowledged,
    /// G: hidden by a person, for a time and with a reason.
    Shelved,
    /// H: hidden by the site file's own logic.
    Suppressed,
    /// I: hidden by a person, for maintenance.
    OutOfService,
}

impl From<Process> for AlarmState {
    fn from(process: Process) -> Self {
        match process {
            Process::Normal => AlarmState::Normal,
            Process::Unacknowledged => AlarmState::Unacknowledged,
            Process::Acknowledged => AlarmState::Acknowledged,
            Process::ReturnedUnacknowledged => AlarmState::ReturnedUnacknowledged,
            Process::LatchedUnacknowledged => AlarmState::LatchedUnacknowledged,
            Process::LatchedAcknowledged => AlarmState::LatchedAcknowledged,
        }
    }
}

impl AlarmState {
    pub const ALL: &'static [AlarmState] = &[
        AlarmState::Normal,
        AlarmState::Unacknowledged,
        AlarmState::Acknowledged,
        AlarmState::ReturnedUnacknowledged,
        AlarmState::LatchedUnacknowledged,
        AlarmState::LatchedAcknowledged,
        AlarmState::Shelved,
        AlarmState::Suppressed,
        AlarmState::OutOfService,
    ];

    /// The code of the standard's state.
    pub fn code(self) -> &'static str {
        match self {
            AlarmState::Normal => "NORM",
            AlarmState::Unacknowledged => "UNACK",
            AlarmState::Acknowledged => "ACKED",
            AlarmState::ReturnedUnacknowledged => "RTNUN",
            AlarmState::LatchedUnacknowledged => "LATUN",
            AlarmState::LatchedAcknowledged => "LATAK",
            AlarmState::Shelved => "SHLVD",
            AlarmState::Suppressed => "DSUPR",
            AlarmState::OutOfService => "OOSRV",
        }
    }
    /// The state in words.
    pub fn words(self) -> &'static str {
        match self {
            AlarmState::Normal => "normal",
            AlarmState::Unacknowledged => "active, unacknowledged",
            AlarmState::Acknowledged => "active, acknowledged",
            AlarmState::ReturnedUnacknowledged => "returned to normal, unacknowledged",
            AlarmState::LatchedUnacknowledged => "latched, unacknowledged",
            AlarmState::LatchedAcknowledged => "latched, acknowledged",
            AlarmState::Shelved => "shelved",
            AlarmState::Suppressed => "suppressed by design",
            AlarmState::OutOfService => "out of service",
        }
    }
    /// Shown as active; what is hidden is not.
    pub fn is_active(self) -> bool {
        matches!(self, AlarmState::Unacknowledged | AlarmState::Acknowledged)
    }
    pub fn needs_acknowledgement(self) -> bool {
        matches!(
            self,
            AlarmState::Unacknowledged
                | AlarmState::ReturnedUnacknowledged
                | AlarmState::LatchedUnacknowledged
        )
    }
}
