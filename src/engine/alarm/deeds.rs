//! What people do with an alarm, and what the site file's going on without it does.

use super::{Alarm, Cause, Flags, Process, Transition};
use crate::engine::memory::{OutOfService, Shelf};
use std::time::Duration;

/// None where the table is silent: then nothing has changed.
impl Alarm {
    pub fn acknowledge(&mut self, up: Duration) -> Option<Transition> {
        let before = self.state();
        let to = match self.process {
            _ if self.is_hidden() => return None,
            Process::Unacknowledged => Process::Acknowledged,
            Process::ReturnedUnacknowledged => Process::Normal,
            Process::LatchedUnacknowledged => Process::LatchedAcknowledged,
            Process::Normal | Process::Acknowledged | Process::LatchedAcknowledged => return None,
        };
        self.go(to);
        self.answered = (to == Process::Acknowledged).then_some(up);
        Some(self.told(before, Cause::Acknowledged))
    }

    /// Only what is latched and acknowledged.
    pub fn reset(&mut self) -> Option<Transition> {
        if self.is_hidden() || self.process != Process::LatchedAcknowledged {
            return None;
        }
        let before = self.state();
        self.go(Process::Normal);
        Some(self.told(before, Cause::Reset))
    }

    pub fn shelve(&mut self, shelf: Shelf) -> Option<Transition> {
        let before = self.state();
        if self.flags.shelf.is_some() {
            return None;
        }
        self.flags.shelve(shelf);
        Some(self.told(before, Cause::Shelved))
    }

    /// By a person, or because nobody can say when its time is up.
    pub fn unshelve(&mut self, cause: Cause) -> Option<Transition> {
        let before = self.state();
        self.flags.shelf.take()?;
        self.emerge();
        Some(self.told(before, cause))
    }

    pub fn take_out_of_service(&mut self, by: OutOfService) -> Option<Transition> {
        let before = self.state();
        if self.flags.out_of_service.is_some() {
            return None;
        }
        self.flags.out_of_service = Some(by);
        Some(self.told(before, Cause::OutOfService))
    }

    pub fn return_to_service(&mut self) -> Option<Transition> {
        let before = self.state();
        self.flags.out_of_service.take()?;
        self.emerge();
        Some(self.told(before, Cause::Returned))
    }

    /// The site file does not have it any more: what nobody has seen closed waits for an answer.
    pub fn remove(&mut self) -> Option<Transition> {
        let before = self.state();
        self.flags = Flags::default();
        (self.condition, self.questionable) = (false, false);
        let open = !matches!(self.process, Process::Normal | Process::LatchedAcknowledged);
        self.go(if open {
            Process::ReturnedUnacknowledged
        } else {
            Process::Normal
        });
        (self.state() != before).then(|| self.told(before, Cause::Removed))
    }
}
