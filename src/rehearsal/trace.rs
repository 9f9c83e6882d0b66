//! What a rehearsal has shown, in order: all that expectations are judged by.

use super::coverage::Coverage;
use super::script::Asked;
use super::strip::Columns;
use crate::engine::alarm::AlarmState;
use crate::engine::checks::finding::{Confidence, Fault};
use crate::engine::event::SYSTEM;
use crate::engine::{Done, Event, EventKind, Quality, Reading, Reasons, Refusal};
use std::time::Duration;

#[derive(Clone, Debug)]
pub struct Trace {
    pub last: Duration,
    pub events: Vec<Told>,
    pub answers: Vec<Answered>,
    /// The readings of each tank that an expectation names, by its place in the site; empty for the others.
    pub moments: Vec<Vec<Moment>>,
    pub found: Vec<Found>,
    /// Each tank over the whole script, for its picture; empty where none is wanted.
    pub strips: Vec<Columns>,
    pub coverage: Coverage,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    pub at: Duration,
    pub event: Event,
}

/// What somebody asked, and what was answered.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    pub at: Duration,
    pub asked: Asked,
    pub answer: Result<Done, Refusal>,
}

/// A tank's reading beside the truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    pub at: Duration,
    /// The level; the boundary, where nothing but that is told of the tank.
    pub true_m: f64,
    /// The boundary of two liquids, as shown and as it is; none in a tank of one.
    pub interface_m: Option<(Option<f64>, f64)>,
    pub level_m: Option<f64>,
    pub at_least_m: Option<f64>,
    pub at_most_m: Option<f64>,
    pub quality: Quality,
    pub reasons: Reasons,
}

/// What diagnosis has found of a tank, as surely as that, from when to when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    pub tank: usize,
    pub fault: Fault,
    pub confidence: Confidence,
    pub from: Duration,
    /// None: still there at the end.
    pub to: Option<Duration>,
}

/// An alarm came into a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    pub at: Duration,
    pub to: AlarmState,
}

impl Moment {
    /// `boundary_m`: of two liquids in truth; `alone`: nothing else is told of the tank.
    pub fn of(
        at: Duration,
        true_m: f64,
        (boundary_m, alone): (Option<f64>, bool),
        reading: &Reading,
    ) -> Self {
        let told = match alone {
            true => reading.level,
            false => reading.interface,
        };
        Self {
            at,
            true_m: boundary_m.filter(|_| alone).unwrap_or(true_m),
            interface_m: boundary_m.map(|true_m| (told.map(|level| level.value), true_m)),
            level_m: reading.level.map(|level| level.value),
            at_least_m: reading.level_at_least.map(|level| level.value),
            at_most_m: reading.level_at_most.map(|level| level.value),
            quality: reading.quality,
            reasons: reading.reasons,
        }
    }

    /// "shown 4.712 m, truly 4.700 m, uncertain".
    pub fn words(&self) -> String {
        let shown = match (self.level_m, self.at_least_m, self.at_most_m) {
            (Some(level), _, _) => format!("{level:.3} m"),
            (None, Some(level), _) => format!("at least {level:.3} m"),
            (None, None, Some(level)) => format!("at most {level:.3} m"),
            (None, None, None) => "nothing".to_owned(),
        };
        let (truth, quality) = (self.true_m, self.quality.name());
        format!("shown {shown}, truly {truth:.3} m, {quality}")
    }
}

impl Told {
    /// "alarm clearwell LAH UNACK: level 4.712 m, high limit 4.700 m".
    pub fn words(&self) -> String {
        let event = &self.event;
        let named = [event.tank.as_deref(), event.code.as_deref()];
        let to = event.to.map(|to| to.code());
        let all = [Some(event.kind.name())].into_iter().chain(named);
        let all: Vec<&str> = all.chain([to]).flatten().collect();
        format!("{}: {}", all.join(" "), event.text)
    }
}

impl Trace {
    /// The states that an alarm came to; it begins as normal. A change that a flag hides is none.
    pub fn changes<'t>(
        &'t self,
        tank: &'t str,
        code: &'t str,
    ) -> impl Iterator<Item = Change> + 't {
        self.events.iter().filter_map(move |told| {
            let event = &told.event;
            let owner = event.tank.as_deref().unwrap_or(SYSTEM);
            let is_it = event.kind == EventKind::Alarm
                && owner == tank
                && event.code.as_deref() == Some(code);
            let to = event.to.filter(|to| is_it && event.from != Some(*to))?;
            Some(Change { at: told.at, to })
        })
    }

    /// An alarm's state at a moment.
    pub fn state(&self, tank: &str, code: &str, at: Duration) -> AlarmState {
        let before = self
            .changes(tank, code)
            .take_while(|change| change.at <= at);
        before.last().map_or(AlarmState::Normal, |change| change.to)
    }
}
