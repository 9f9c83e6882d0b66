//! The engine: a pure state machine. It takes time and readings, and answers with values, quality,
//! reasons, alarms and events. It reads no clock, does no I/O and cannot fail.

pub mod alarm;
mod alarm_commands;
mod annunciation;
mod bad_data;
mod changes;
pub mod checks;
pub mod command;
pub mod contact;
mod diagnose;
pub mod event;
pub mod forecast;
mod frame;
pub mod horn;
pub mod ids;
pub mod live_test;
pub mod memory;
pub mod notice;
mod obey;
pub mod plan;
mod product;
pub mod quality;
pub mod rate;
pub mod reading;
mod refused;
pub mod restart;
pub mod rounds;
pub mod signal;
pub mod snapshot;
mod step;
mod system;
pub mod tank;
pub mod transfer;
pub mod trend;
mod view;
pub mod words;
pub mod work;

pub use command::{Command, Done, Refusal, TransferTo};
pub use event::{Event, EventKind};
pub use ids::{AlarmId, CommandId, ContactId, LinkId, TankId, TransmitterId};
pub use memory::{AlarmMemory, Memory, Remembered, RememberedKind};
pub use notice::{Notice, NoticeId, Outcome, RecipientId};
pub use plan::{Plan, SystemPart};
pub use quality::{Quality, Reason, Reasons};
pub use reading::Reading;
pub use snapshot::Snapshot;
pub use step::Engine;

use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

/// A moment on both clocks: delays go by `up`, shown times by `utc`; their gap shows clock steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Now {
    pub up: Duration,
    pub utc: Timestamp,
}

/// One transmitter's answer in a read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    pub transmitter: TransmitterId,
    pub raw: Result<f64, Fault>,
}

/// One contact's answer in a read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContactSample {
    pub contact: ContactId,
    pub bit: Result<bool, Fault>,
}

/// Why a read gave no number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Silence: time-out, broken connection, no connection.
    NoAnswer,
    /// The device answered that it won't: a Modbus exception and its code.
    Exception(u8),
}

/// How a link stands, in words for people.
#[derive(Clone, Debug, PartialEq)]
pub enum LinkState {
    Up,
    Down { trouble: Arc<str> },
}

/// How the journal fares.
#[derive(Clone, Debug, PartialEq)]
pub enum JournalState {
    /// It can't be written: what happens waits in memory.
    Failing { trouble: Arc<str> },
    /// It is written again.
    Written { lost: JournalLoss },
    /// One that could not be read is kept aside under that name, and a new one was started.
    Replaced { aside: Arc<str> },
}

/// What there was no room for while the journal could not be written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct JournalLoss {
    pub events: u64,
    /// The lowest and the highest number among them.
    pub numbers: Option<(u64, u64)>,
    /// Minutes of a series of samples.
    pub minutes: u64,
}

#[derive(Clone, Debug)]
pub enum Input<'a> {
    /// One whole read of transmitters.
    Samples(&'a [Sample]),
    /// One whole read of transmitters and contacts: all of it counts as one moment.
    Read(&'a [Sample], &'a [ContactSample]),
    Link(LinkId, LinkState),
    Command(CommandId, Command),
    /// Somebody tried what they may not: who, if that is known, and what.
    Forbidden {
        person: Option<Arc<str>>,
        text: String,
    },
    /// Somebody signed in or out, in words.
    Session {
        person: Arc<str>,
        text: String,
    },
    /// How the journal fares has changed.
    Journal(JournalState),
    /// What became of a notice.
    Delivered(NoticeId, Outcome),
    /// A part of the system that the engine does not see for itself is in trouble, and why; or, with none,
    /// it is well again.
    System(SystemPart, Option<Arc<str>>),
    /// Time went by; see [`Engine::due`].
    Tick,
    /// The program is about to end.
    Stop,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    Event(Event),
    /// What must survive a restart, after the event of the same transition.
    Keep {
        tank: Arc<str>,
        code: Arc<str>,
        memory: AlarmMemory,
    },
    /// What else must survive a restart, after the event that brought it about; none: nothing any more.
    Remember {
        kind: RememberedKind,
        of: Arc<str>,
        memory: Option<Remembered>,
    },
    Answer(CommandId, Result<Done, Refusal>),
    /// Somebody must be told.
    Notify(Notice),
    /// A tank has a new reading.
    Reading(TankId),
}
