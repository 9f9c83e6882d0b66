//! The outbox: events that wait for the broker, oldest first, in memory.
//!
//! An event leaves it when the broker has acknowledged it, or as the oldest of a full outbox: then it is
//! counted as lost, and the gap in the event numbers shows it to whoever receives the rest.

use crate::engine::Event;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;

#[derive(Debug)]
pub struct Outbox {
    limit: usize,
    waiting: Mutex<Waiting>,
    changed: Notify,
}

#[derive(Debug, Default)]
struct Waiting {
    events: VecDeque<Arc<Event>>,
    lost: u64,
}

impl Outbox {
    /// An outbox of at most that many events, and at least one.
    pub fn new(limit: usize) -> Self {
        Self {
            limit: limit.max(1),
            waiting: Mutex::default(),
            changed: Notify::new(),
        }
    }

    /// Adds the newest event. Never waits; a full outbox gives up its oldest.
    pub fn push(&self, event: Arc<Event>) {
        let mut waiting = self.waiting();
        if waiting.events.len() >= self.limit {
            waiting.events.pop_front();
            waiting.lost += 1;
        }
        waiting.events.push_back(event);
        drop(waiting);
        self.changed.notify_one();
    }

    pub fn len(&self) -> usize {
        self.waiting().events.len()
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The oldest `count`, oldest first; they stay until they are acknowledged.
    pub fn oldest(&self, count: usize) -> Vec<Arc<Event>> {
        self.waiting().events.iter().take(count).cloned().collect()
    }

    /// The broker has the event of that number.
    pub fn acknowledged(&self, number: u64) {
        let mut waiting = self.waiting();
        if let Some(place) = waiting
            .events
            .iter()
            .position(|event| event.number == number)
        {
            waiting.events.remove(place);
        }
    }

    /// Returns once something was pushed since it last returned. For one listener.
    pub async fn changed(&self) {
        self.changed.notified().await;
    }

    /// How many events were given up for want of room.
    pub fn lost(&self) -> u64 {
        self.waiting().lost
    }

    /// Nothing panics while it is held, so a poisoned lock cannot hold half a change.
    fn waiting(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::EventKind;
    use crate::quantity::Timestamp;

    fn event(number: u64) -> Arc<Event> {
        Arc::new(Event {
            number,
            time: Timestamp::UNIX_EPOCH,
            kind: EventKind::Start,
            tank: None,
            code: None,
            from: None,
            to: None,
            person: None,
            text: String::new(),
        })
    }

    fn numbers(outbox: &Outbox) -> Vec<u64> {
        outbox
            .oldest(usize::MAX)
            .iter()
            .map(|event| event.number)
            .collect()
    }

    #[test]
    fn keeps_order_until_acknowledged() {
        let outbox = Outbox::new(10);
        (1..=4).for_each(|number| outbox.push(event(number)));
        outbox.acknowledged(2);
        outbox.acknowledged(9);
        assert_eq!(numbers(&outbox), [1, 3, 4]);
        assert_eq!(outbox.oldest(2).len(), 2);
        assert_eq!(outbox.lost(), 0);
    }

    #[test]
    fn a_full_outbox_gives_up_its_oldest_and_says_so() {
        let outbox = Outbox::new(3);
        (1..=5).for_each(|number| outbox.push(event(number)));
        assert_eq!(numbers(&outbox), [3, 4, 5]);
        assert_eq!(outbox.lost(), 2);
        outbox.acknowledged(1);
        assert_eq!(outbox.len(), 3);
    }

    #[tokio::test]
    async fn a_push_before_the_wait_is_not_missed() {
        let outbox = Outbox::new(3);
        outbox.push(event(1));
        outbox.changed().await;
        assert!(!outbox.is_empty());
    }
}
