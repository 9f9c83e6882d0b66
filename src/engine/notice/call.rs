//! A call: one alarm that nobody has answered, and how far each route has come in telling it.

use super::plan::RoutePlan;
use super::{NoticeAlarm, NoticeKind};
use crate::engine::plan::{Priority, Record};
use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

/// What is told of an alarm when it annunciates.
#[derive(Clone, Debug)]
pub(super) struct Annunciation {
    pub tank: Arc<str>,
    /// The tank's name for people.
    pub title: Arc<str>,
    pub code: Arc<str>,
    pub priority: Priority,
    pub record: Arc<Record>,
    pub activation: u64,
    pub since: Timestamp,
    pub what: Arc<str>,
    pub test: bool,
}

#[derive(Clone, Debug)]
pub(super) struct Call {
    pub of: Annunciation,
    /// The process is back to normal.
    pub returned: bool,
    pub returned_told: bool,
    pub legs: Vec<Leg>,
    /// It has changed since it was last remembered.
    pub changed: bool,
}

/// One route's way with a call.
#[derive(Clone, Debug)]
pub(super) struct Leg {
    pub route: usize,
    /// How often it was told.
    pub told: u32,
    pub told_up: Option<Duration>,
    /// When it is told next: a repeat, or the beginning of its hours.
    pub next: Option<Duration>,
    pub for_hours: bool,
    pub escalate: Option<Duration>,
    pub escalated: bool,
    /// It stands in the next digest.
    pub waiting: bool,
    /// The digest that it stood in, by its first number, until that is delivered.
    pub digest: Option<u64>,
}

impl Leg {
    pub fn new(route: usize) -> Self {
        Self {
            route,
            told: 0,
            told_up: None,
            next: None,
            for_hours: false,
            escalate: None,
            escalated: false,
            waiting: false,
            digest: None,
        }
    }

    /// It is told now: what comes next is counted from here.
    pub fn tell(&mut self, plan: &RoutePlan, up: Duration) {
        self.told += 1;
        self.told_up = Some(up);
        self.for_hours = false;
        self.next = plan.repeat.map(|every| up + every);
        if self.escalate.is_none() && !self.escalated {
            self.escalate = plan.escalation.map(|next| up + next.after);
        }
    }
}

impl Call {
    pub fn new(of: Annunciation) -> Self {
        Self {
            of,
            returned: false,
            returned_told: false,
            legs: Vec::new(),
            changed: true,
        }
    }

    pub fn is_of(&self, tank: &str, code: &str) -> bool {
        *self.of.tank == *tank && *self.of.code == *code
    }

    pub fn leg(&self, route: usize) -> Option<usize> {
        self.legs.iter().position(|leg| leg.route == route)
    }

    pub fn due(&self) -> Option<Duration> {
        let legs = self.legs.iter();
        legs.flat_map(|leg| [leg.next, leg.escalate])
            .flatten()
            .min()
    }

    pub fn alarm(&self) -> NoticeAlarm {
        let of = &self.of;
        NoticeAlarm {
            tank: Arc::clone(&of.tank),
            code: Arc::clone(&of.code),
            activation: of.activation,
            priority: of.priority,
            since: of.since,
            returned: self.returned,
            what: Arc::clone(&of.what),
            record: Arc::clone(&of.record),
        }
    }
}

/// A notice whose outcome is not known yet.
#[derive(Clone, Debug)]
pub(super) struct Pending {
    pub id: u64,
    /// The first number of those that went to the recipients of one route together.
    pub group: u64,
    pub recipient: u32,
    pub route: usize,
    pub kind: NoticeKind,
    /// Tank, code and activation; none of digests and tests of the way.
    pub about: Option<(Arc<str>, Arc<str>, u64)>,
    /// Another of its group was delivered.
    pub other_told: bool,
}
