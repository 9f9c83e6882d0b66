//! A transfer that is under way.

use super::time;
use crate::engine::snapshot::Transfer;
use schemars::JsonSchema;
use serde::Serialize;

/// A tank is filled or drawn to a target.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "transfer")]
pub struct TransferForm {
    pub target_m: f64,
    /// Whether it fills; else it draws.
    pub fills: bool,
    /// What was in the tank when it began; null where that was not known. After another product was
    /// chosen, what it would have been of that.
    pub start_m: Option<f64>,
    pub start_m3: Option<f64>,
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    pub by: String,
    /// What was in the tank at its start, where the site file leaves a choice.
    pub product: Option<String>,
    /// Towards the target; null while the level is not known.
    pub moved_m3: Option<f64>,
    pub left_m3: Option<f64>,
    /// Of what has moved, k = 2; at most that.
    pub moved_uncertainty_m3: Option<f64>,
    /// Told so long before the expected end, and to be stopped so soon after it.
    pub tell_s: f64,
    pub stop_within_s: f64,
    /// Until the target, with an interval; null where the present flow says nothing of it.
    pub expected_s: Option<f64>,
    pub expected_at_least_s: Option<f64>,
    pub expected_at_most_s: Option<f64>,
    pub reached: bool,
    /// Still moving past its target for longer than a stop may take.
    pub overdue: bool,
}

impl TransferForm {
    pub fn new(transfer: &Transfer) -> Self {
        let memory = &transfer.memory;
        let expected = transfer.expected;
        Self {
            target_m: memory.target_m,
            fills: memory.fills,
            start_m: memory.start.map(|start| start.level_m),
            start_m3: memory.start.map(|start| start.volume_m3),
            since: time(memory.since),
            by: memory.by.to_string(),
            product: memory.product.as_deref().map(str::to_owned),
            moved_m3: transfer.moved.map(|volume| volume.value),
            left_m3: transfer.left.map(|volume| volume.value),
            moved_uncertainty_m3: transfer.moved_uncertainty.map(|volume| volume.value),
            tell_s: memory.tell.as_secs_f64(),
            stop_within_s: memory.stop_within.as_secs_f64(),
            expected_s: expected.map(|expected| expected.after.value),
            expected_at_least_s: expected.map(|expected| expected.at_least.value),
            expected_at_most_s: expected
                .and_then(|expected| expected.at_most)
                .map(|most| most.value),
            reached: memory.reached,
            overdue: transfer.overdue,
        }
    }
}
