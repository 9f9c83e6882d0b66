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
    /// The columns of a table of events; see [`EventForm::cells`].
    pub const COLUMNS: [&'static str; 10] = [
        "number", "time", "kind", "tank", "code", "from", "to", "person", "test", "text",
    ];

    /// One row of such a table; what is null is empty.
    pub fn cells(&self) -> [String; 10] {
        let word = |word: Option<&'static str>| word.unwrap_or_default().to_owned();
        let text = |text: &Option<String>| text.clone().unwrap_or_default();
        [
            self.number.to_string(),
            self.time.clone(),
            self.kind.to_owned(),
            text(&self.tank),
            text(&self.code),
            word(self.from),
            word(self.to),
            text(&self.person),
            self.test.to_string(),
            self.text.clone(),
        ]
    }

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
