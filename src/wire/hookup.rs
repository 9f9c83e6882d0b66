//! One of several hookups of a tank, before one of them is chosen.

use super::{QualityForm, known, quality};
use crate::engine::snapshot::HookupView;
use crate::quantity::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// What one hookup of a tank says for itself.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "hookup")]
pub struct HookupForm {
    pub name: String,
    pub kind: &'static str,
    /// "level" or "interface".
    pub gives: &'static str,
    /// Whether the tank's reading is made from it.
    pub chosen: bool,
    pub quality: QualityForm,
    #[schemars(schema_with = "quality::reasons_schema")]
    pub reasons: Vec<&'static str>,
    pub level_m: Option<f64>,
    pub level_at_least_m: Option<f64>,
    pub level_at_most_m: Option<f64>,
    /// k = 2.
    pub uncertainty_m: Option<f64>,
    pub density_kg_m3: Option<f64>,
}

impl HookupForm {
    pub fn new(hookup: &HookupView) -> Self {
        let metres = |level: Option<Length>| level.and_then(|level| known(level.value));
        Self {
            name: hookup.name.to_string(),
            kind: hookup.kind,
            gives: hookup.gives.name(),
            chosen: hookup.chosen,
            quality: hookup.reasons.quality().into(),
            reasons: quality::texts(hookup.reasons),
            level_m: metres(hookup.level),
            level_at_least_m: metres(hookup.level_at_least),
            level_at_most_m: metres(hookup.level_at_most),
            uncertainty_m: metres(hookup.level_uncertainty),
            density_kg_m3: known(hookup.density.value),
        }
    }
}
