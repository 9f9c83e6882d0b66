//! Commands as they come in, and their answers: one JSON object a line on the local socket.

use crate::engine::{Command, Done, Refusal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What can be asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "command", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Request {
    /// Acknowledge an alarm; `activation` is the number of the event that is answered.
    Ack {
        tank: String,
        code: String,
        by: String,
        activation: Option<u64>,
    },
    /// After a jump: the sight glass was looked at, the level counts as it stands.
    ConfirmLevel { tank: String, by: String },
    /// A low leg that was held to be flooded is drained.
    ConfirmLegDrained { tank: String, by: String },
    /// Everything as it stands now.
    Status,
}

/// What comes back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// It is done, in a sentence.
    Done(String),
    /// It was not done, and nothing has changed; why.
    Refused(String),
    /// The state of the site: tanks as under `/api/v1/tanks`, with links.
    Status(serde_json::Value),
}

impl Request {
    /// The engine's command; none for a question.
    pub fn command(self) -> Option<Command> {
        match self {
            Request::Ack {
                tank,
                code,
                by,
                activation,
            } => Some(Command::Acknowledge {
                tank,
                code,
                by: by.into(),
                activation,
            }),
            Request::ConfirmLevel { tank, by } => Some(Command::ConfirmLevel {
                tank,
                by: by.into(),
            }),
            Request::ConfirmLegDrained { tank, by } => Some(Command::ConfirmLegDrained {
                tank,
                by: by.into(),
            }),
            Request::Status => None,
        }
    }

    /// The person who asks, where something is to be changed.
    pub fn by(&self) -> Option<&str> {
        match self {
            Request::Ack { by, .. }
            | Request::ConfirmLevel { by, .. }
            | Request::ConfirmLegDrained { by, .. } => Some(by),
            Request::Status => None,
        }
    }
}

impl Answer {
    pub fn of(answer: Result<Done, Refusal>) -> Self {
        match answer {
            Ok(Done(text)) => Answer::Done(text),
            Err(refusal) => Answer::Refused(refusal.to_string()),
        }
    }
}
