//! An event of the journal. Every key is always present, null where it does not apply.

use super::time;
use crate::engine::Event;
use schemars::JsonSchema;
use serde::Serialize;

/// One thing that happened; numbers rise by one, so a repeated or a missing one can be told.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "event")]
pub struct EventForm {
    pub number: u64,
    #[schemars(extend("format" = "date-time"))]
    pub time: String,
    pub kind: &'static str,
    pub tank: Option<String>,
    /// Alarm code, or the link or tag that the event is about.
    pub code: Option<String>,
    /// Alarm state before and after.
    pub from: Option<&'static str>,
    pub to: Option<&'static str>,
    pub person: Option<String>,
    /// Follows from a value that was put in for a test; the text then begins with "TEST: ".
    pub test: bool,
    pub text: String,
}

impl EventForm {
    pub fn new(event: &Event) -> Self {
        Self {
            number: event.number,
            time: time(event.time),
            kind: event.kind.name(),
            tank: event.tank.as_deref().map(str::to_owned),
            code: event.code.as_deref().map(str::to_owned),
            from: event.from.map(|state| state.code()),
            to: event.to.map(|state| state.code()),
            person: event.person.as_deref().map(str::to_owned),
            test: event.is_test(),
            text: event.text.clone(),
        }
    }
}
