//! The sign that the alarms are watched over.

use super::time;
use crate::engine::{Quality, Snapshot};
use schemars::JsonSchema;
use serde::Serialize;

/// Made by the task that judges the alarms: an old one means that nobody does.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "heartbeat")]
pub struct HeartbeatForm {
    pub site: String,
    #[schemars(extend("format" = "date-time"))]
    pub time: String,
    /// Since the program started; rises with every beat, whatever the wall clock does.
    pub up_s: f64,
    /// When anything was last read from the field.
    #[schemars(extend("format" = "date-time"))]
    pub last_read: Option<String>,
    /// Alarms that nobody has acknowledged, and the highest of their priorities.
    pub unacknowledged: usize,
    pub highest: Option<&'static str>,
    pub links_down: usize,
    /// Tanks whose level is not known.
    pub bad_readings: usize,
}

impl HeartbeatForm {
    pub fn new(snapshot: &Snapshot) -> Self {
        let tanks = &snapshot.tanks;
        let alarms = snapshot.alarms().map(|(_, alarm)| alarm);
        let open = alarms.filter(|alarm| alarm.state.needs_acknowledgement());
        let open: Vec<_> = open.map(|alarm| alarm.priority).collect();
        let reads = snapshot.transmitters.iter().map(|signal| signal.time);
        let reads = reads.chain(snapshot.contacts.iter().map(|contact| contact.time));
        Self {
            site: snapshot.site.to_string(),
            time: time(snapshot.utc),
            up_s: snapshot.up.as_secs_f64(),
            last_read: reads.flatten().max().map(time),
            unacknowledged: open.len(),
            highest: open.into_iter().max().map(|priority| priority.name()),
            links_down: snapshot.links.iter().filter(|link| !link.up).count(),
            bad_readings: tanks
                .iter()
                .filter(|tank| tank.reading.quality == Quality::Bad)
                .count(),
        }
    }
}
