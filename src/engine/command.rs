//! What people ask of the engine, and what it answers.

use crate::quantity::{Timestamp, span};
use std::fmt;
use std::sync::Arc;
use std::time::Duration;

#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Acknowledge an alarm. `activation` is the event number of the activation that is answered;
    /// without it, the present one.
    Acknowledge {
        tank: String,
        code: String,
        by: Arc<str>,
        activation: Option<u64>,
    },
    /// Reset an alarm that is latched and acknowledged.
    Reset {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// Hide an alarm for a time; `once`: until its condition clears, if that is sooner.
    Shelve {
        tank: String,
        code: String,
        by: Arc<str>,
        time: Duration,
        reason: Arc<str>,
        once: bool,
    },
    Unshelve {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// Hide an alarm for maintenance, until it is returned.
    OutOfService {
        tank: String,
        code: String,
        by: Arc<str>,
        reason: Option<Arc<str>>,
    },
    Return {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// The sight glass was looked at: the reading after a jump is taken as it stands again.
    ConfirmLevel { tank: String, by: Arc<str> },
    /// A low leg that was held to be flooded is drained.
    ConfirmLegDrained { tank: String, by: Arc<str> },
    /// Try the way to those whom a `[[notice]]` tells.
    TestNotice { name: String, by: Arc<str> },
}

/// A command that was carried out, in a sentence for the person who gave it.
#[derive(Clone, Debug, PartialEq)]
pub struct Done(pub String);

/// Why a command was not carried out. Nothing has changed then.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    UnknownTank {
        tank: String,
    },
    UnknownAlarm {
        tank: String,
        code: String,
    },
    NothingToAcknowledge {
        tank: String,
        code: String,
        state: &'static str,
    },
    OlderActivation {
        named: u64,
        present: u64,
    },
    /// Latched, and nobody has acknowledged it.
    AcknowledgeFirst {
        tank: String,
        code: String,
    },
    NothingToReset {
        tank: String,
        code: String,
        state: &'static str,
    },
    /// The site file does not let this alarm be shelved.
    NeverShelved {
        tank: String,
        code: String,
    },
    NoReason,
    ShelfTime {
        asked: Duration,
        at_most: Duration,
    },
    AlreadyShelved {
        tank: String,
        code: String,
        until: Timestamp,
    },
    NotShelved {
        tank: String,
        code: String,
    },
    AlreadyOutOfService {
        tank: String,
        code: String,
    },
    NotOutOfService {
        tank: String,
        code: String,
    },
    NoJump {
        tank: String,
    },
    LegNotFlooded {
        tank: String,
    },
    UnknownNotice {
        name: String,
    },
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refusal::UnknownTank { tank } => write!(f, "there is no tank \"{tank}\""),
            Refusal::UnknownAlarm { tank, code } => {
                write!(f, "tank \"{tank}\" has no alarm \"{code}\"")
            }
            Refusal::NothingToAcknowledge { tank, code, state } => {
                write!(f, "{tank} {code} is {state}: nothing to acknowledge")
            }
            Refusal::OlderActivation { named, present } => write!(
                f,
                "activation {named} is over; the present one is {present}: look at it, then acknowledge that"
            ),
            Refusal::AcknowledgeFirst { tank, code } => write!(
                f,
                "{tank} {code} is latched and nobody has acknowledged it: acknowledge it first, then reset it"
            ),
            Refusal::NothingToReset { tank, code, state } => {
                write!(f, "{tank} {code} is {state}: nothing to reset")
            }
            Refusal::NeverShelved { tank, code } => write!(
                f,
                "{tank} {code} has the highest priority and cannot be shelved; the site file can allow it with shelve = {{ at_most = \"8 h\" }} on that alarm"
            ),
            Refusal::NoReason => write!(f, "shelving needs a reason"),
            Refusal::ShelfTime { asked, .. } if asked.is_zero() => {
                write!(f, "shelving needs a time of more than 0")
            }
            Refusal::ShelfTime { asked, at_most } => write!(
                f,
                "{} on the shelf is too long: {} at most",
                span(*asked),
                span(*at_most)
            ),
            Refusal::AlreadyShelved { tank, code, until } => write!(
                f,
                "{tank} {code} is shelved already, until {until:.0}: unshelve it first"
            ),
            Refusal::NotShelved { tank, code } => write!(f, "{tank} {code} is not shelved"),
            Refusal::AlreadyOutOfService { tank, code } => {
                write!(f, "{tank} {code} is out of service already")
            }
            Refusal::NotOutOfService { tank, code } => {
                write!(f, "{tank} {code} is not out of service")
            }
            Refusal::NoJump { tank } => {
                write!(f, "tank \"{tank}\" has no jump that waits to be confirmed")
            }
            Refusal::UnknownNotice { name } => write!(f, "the site file has no notice \"{name}\""),
            Refusal::LegNotFlooded { tank } => write!(
                f,
                "the low leg of tank \"{tank}\" is not held to be flooded"
            ),
        }
    }
}
