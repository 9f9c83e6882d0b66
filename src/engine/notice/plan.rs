//! What the site file says of notices, checked.

use super::RecipientId;
use crate::engine::plan::Priority;
use jiff::civil::Time;
use jiff::tz::TimeZone;
use std::sync::Arc;
use std::time::Duration;

/// A `[[notice]]`: a place in the plan's list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RouteId(pub u32);

impl RouteId {
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

#[derive(Clone, Debug)]
pub struct NoticesPlan {
    /// In which hours count and times are shown.
    pub timezone: TimeZone,
    /// Those who can be told, in words: "Ada <ada@alder-rise.example>".
    pub recipients: Vec<Arc<str>>,
    pub routes: Vec<RoutePlan>,
    pub flood: FloodPlan,
}

impl Default for NoticesPlan {
    fn default() -> Self {
        Self {
            timezone: TimeZone::UTC,
            recipients: Vec::new(),
            routes: Vec::new(),
            flood: FloodPlan::default(),
        }
    }
}

/// One `[[notice]]`: who is told of what, when, and what follows if nobody answers.
#[derive(Clone, Debug)]
pub struct RoutePlan {
    pub name: Arc<str>,
    pub recipients: Vec<RecipientId>,
    /// Of which priorities it tells by itself; none: only what is escalated to it.
    pub priorities: Vec<Priority>,
    /// Of which tanks; none: of all, and of the system itself.
    pub tanks: Option<Vec<Arc<str>>>,
    /// None: at all times.
    pub hours: Option<Hours>,
    pub repeat: Option<Duration>,
    pub escalation: Option<Escalation>,
    pub until: Until,
    /// When the way itself is tested, each day.
    pub daily_test: Option<Time>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Escalation {
    pub after: Duration,
    pub to: RouteId,
}

/// What ends the repeats and the escalation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    Acknowledged,
    /// Or the process is back to normal.
    Cleared,
}

/// Times of the day on days of the week, by the site's clocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hours {
    pub from: Time,
    /// Before `from`: on the next day. The same: all day.
    pub to: Time,
    /// On which it begins; Monday first.
    pub days: [bool; 7],
}

/// When notices are gathered into digests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FloodPlan {
    /// So many annunciations within the time begin a flood; fewer than that end it.
    pub begins_at: usize,
    pub ends_below: usize,
    pub within: Duration,
    pub digest_every: Duration,
}

impl Default for FloodPlan {
    /// From 10 to fewer than 5 annunciations in 10 minutes: ANSI/ISA-18.2, EEMUA 191 (from memory). A digest a
    /// minute: common practice, no source.
    fn default() -> Self {
        Self {
            begins_at: 10,
            ends_below: 5,
            within: Duration::from_secs(600),
            digest_every: Duration::from_secs(60),
        }
    }
}

impl RoutePlan {
    /// Whether it tells of such an alarm by itself.
    pub fn tells(&self, tank: &str, priority: Priority) -> bool {
        let of_tank = self
            .tanks
            .as_ref()
            .is_none_or(|tanks| tanks.iter().any(|named| **named == *tank));
        of_tank && self.priorities.contains(&priority)
    }
}

impl NoticesPlan {
    pub fn route(&self, id: RouteId) -> &RoutePlan {
        &self.routes[id.index()]
    }

    pub fn route_named(&self, name: &str) -> Option<RouteId> {
        let place = self.routes.iter().position(|route| *route.name == *name)?;
        Some(RouteId(place as u32))
    }

    /// Those behind a route, one after the other; the check has seen to it that they end.
    pub fn chain(&self, from: RouteId) -> impl Iterator<Item = RouteId> + '_ {
        let next = |id: &RouteId| self.route(*id).escalation.map(|next| next.to);
        std::iter::successors(next(&from), next).take(self.routes.len())
    }

    /// The recipients of a route in words.
    pub fn names(&self, route: &RoutePlan) -> String {
        let names = route.recipients.iter();
        let names: Vec<&str> = names.map(|id| &*self.recipients[id.index()]).collect();
        names.join(", ")
    }
}
