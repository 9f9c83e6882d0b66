//! An alarm's state now (states and their codes: ANSI/ISA-18.2, IEC 62682).

use super::{known, time};
use crate::engine::snapshot::AlarmView;
use schemars::JsonSchema;
use serde::Serialize;

/// An alarm of a tank, or of the system itself: its state now, and what to do about it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "alarm")]
pub struct AlarmForm {
    pub code: String,
    /// NORM, UNACK, ACKED, RTNUN, LATUN, LATAK; or what hides it: OOSRV over SHLVD over DSUPR.
    pub state: &'static str,
    /// What runs underneath, whatever hides it: NORM to LATAK.
    pub process_state: &'static str,
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
    /// Stays after the process is back, until it is acknowledged and reset.
    pub latching: bool,
    pub shelf: Option<ShelfForm>,
    pub suppression: Option<SuppressionForm>,
    pub out_of_service: Option<OutOfServiceForm>,
    /// Gone from the site file; shown until it is acknowledged.
    pub removed: bool,
    /// The alarms that are suppressed by design because this one tells what would bring them about.
    pub follows: Vec<FollowForm>,
    /// Its tank is under a live test: all that is said here comes from the value that is put in.
    pub test: bool,
}

/// An alarm by its names.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "follow")]
pub struct FollowForm {
    pub tank: String,
    pub code: String,
}

/// Hidden by a person for a time.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "shelf")]
pub struct ShelfForm {
    #[schemars(extend("format" = "date-time"))]
    pub until: String,
    pub by: String,
    pub reason: String,
    /// Ends already when the condition clears.
    pub once: bool,
}

/// Hidden by the site file's own logic.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "suppression")]
pub struct SuppressionForm {
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    /// What suppresses it, in words.
    pub cause: String,
}

/// Hidden by a person, for maintenance.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "out_of_service")]
pub struct OutOfServiceForm {
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    pub by: String,
    pub reason: Option<String>,
}

impl AlarmForm {
    pub fn new(alarm: &AlarmView) -> Self {
        Self {
            code: alarm.code.to_string(),
            state: alarm.state.code(),
            process_state: alarm.process.code(),
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
            latching: alarm.latching,
            shelf: alarm.shelf.as_ref().map(|shelf| ShelfForm {
                until: time(shelf.until),
                by: shelf.by.to_string(),
                reason: shelf.reason.to_string(),
                once: shelf.once,
            }),
            suppression: alarm.suppressed.as_ref().map(|suppressed| SuppressionForm {
                since: time(suppressed.since),
                cause: suppressed.cause.to_string(),
            }),
            out_of_service: alarm.out_of_service.as_ref().map(|out| OutOfServiceForm {
                since: time(out.since),
                by: out.by.to_string(),
                reason: out.reason.as_deref().map(str::to_owned),
            }),
            test: alarm.test,
            removed: alarm.removed,
            follows: (alarm.follows.iter())
                .map(|(tank, code)| FollowForm {
                    tank: tank.to_string(),
                    code: code.to_string(),
                })
                .collect(),
        }
    }
}
