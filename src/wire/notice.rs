//! A notice as a webhook gets it.

use super::time;
use crate::engine::notice::{Notice, NoticeAlarm};
use schemars::JsonSchema;
use serde::Serialize;

/// Somebody must be told. Delivered at least once: `number` shows a repetition.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "notice")]
pub struct NoticeForm {
    pub number: u64,
    #[schemars(extend("format" = "date-time"))]
    pub time: String,
    pub site: String,
    /// The name of the `[[notice]]`.
    pub notice: String,
    pub to: String,
    /// alarm, repeat, escalated, returned, digest, test
    pub kind: &'static str,
    /// Follows from a value that was put in for a test, or tests the way itself.
    pub test: bool,
    /// May have come before the restart already, with the same number.
    pub again: bool,
    /// Of the most urgent alarm.
    pub priority: &'static str,
    pub subject: String,
    /// All of it for people, as in an e-mail.
    pub text: String,
    /// The most urgent first; none of a test of the way itself.
    pub alarms: Vec<NoticeAlarmForm>,
    pub escalation: Option<EscalationForm>,
}

/// An alarm that a notice is about.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "notice_alarm")]
pub struct NoticeAlarmForm {
    pub tank: String,
    pub code: String,
    /// The event number that an acknowledgement names.
    pub activation: u64,
    pub priority: &'static str,
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    /// Back to normal, and nobody has acknowledged it.
    pub returned: bool,
    pub what: String,
    pub cause: Option<String>,
    pub consequence: Option<String>,
    pub response: Option<String>,
    pub respond_within_s: Option<f64>,
}

/// Who is told next if nobody acknowledges.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "escalation")]
pub struct EscalationForm {
    pub to: String,
    #[schemars(extend("format" = "date-time"))]
    pub at: String,
}

impl NoticeForm {
    pub fn new(site: &str, notice: &Notice) -> Self {
        let escalation = notice.escalation.as_ref();
        Self {
            number: notice.id.0,
            time: time(notice.time),
            site: site.to_owned(),
            notice: notice.route.to_string(),
            to: notice.to.to_string(),
            kind: notice.kind.name(),
            test: notice.test,
            again: notice.again,
            priority: notice.priority.name(),
            subject: notice.subject.clone(),
            text: notice.text.clone(),
            alarms: notice.alarms.iter().map(NoticeAlarmForm::new).collect(),
            escalation: escalation.map(|next| EscalationForm {
                to: next.to.to_string(),
                at: time(next.at),
            }),
        }
    }
}

impl NoticeAlarmForm {
    fn new(alarm: &NoticeAlarm) -> Self {
        let record = &alarm.record;
        Self {
            tank: alarm.tank.to_string(),
            code: alarm.code.to_string(),
            activation: alarm.activation,
            priority: alarm.priority.name(),
            since: time(alarm.since),
            returned: alarm.returned,
            what: alarm.what.to_string(),
            cause: record.cause.clone(),
            consequence: record.consequence.clone(),
            response: record.response.clone(),
            respond_within_s: record.respond_within.map(|time| time.as_secs_f64()),
        }
    }
}
