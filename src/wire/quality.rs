//! Quality and its reasons, as every form with a measured value carries them.
//!
//! `quality_code` is the OPC UA status code (IEC 62541-4) of the worst reason.

use crate::engine::{Quality, Reason, Reasons};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;

/// How far a value can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(rename = "quality")]
pub enum QualityForm {
    Good,
    Uncertain,
    Bad,
}

impl From<Quality> for QualityForm {
    fn from(quality: Quality) -> Self {
        match quality {
            Quality::Good => QualityForm::Good,
            Quality::Uncertain => QualityForm::Uncertain,
            Quality::Bad => QualityForm::Bad,
        }
    }
}

/// The texts of the reasons, in the order of the published list.
pub fn texts(reasons: Reasons) -> Vec<&'static str> {
    reasons.iter().map(Reason::text).collect()
}

/// The code of the first reason that is as bad as the quality.
pub fn code(quality: Quality, reasons: Reasons) -> &'static str {
    let plain = match quality {
        Quality::Good => "Good",
        Quality::Uncertain => "Uncertain",
        Quality::Bad => "Bad",
    };
    reasons
        .iter()
        .find(|reason| reason.quality() == quality)
        .map_or(plain, Reason::code)
}

/// A list of texts, each from the published list.
pub(super) fn reasons_schema(_: &mut SchemaGenerator) -> Schema {
    let list: Vec<&str> = Reason::ALL.iter().map(|reason| reason.text()).collect();
    json_schema!({ "type": "array", "items": { "type": "string", "enum": list } })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_code_is_that_of_the_worst_reason() {
        let reasons = Reasons::from(Reason::OutsideSpan).with(Reason::NoAnswer);
        assert_eq!(code(Quality::Bad, reasons), "BadNoCommunication");
        assert_eq!(code(Quality::Good, Reasons::NONE), "Good");
        assert_eq!(texts(reasons), ["no answer", "outside the set range"]);
    }
}
