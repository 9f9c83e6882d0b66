//! An alarm's state now (states and their codes: ANSI/ISA-18.2, IEC 62682).

use super::{known, time};
use crate::engine::snapshot::AlarmView;
use schemars::JsonSchema;
use serde::Serialize;

/// An alarm of a tank: its state now, and what to do about it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "alarm")]
pub struct AlarmForm {
    pub code: String,
    /// NORM, UNACK, ACKED, RTNUN: a state of the alarm's lifecycle.
    pub state: &'static str,
    /// Held over bad data: neither confirmed nor cleared by them.
    pub questionable: bool,
    /// The condition, with its delays, is true.
    pub active: bool,
    #[schemars(extend("format" = "date-time"))]
    pub since: Option<String>,
    /// The event number of the present activation; an acknowledgement names it.
    pub activation: Option<u64>,
    pub priority: &'static str,
    /// 1 to 1000, as OPC UA counts (IEC 62541-5).
    pub severity: u16,
    /// In `unit`, like the value; null for measurement failed.
    pub limit: Option<f64>,
    pub value: Option<f64>,
    pub unit: Option<&'static str>,
    pub cause: Option<String>,
    pub consequence: Option<String>,
    /// What the operator does.
    pub response: Option<String>,
    pub respond_within_s: Option<f64>,
}

impl AlarmForm {
    pub fn new(alarm: &AlarmView) -> Self {
        Self {
            code: alarm.code.to_string(),
            state: alarm.state.code(),
            questionable: alarm.questionable,
            active: alarm.active,
            since: alarm.since.map(time),
            activation: alarm.activation,
            priority: alarm.priority.name(),
            severity: alarm.priority.severity(),
            limit: alarm.limit.and_then(known),
            value: alarm.value.and_then(known),
            unit: alarm.unit.map(|unit| unit.symbol),
            cause: alarm.record.cause.clone(),
            consequence: alarm.record.consequence.clone(),
            response: alarm.record.response.clone(),
            respond_within_s: alarm.record.respond_within.map(|time| time.as_secs_f64()),
        }
    }
}
