//! One alarm over a span.

use super::seconds;
use crate::engine::alarm::AlarmState;
use crate::quantity::Timestamp;
use std::time::Duration;

/// As often as this within a minute is chattering (ISA-18.2, from memory).
const CHATTERS: usize = 3;
const MINUTE_S: f64 = 60.0;
/// Over within this time, and unanswered, is fleeting: nobody can act so fast. Common practice, no source.
const FLEETING_S: f64 = 10.0;
/// Active for longer is stale (ISA-18.2, from memory).
const STALE: Duration = Duration::from_secs(86_400);

#[derive(Clone, Debug, Default)]
pub struct One {
    /// As it was last told to be.
    pub state: Option<AlarmState>,
    pub annunciated: u64,
    /// Annunciations that were the third, or a later one, within a minute.
    pub chattered: u64,
    pub fleeting: u64,
    pub returned_unanswered: u64,
    pub longest_active: Duration,
    active_since: Option<Timestamp>,
    annunciated_at: Option<Timestamp>,
    /// The times of the last annunciations, newest last.
    last: Vec<Timestamp>,
}

impl One {
    /// Takes a change; `counts`: it is in the span. Answers with how long an acknowledgement took.
    pub fn take(
        &mut self,
        from: AlarmState,
        to: AlarmState,
        by_person: bool,
        time: Timestamp,
        counts: bool,
    ) -> Option<f64> {
        self.state = Some(to);
        let annunciates = to == AlarmState::Unacknowledged && from != to;
        let mut waited_s = None;
        if from == AlarmState::Unacknowledged && from != to {
            let waited = self.annunciated_at.take().map(|at| seconds(time, at));
            match to {
                AlarmState::Acknowledged => waited_s = waited.filter(|_| by_person && counts),
                AlarmState::ReturnedUnacknowledged | AlarmState::LatchedUnacknowledged
                    if counts =>
                {
                    self.returned_unanswered += 1;
                    self.fleeting += u64::from(waited.is_some_and(|waited| waited <= FLEETING_S));
                }
                _ => {}
            }
        }
        if annunciates {
            self.annunciated_at = Some(time);
            self.remember(time, counts);
        }
        self.follow_activity(to, time);
        waited_s
    }

    /// The span is over.
    pub fn end(&mut self, time: Timestamp) {
        if self.active_since.is_some() {
            self.inactive(time);
        }
    }

    pub fn is_stale(&self) -> bool {
        self.longest_active > STALE
    }

    /// Somebody has yet to answer.
    pub fn waits(&self) -> bool {
        matches!(
            self.state,
            Some(
                AlarmState::Unacknowledged
                    | AlarmState::ReturnedUnacknowledged
                    | AlarmState::LatchedUnacknowledged
            )
        )
    }

    fn remember(&mut self, time: Timestamp, counts: bool) {
        self.last.retain(|at| seconds(time, *at) < MINUTE_S);
        self.last.push(time);
        if counts {
            self.annunciated += 1;
            self.chattered += u64::from(self.last.len() >= CHATTERS);
        }
    }

    /// What is hidden says nothing of whether it is active: the time ends there.
    fn follow_activity(&mut self, to: AlarmState, time: Timestamp) {
        match to {
            AlarmState::Unacknowledged | AlarmState::Acknowledged => {
                self.active_since.get_or_insert(time);
            }
            _ => self.inactive(time),
        }
    }

    fn inactive(&mut self, time: Timestamp) {
        if let Some(since) = self.active_since.take() {
            let active = Duration::from_secs_f64(seconds(time, since).max(0.0));
            self.longest_active = self.longest_active.max(active);
        }
    }
}
