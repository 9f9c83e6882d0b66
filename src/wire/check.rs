//! What is said of a site file: its errors, or else counsel on its alarms.

use schemars::JsonSchema;
use serde::Serialize;

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "check")]
pub struct CheckForm {
    /// The site's name; null where the file is refused.
    pub site: Option<String>,
    /// Why the file is refused.
    pub problems: Vec<PlacedForm>,
    /// What is legal and does not work, or not as it looks.
    pub findings: Vec<AdviceForm>,
}

/// Something that is said of a place in the file.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "placed")]
pub struct PlacedForm {
    /// Counted from 1; null where it is the file as a whole.
    pub line: Option<usize>,
    pub column: Option<usize>,
    pub what: String,
    /// Empty where `what` says it.
    pub why: String,
    /// What a person is to do.
    pub remedy: String,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "advice")]
pub struct AdviceForm {
    /// The rule's name; it stays.
    pub rule: &'static str,
    pub tank: Option<String>,
    /// The alarm's code.
    pub alarm: Option<String>,
    #[serde(flatten)]
    pub at: PlacedForm,
}
