//! Who must be told: from annunciations to notices, repeated and escalated until somebody answers.
//!
//! What always holds: a notice is one message to one recipient and has a number that is never given twice, so
//! that a duplicate shows; of each alarm there is one call at most, so memory is bounded by the number of
//! alarms; an acknowledgement, or whatever hides the alarm, ends its call; what is open survives a restart.
//! The sending is somebody else's: [`Effect::Notify`](super::Effect::Notify) goes out, and
//! [`Input::Delivered`](super::Input::Delivered) says what became of it. Delivered means taken by the server
//! of the recipient; whether a person has read it only an acknowledgement says.

mod call;
mod deliver;
mod digest;
mod engine;
mod flood;
mod hours;
pub mod plan;
mod restore;
mod state;
mod view;
mod words;

pub use plan::{Escalation, FloodPlan, Hours, NoticesPlan, RouteId, RoutePlan, Until};
pub(super) use state::Notices;
pub use view::{CallView, NoticesView};

use super::plan::{Priority, Record};
use crate::quantity::Timestamp;
use std::sync::Arc;

/// The number of a notice; rises by one, over restarts too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct NoticeId(pub u64);

/// One of those who can be told: a place in the plan's list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RecipientId(pub u32);

impl RecipientId {
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// One message to one recipient.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    pub id: NoticeId,
    pub recipient: RecipientId,
    /// The recipient in words, and the `[[notice]]` that it is told by.
    pub to: Arc<str>,
    pub route: Arc<str>,
    pub time: Timestamp,
    pub kind: NoticeKind,
    /// Follows from a value that was put in for a test, or is itself one.
    pub test: bool,
    /// Sent before the restart already, perhaps: then with the same number.
    pub again: bool,
    /// Of what it is about, the most urgent.
    pub priority: Priority,
    pub subject: String,
    pub text: String,
    /// None of a test of the way itself.
    pub alarms: Vec<NoticeAlarm>,
    pub escalation: Option<NextTold>,
}

/// Why a notice goes out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoticeKind {
    /// An alarm annunciates.
    Alarm,
    /// Nobody has answered yet.
    Repeat,
    /// Nobody has answered those who were told before.
    Escalated,
    /// The process is back to normal, and nobody has answered.
    Returned,
    /// Several alarms in one message, while there is a flood.
    Digest,
    /// Whether the way to the recipient works.
    Test,
}

impl NoticeKind {
    pub fn name(self) -> &'static str {
        match self {
            NoticeKind::Alarm => "alarm",
            NoticeKind::Repeat => "repeat",
            NoticeKind::Escalated => "escalated",
            NoticeKind::Returned => "returned",
            NoticeKind::Digest => "digest",
            NoticeKind::Test => "test",
        }
    }
}

/// An alarm that a notice is about.
#[derive(Clone, Debug, PartialEq)]
pub struct NoticeAlarm {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    /// The event number that an acknowledgement answers.
    pub activation: u64,
    pub priority: Priority,
    pub since: Timestamp,
    /// The process is back to normal.
    pub returned: bool,
    /// How its condition stood when it annunciated.
    pub what: Arc<str>,
    pub record: Arc<Record>,
}

/// Who is told next if nobody answers, and when.
#[derive(Clone, Debug, PartialEq)]
pub struct NextTold {
    pub to: Arc<str>,
    pub at: Timestamp,
}

/// What became of a notice.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// The recipient's server has taken it.
    Delivered,
    /// Not after all attempts; why.
    Failed(Arc<str>),
}

#[cfg(test)]
mod tests;
