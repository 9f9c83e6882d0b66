//! Commands as they come in, and their answers: one JSON object a line on the local socket.

use super::rounds::{DipForm, SightForm};
use crate::engine::command::{Permit, TestValue, TransferTo, Value};
use crate::engine::{Command, Done, Refusal};
use crate::quantity::{cubic_metres, metres};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::time::Duration;

/// What can be asked. `by` is the person who asks; left out, the one person who the caller is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "command", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Request {
    /// Acknowledge an alarm; `activation` is the number of the event that is answered.
    Ack {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
        activation: Option<u64>,
    },
    /// Reset an alarm that is latched and acknowledged.
    Reset {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
    },
    /// Hide an alarm for a time; `once`: until its condition clears, if that is sooner.
    Shelve {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
        time_s: f64,
        reason: String,
        once: bool,
    },
    /// Show a shelved alarm again.
    Unshelve {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
    },
    /// Hide an alarm for maintenance, until it is returned.
    OutOfService {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
        reason: Option<String>,
    },
    /// Return an alarm to service.
    Return {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
    },
    /// After a jump: the sight glass was looked at, the level counts as it stands.
    ConfirmLevel {
        tank: String,
        #[serde(default)]
        by: String,
    },
    /// A low leg that was held to be flooded is drained.
    ConfirmLegDrained {
        tank: String,
        #[serde(default)]
        by: String,
    },
    /// What the sight glass shows.
    Sight(SightForm),
    /// What a tape says.
    Dip(DipForm),
    /// What is in the tank now, by the name of one of its products.
    Product {
        tank: String,
        product: String,
        #[serde(default)]
        by: String,
    },
    /// Follow a filling or drawing to its target.
    Transfer {
        tank: String,
        to: To,
        tell_s: f64,
        stop_within_s: f64,
        #[serde(default)]
        by: String,
    },
    /// End the transfer that is under way.
    EndTransfer {
        tank: String,
        #[serde(default)]
        by: String,
    },
    /// Work on a transmitter begins; `hand` stands in for it, in its own SI unit.
    Work {
        tag: String,
        permit: String,
        time_s: f64,
        hand: Option<f64>,
        #[serde(default)]
        by: String,
    },
    /// The transmitter is back; `anyway`: whatever its signal says.
    EndWork {
        tag: String,
        anyway: bool,
        #[serde(default)]
        by: String,
    },
    /// Silence the horn at a place, or everywhere; no alarm is answered by it.
    Silence {
        place: Option<String>,
        #[serde(default)]
        by: String,
    },
    /// Try an alarm by a value that is put in at a transmitter (`at`; the one on the liquid if null): what it reads
    /// at a level, or a value in the SI unit of what it reads.
    TestAlarm {
        tank: String,
        code: String,
        level_m: Option<f64>,
        value_si: Option<f64>,
        at: Option<String>,
        time_s: f64,
        #[serde(default)]
        by: String,
    },
    /// Take that value away before its time.
    EndTestAlarm {
        tank: String,
        code: String,
        #[serde(default)]
        by: String,
    },
    /// A person's own words, of a tank or of the site.
    Note {
        tank: Option<String>,
        text: String,
        #[serde(default)]
        by: String,
    },
    /// Try the way to those whom a `[[notice]]` tells.
    TestNotice {
        name: String,
        #[serde(default)]
        by: String,
    },
    /// Everything as it stands now.
    Status,
}

/// Where a transfer ends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum To {
    LevelM(f64),
    #[serde(rename = "volume_m3")]
    VolumeM3(f64),
    /// So much more, or with a minus less.
    #[serde(rename = "by_m3")]
    ByM3(f64),
}

