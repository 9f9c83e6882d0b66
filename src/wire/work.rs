//! Work on a transmitter, and the horn.

use super::{known, time};
use crate::engine::snapshot::{Horn, SignalView, WorkView};
use schemars::JsonSchema;
use serde::Serialize;

/// A transmitter that is under function check.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "work")]
pub struct WorkForm {
    pub by: String,
    pub permit: String,
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    #[schemars(extend("format" = "date-time"))]
    pub until: String,
    /// What stands in for the signal, in the transmitter's unit; null: nothing does.
    pub hand_value: Option<f64>,
    /// Its time is over, and the signal counts again.
    pub overdue: bool,
}

/// Whether and since when the horn sounds.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "horn")]
pub struct HornForm {
    /// Since the newest annunciation that nobody has answered.
    #[schemars(extend("format" = "date-time"))]
    pub since: Option<String>,
    pub silenced: Vec<SilencedForm>,
}

/// A place where somebody has silenced it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "silenced")]
pub struct SilencedForm {
    pub place: String,
    pub by: String,
}

impl WorkForm {
    pub fn new(signal: &SignalView, work: &WorkView) -> Self {
        let memory = &work.memory;
        let in_unit = |si: f64| known(signal.unit.from_si(si));
        Self {
            by: memory.by.to_string(),
            permit: memory.permit.to_string(),
            since: time(memory.since),
            until: time(memory.until),
            hand_value: memory.hand.and_then(in_unit),
            overdue: work.overdue,
        }
    }
}

impl HornForm {
    pub fn new(horn: &Horn) -> Self {
        let silenced = horn.silenced.iter();
        Self {
            since: horn.since.map(time),
            silenced: silenced
                .map(|(place, by)| SilencedForm {
                    place: place.to_string(),
                    by: by.to_string(),
                })
                .collect(),
        }
    }
}
