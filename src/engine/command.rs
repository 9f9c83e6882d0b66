//! What people ask of the engine, and what it answers.

use std::fmt;
use std::sync::Arc;

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
    /// The sight glass was looked at: the reading after a jump is taken as it stands again.
    ConfirmLevel { tank: String, by: Arc<str> },
    /// A low leg that was held to be flooded is drained.
    ConfirmLegDrained { tank: String, by: Arc<str> },
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
    NoJump {
        tank: String,
    },
    LegNotFlooded {
        tank: String,
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
            Refusal::NoJump { tank } => {
                write!(f, "tank \"{tank}\" has no jump that waits to be confirmed")
            }
            Refusal::LegNotFlooded { tank } => write!(
                f,
                "the low leg of tank \"{tank}\" is not held to be flooded"
            ),
        }
    }
}