impl From<To> for TransferTo {
    fn from(to: To) -> Self {
        match to {
            To::LevelM(level) => TransferTo::Level(metres(level)),
            To::VolumeM3(volume) => TransferTo::Volume(cubic_metres(volume)),
            To::ByM3(change) => TransferTo::ByVolume(cubic_metres(change)),
        }
    }
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
            Request::Reset { tank, code, by } => Some(Command::Reset {
                tank,
                code,
                by: by.into(),
            }),
            Request::Shelve {
                tank,
                code,
                by,
                time_s,
                reason,
                once,
            } => Some(Command::Shelve {
                tank,
                code,
                by: by.into(),
                time: time(time_s),
                reason: reason.into(),
                once,
            }),
            Request::Unshelve { tank, code, by } => Some(Command::Unshelve {
                tank,
                code,
                by: by.into(),
            }),
            Request::OutOfService {
                tank,
                code,
                by,
                reason,
            } => Some(Command::OutOfService {
                tank,
                code,
                by: by.into(),
                reason: reason.map(Into::into),
            }),
            Request::Return { tank, code, by } => Some(Command::Return {
                tank,
                code,
                by: by.into(),
            }),
            Request::ConfirmLevel { tank, by } => Some(Command::ConfirmLevel {
                tank,
                by: by.into(),
            }),
            Request::ConfirmLegDrained { tank, by } => Some(Command::ConfirmLegDrained {
                tank,
                by: by.into(),
            }),
            Request::Sight(sight) => Some(sight.command()),
            Request::Dip(dip) => Some(dip.command()),
            Request::Product { tank, product, by } => Some(Command::ChooseProduct {
                tank,
                product,
                by: by.into(),
            }),
            Request::Transfer {
                tank,
                to,
                tell_s,
                stop_within_s,
                by,
            } => Some(Command::Transfer {
                tank,
                to: to.into(),
                tell: time(tell_s),
                stop_within: time(stop_within_s),
                by: by.into(),
            }),
            Request::EndTransfer { tank, by } => Some(Command::EndTransfer {
                tank,
                by: by.into(),
            }),
            Request::Work {
                tag,
                permit,
                time_s,
                hand,
                by,
            } => Some(Command::Work {
                tag,
                permit: Permit {
                    number: permit.into(),
                    time: time(time_s),
                    hand: hand.filter(|hand| hand.is_finite()),
                },
                by: by.into(),
            }),
            Request::EndWork { tag, anyway, by } => Some(Command::EndWork {
                tag,
                anyway,
                by: by.into(),
            }),
            Request::Silence { place, by } => Some(Command::Silence {
                place: place.map(Into::into),
                by: by.into(),
            }),
            Request::TestAlarm {
                tank,
                code,
                level_m,
                value_si,
                at,
                time_s,
                by,
            } => Some(Command::TestAlarm {
                tank,
                code,
                test: TestValue {
                    at,
                    value: match (level_m, value_si) {
                        (Some(level_m), _) => Value::Level(metres(level_m)),
                        // What is no number at all is outside of what any sensor can tell.
                        (None, value) => Value::Reads(value.unwrap_or(f64::NAN)),
                    },
                    time: time(time_s),
                },
                by: by.into(),
            }),
            Request::EndTestAlarm { tank, code, by } => Some(Command::EndTestAlarm {
                tank,
                code,
                by: by.into(),
            }),
            Request::Note { tank, text, by } => Some(Command::Note {
                tank,
                text: text.into(),
                by: by.into(),
            }),
            Request::TestNotice { name, by } => Some(Command::TestNotice {
                name,
                by: by.into(),
            }),
            Request::Status => None,
        }
    }

    /// The person who asks, where something is to be changed.
    pub fn by_mut(&mut self) -> Option<&mut String> {
        match self {
            Request::Ack { by, .. }
            | Request::Reset { by, .. }
            | Request::Shelve { by, .. }
            | Request::Unshelve { by, .. }
            | Request::OutOfService { by, .. }
            | Request::Return { by, .. }
            | Request::ConfirmLevel { by, .. }
            | Request::ConfirmLegDrained { by, .. }
            | Request::Sight(SightForm { by, .. })
            | Request::Dip(DipForm { by, .. })
            | Request::Product { by, .. }
            | Request::Transfer { by, .. }
            | Request::EndTransfer { by, .. }
            | Request::Work { by, .. }
            | Request::EndWork { by, .. }
            | Request::Silence { by, .. }
            | Request::TestNotice { by, .. }
            | Request::TestAlarm { by, .. }
            | Request::EndTestAlarm { by, .. }
            | Request::Note { by, .. } => Some(by),
            Request::Status => None,
        }
    }

    /// The word for it on the wire: "out-of-service".
    pub fn name(&self) -> String {
        let form = serde_json::to_value(self).unwrap_or_default();
        form["command"].as_str().unwrap_or_default().to_owned()
    }
}

/// What is no time at all counts as none.
fn time(time_s: f64) -> Duration {
    Duration::try_from_secs_f64(time_s).unwrap_or_default()
}

impl Answer {
    pub fn of(answer: Result<Done, Refusal>) -> Self {
        match answer {
            Ok(Done(text)) => Answer::Done(text),
            Err(refusal) => Answer::Refused(refusal.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_request_is_read_as_it_is_written() {
        let text = r#"{"command":"shelve","tank":"clearwell","code":"LAH","by":"Ada","time_s":7200.0,"reason":"float sticks","once":true}"#;
        let mut request: Request = serde_json::from_str(text).expect("a request");
        assert_eq!(serde_json::to_string(&request).expect("written"), text);
        assert_eq!(request.by_mut().map(|by| by.as_str()), Some("Ada"));
        assert_eq!(request.name(), "shelve");
        let command = Command::Shelve {
            tank: "clearwell".into(),
            code: "LAH".into(),
            by: "Ada".into(),
            time: Duration::from_secs(7200),
            reason: "float sticks".into(),
            once: true,
        };
        assert_eq!(request.command(), Some(command));
    }

    #[test]
    fn a_time_that_is_none_is_no_time() {
        for time_s in [-1.0, f64::NAN, f64::INFINITY] {
            let request = Request::Shelve {
                tank: String::new(),
                code: String::new(),
                by: String::new(),
                time_s,
                reason: String::new(),
                once: false,
            };
            let time = match request.command() {
                Some(Command::Shelve { time, .. }) => time,
                other => panic!("{other:?}"),
            };
            assert_eq!(time, Duration::ZERO);
        }
    }
}
