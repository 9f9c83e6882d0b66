//! The alarms' performance figures over a span.

use super::time;
use crate::engine::alarm::figures::{Figures, Name};
use schemars::JsonSchema;
use serde::Serialize;

/// Figures by ANSI/ISA-18.2 and EEMUA 191, of one operator's position. Shares are from 0 to 1.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "alarm-figures")]
pub struct FiguresForm {
    pub site: String,
    #[schemars(extend("format" = "date-time"))]
    pub from: String,
    #[schemars(extend("format" = "date-time"))]
    pub to: String,
    pub annunciated: u64,
    /// Means over the span.
    pub annunciated_a_day: f64,
    pub annunciated_an_hour: f64,
    pub annunciated_in_ten_minutes: f64,
    pub most_in_an_hour: u32,
    pub most_in_ten_minutes: u32,
    /// With more than 30.
    pub busy_hours: u64,
    pub busy_hours_share: f64,
    /// With more than 10.
    pub busy_ten_minutes: u64,
    pub busy_ten_minutes_share: f64,
    pub floods: u64,
    pub longest_flood_s: f64,
    pub flood_share: f64,
    pub most_frequent: Vec<CountForm>,
    pub most_frequent_share: f64,
    pub chattering: Vec<CountForm>,
    pub fleeting: u64,
    pub stale: Vec<StaleForm>,
    pub priorities: Vec<PriorityForm>,
    pub acknowledged: u64,
    pub acknowledge_median_s: Option<f64>,
    pub acknowledge_95_s: Option<f64>,
    pub returned_unanswered: u64,
    /// At the end of the span.
    pub unanswered: u64,
    pub shelved: u64,
    pub suppressed: u64,
    pub out_of_service: u64,
    /// Brought about by tests; not among the others.
    pub tests: u64,
    pub starts: u64,
}

/// How often one alarm did something.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "count")]
pub struct CountForm {
    pub tank: Option<String>,
    pub code: String,
    pub count: u64,
}

/// An alarm that was active for more than a day.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "stale")]
pub struct StaleForm {
    pub tank: Option<String>,
    pub code: String,
    pub active_s: f64,
}

/// How many alarms of a priority were annunciated.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "priority-count")]
pub struct PriorityForm {
    /// Null for alarms that the site file does not have any more.
    pub priority: Option<&'static str>,
    pub count: u64,
}

impl FiguresForm {
    pub fn new(site: &str, figures: &Figures) -> Self {
        Self {
            site: site.to_owned(),
            from: time(figures.from),
            to: time(figures.to),
            annunciated: figures.annunciated,
            annunciated_a_day: figures.a_day,
            annunciated_an_hour: figures.an_hour,
            annunciated_in_ten_minutes: figures.in_ten_minutes,
            most_in_an_hour: figures.most_in_an_hour,
            most_in_ten_minutes: figures.most_in_ten_minutes,
            busy_hours: figures.busy_hours,
            busy_hours_share: figures.busy_hours_share,
            busy_ten_minutes: figures.busy_ten_minutes,
            busy_ten_minutes_share: figures.busy_ten_minutes_share,
            floods: figures.floods,
            longest_flood_s: figures.longest_flood.as_secs_f64(),
            flood_share: figures.flood_share,
            most_frequent: counts(&figures.most_frequent),
            most_frequent_share: figures.most_frequent_share,
            chattering: counts(&figures.chattering),
            fleeting: figures.fleeting,
            stale: figures
                .stale
                .iter()
                .map(|((tank, code), active)| StaleForm {
                    tank: tank.as_deref().map(str::to_owned),
                    code: code.to_string(),
                    active_s: active.as_secs_f64(),
                })
                .collect(),
            priorities: figures
                .priorities
                .iter()
                .map(|(priority, count)| PriorityForm {
                    priority: priority.map(|priority| priority.name()),
                    count: *count,
                })
                .collect(),
            acknowledged: figures.acknowledged,
            acknowledge_median_s: figures.median_acknowledge.map(|time| time.as_secs_f64()),
            acknowledge_95_s: figures.acknowledge_95.map(|time| time.as_secs_f64()),
            returned_unanswered: figures.returned_unanswered,
            unanswered: figures.unanswered,
            shelved: figures.shelved,
            suppressed: figures.suppressed,
            out_of_service: figures.out_of_service,
            tests: figures.tests,
            starts: figures.starts,
        }
    }
}

fn counts(counts: &[(Name, u64)]) -> Vec<CountForm> {
    let form = |((tank, code), count): &(Name, u64)| CountForm {
        tank: tank.as_deref().map(str::to_owned),
        code: code.to_string(),
        count: *count,
    };
    counts.iter().map(form).collect()
}
