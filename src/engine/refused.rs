//! Forbidden attempts are events, but whoever tries all night fills no journal: a few a minute are told one by
//! one, the rest of that minute by their number.

use super::Effect;
use super::event::EventKind;
use super::step::Engine;
use std::sync::Arc;
use std::time::Duration;

/// So many are told one by one within [`WINDOW`]. Common practice, no source.
const TOLD: u32 = 6;
const WINDOW: Duration = Duration::from_secs(60);

/// The attempts of the last minute.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Attempts {
    /// When the first of them came.
    began: Option<Duration>,
    told: u32,
    untold: u64,
}

impl Attempts {
    /// Whether this one is told.
    fn take(&mut self, up: Duration) -> bool {
        self.began.get_or_insert(up);
        let is_told = self.told < TOLD;
        if is_told {
            self.told += 1;
        } else {
            self.untold += 1;
        }
        is_told
    }

    /// How many were not told, once their minute is over.
    fn over(&mut self, up: Duration) -> u64 {
        if self.due().is_none_or(|due| up < due) {
            return 0;
        }
        std::mem::take(self).untold
    }

    pub fn due(&self) -> Option<Duration> {
        self.began.map(|began| began + WINDOW)
    }
}

impl Engine {
    pub(super) fn tell_forbidden(
        &mut self,
        person: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        self.tell_untold_attempts(effects);
        if self.attempts.take(self.last.up) {
            self.person_event(EventKind::Refused, None, None, person, text, effects);
        }
    }

    pub(super) fn tell_untold_attempts(&mut self, effects: &mut Vec<Effect>) {
        let untold = self.attempts.over(self.last.up);
        if untold > 0 {
            let text = format!("{untold} more forbidden attempts within the same minute");
            self.event(EventKind::Refused, None, None, text, effects);
        }
    }
}
