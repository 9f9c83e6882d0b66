//! What diagnosis finds on a tank, and what it could find there.

use super::time;
use crate::engine::snapshot::{Ability, OpenFinding};
use schemars::JsonSchema;
use serde::Serialize;

/// A fault that is held to be there.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "finding")]
pub struct FindingForm {
    /// The fault, in words from one list.
    pub verdict: &'static str,
    /// The transmitter or stream that it is about; null where it is the tank.
    pub subject: Option<String>,
    /// "possible" or "probable".
    pub confidence: &'static str,
    /// By NAMUR NE 107: "failure", "function check", "out of specification" or "maintenance required".
    pub category: &'static str,
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    /// What speaks for it, with its numbers.
    pub evidence: String,
    /// What a person is to do.
    pub remedy: &'static str,
}

/// What a check could find on a tank, or why it can't.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ability")]
pub struct AbilityForm {
    pub check: &'static str,
    pub diagnosable: bool,
    pub text: String,
}

impl FindingForm {
    pub fn new(open: &OpenFinding) -> Self {
        let finding = &open.finding;
        Self {
            verdict: finding.fault.name(),
            subject: finding.subject.as_deref().map(str::to_owned),
            confidence: finding.confidence.name(),
            category: finding.fault.category().name(),
            since: time(open.since),
            evidence: finding.evidence.clone(),
            remedy: finding.fault.remedy(),
        }
    }
}

impl AbilityForm {
    pub fn new(ability: &Ability) -> Self {
        Self {
            check: ability.check,
            diagnosable: ability.diagnosable,
            text: ability.text.clone(),
        }
    }
}
