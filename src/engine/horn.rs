//! The horn: it sounds from an annunciation until somebody answers the alarm, or silences it at their place.
//!
//! Silencing is not acknowledging: it is of one place, and alters no alarm. The next annunciation sounds
//! everywhere again.

use super::alarm::AlarmState;
use super::command::{Done, Refusal};
use super::event::EventKind;
use super::step::Engine;
use super::{Effect, Event};
use crate::quantity::Timestamp;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The place that is meant where none is named.
pub const EVERYWHERE: &str = "everywhere";
/// So many places are remembered; more are slips.
const MOST_PLACES: usize = 32;

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Horn {
    /// The newest annunciation.
    pub since: Option<Timestamp>,
    /// Who has silenced it since then, by place.
    pub silenced: BTreeMap<Arc<str>, Arc<str>>,
}

impl Horn {
    /// Whether it is heard at a place.
    pub fn sounds_at(&self, place: &str) -> bool {
        self.since.is_some()
            && !self.silenced.contains_key(place)
            && !self.silenced.contains_key(EVERYWHERE)
    }
}

impl Engine {
    pub(super) fn silence(
        &mut self,
        place: Option<&Arc<str>>,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        if self.horn.since.is_none() {
            return Err(Refusal::NothingSounds);
        }
        let place = place.map_or_else(|| EVERYWHERE.into(), Arc::clone);
        if self.horn.silenced.len() >= MOST_PLACES {
            return Err(Refusal::TooManyPlaces);
        }
        self.horn
            .silenced
            .insert(Arc::clone(&place), Arc::clone(by));
        let text = format!("horn silenced, {place}; no alarm is answered by it");
        self.person_event(
            EventKind::Silence,
            None,
            None,
            Some(by),
            text.clone(),
            effects,
        );
        Ok(Done(text))
    }

    /// An annunciation sounds everywhere.
    pub(super) fn sound(&mut self, event: &Event) {
        let annunciates = event.to == Some(AlarmState::Unacknowledged) && event.from != event.to;
        if annunciates && !event.is_test() {
            self.horn = Horn {
                since: Some(event.time),
                silenced: BTreeMap::new(),
            };
        }
    }

    /// Once nothing waits for an answer, nothing sounds.
    pub(super) fn rest_horn(&mut self) {
        if self.horn.since.is_none() {
            return;
        }
        let tanks = self.tanks.iter().flat_map(|tank| &tank.alarms);
        let mut all = tanks.chain(&self.system.alarms);
        if !all.any(|alarm| alarm.state() == AlarmState::Unacknowledged) {
            self.horn = Horn::default();
        }
    }
}
