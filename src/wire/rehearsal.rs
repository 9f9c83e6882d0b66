//! What came of scripts that were rehearsed.

use super::EventForm;
use schemars::JsonSchema;
use serde::Serialize;

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "rehearsal")]
pub struct RehearsalForm {
    pub site: String,
    /// Whether every expectation of every script is met.
    pub met: bool,
    pub scripts: Vec<RehearsedForm>,
    /// Null where it was not asked for.
    pub coverage: Option<Vec<CoverageForm>>,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "rehearsed")]
pub struct RehearsedForm {
    pub script: String,
    pub seed: u64,
    pub last_s: f64,
    pub met: bool,
    /// How many commands people gave in it.
    pub commands: usize,
    pub expectations: Vec<ExpectationForm>,
    /// All that it told, in order; null where that was not asked for.
    pub events: Option<Vec<ToldForm>>,
}

/// An event, and when from the start it came.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "told")]
pub struct ToldForm {
    pub at_s: f64,
    pub event: EventForm,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "expectation")]
pub struct ExpectationForm {
    /// Of the script.
    pub line: usize,
    pub expected: String,
    pub met: bool,
    pub found: String,
    /// Where to look, from the start.
    pub at_s: f64,
    /// The moments around it; empty where it is met.
    pub around: Vec<AroundForm>,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "around")]
pub struct AroundForm {
    pub at_s: f64,
    pub text: String,
}

/// What the scripts together have exercised of one alarm.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(rename = "coverage")]
pub struct CoverageForm {
    /// "system" for alarms of the system itself.
    pub tank: String,
    pub code: String,
    pub activated: bool,
    pub acknowledged: bool,
    pub cleared: bool,
    /// What it watches was bad.
    pub bad: bool,
}
