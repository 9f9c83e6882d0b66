//! A contact's state now.

use super::quality::{self, QualityForm};
use super::time;
use crate::engine::snapshot::ContactView;
use schemars::JsonSchema;
use serde::Serialize;

/// The latest of one on/off input.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "contact")]
pub struct ContactForm {
    pub tag: String,
    pub link: String,
    /// When it was read.
    #[schemars(extend("format" = "date-time"))]
    pub time: Option<String>,
    pub quality: QualityForm,
    /// OPC UA status code of the worst reason.
    pub quality_code: &'static str,
    #[schemars(schema_with = "quality::reasons_schema")]
    pub reasons: Vec<&'static str>,
    /// After `invert`; null where its quality is bad.
    pub on: Option<bool>,
    /// What that means, in the site file's words.
    pub means: Option<String>,
}

impl ContactForm {
    pub fn new(contact: &ContactView) -> Self {
        Self {
            tag: contact.tag.to_string(),
            link: contact.link.to_string(),
            time: contact.time.map(time),
            quality: contact.quality.into(),
            quality_code: quality::code(contact.quality, contact.reasons),
            reasons: quality::texts(contact.reasons),
            on: contact.on,
            means: contact.means.as_deref().map(str::to_owned),
        }
    }
}
