//! A transmitter's signal: the register's number, and the value that it stands for.

use super::quality::{self, QualityForm};
use super::{WorkForm, known, time};
use crate::engine::snapshot::SignalView;
use schemars::JsonSchema;
use serde::Serialize;

/// The latest of one transmitter.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "signal")]
pub struct SignalForm {
    pub tag: String,
    pub link: String,
    /// When the value was read.
    #[schemars(extend("format" = "date-time"))]
    pub time: Option<String>,
    pub quality: QualityForm,
    /// OPC UA status code of the worst reason.
    pub quality_code: &'static str,
    #[schemars(schema_with = "quality::reasons_schema")]
    pub reasons: Vec<&'static str>,
    /// The registers' words as they were read, in hexadecimal: "0x41C8"; null where none were.
    pub words: Option<Vec<String>>,
    /// Their number, before scaling.
    pub raw: Option<f64>,
    /// In `unit`.
    pub value: Option<f64>,
    pub unit: &'static str,
    /// Work that is under way on it: then it reaches no reading.
    pub work: Option<WorkForm>,
}

impl SignalForm {
    pub fn new(signal: &SignalView) -> Self {
        Self {
            tag: signal.tag.to_string(),
            link: signal.link.to_string(),
            time: signal.time.map(time),
            quality: signal.quality.into(),
            quality_code: quality::code(signal.quality, signal.reasons),
            reasons: quality::texts(signal.reasons),
            words: signal.words.as_deref().map(hexadecimal),
            raw: signal.raw.and_then(known),
            value: signal.value.and_then(|si| known(signal.unit.from_si(si))),
            unit: signal.unit.symbol,
            work: signal.work.as_ref().map(|work| WorkForm::new(signal, work)),
        }
    }
}

/// Words as people write them.
pub fn hexadecimal(words: &[u16]) -> Vec<String> {
    words.iter().map(|word| format!("0x{word:04X}")).collect()
}
