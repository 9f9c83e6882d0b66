//! The outbox: events that wait for the broker, oldest first.
//!
//! What always holds: an event enters the journal's `outbox` table in its own transaction and leaves it
//! only after the broker has acknowledged it, so neither an outage of any length nor a restart or a kill
//! loses one; at worst it goes out twice, with the same number. In memory there is a window of the oldest;
//! the rest is read when there is room.

use super::backlog::Shared;
use crate::engine::Event;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;

/// How many are held in memory.
pub const WINDOW: usize = 1024;

#[derive(Debug)]
pub struct Outbox {
    window: Mutex<Window>,
    changed: Notify,
    shared: Arc<Shared>,
}

#[derive(Debug, Default)]
struct Window {
    events: VecDeque<Arc<Event>>,
    /// The highest number that ever was in the window.
    last: u64,
    /// How many wait beyond the window. What was read before it was announced counts as less than none.
    beyond: i64,
    lost: u64,
}

impl Window {
    fn room(&self) -> usize {
        WINDOW.saturating_sub(self.events.len())
    }

    fn wants_more(&self) -> bool {
        self.beyond > 0 && self.events.len() <= WINDOW / 2
    }
}

impl Outbox {
    pub(super) fn new(shared: Arc<Shared>, waiting: usize) -> Self {
        let window = Window {
            beyond: waiting as i64,
            ..Window::default()
        };
        Self {
            window: Mutex::new(window),
            changed: Notify::new(),
            shared,
        }
    }

    /// An event that was journalled, or, if not `kept`, could not be.
    pub(super) fn push(&self, event: &Arc<Event>, kept: bool) {
        let mut window = self.window();
        if event.number <= window.last {
            window.beyond += 1;
        } else if window.beyond == 0 && window.room() > 0 {
            window.last = event.number;
            window.events.push_back(Arc::clone(event));
        } else if kept {
            window.beyond += 1;
        } else {
            window.lost += 1;
        }
        drop(window);
        self.changed.notify_one();
    }

    /// From which number on there is room for how many; none where nothing is to be read.
    pub(super) fn wants(&self) -> Option<(u64, usize)> {
        let window = self.window();
        window.wants_more().then(|| (window.last, window.room()))
    }

    /// What was read from the journal, oldest first.
    pub(super) fn refill(&self, events: Vec<Arc<Event>>) {
        let mut window = self.window();
        if events.is_empty() {
            // The journal knows of no more: it was replaced by a new one.
            window.lost += window.beyond.max(0).cast_unsigned();
            window.beyond = 0;
        }
        for event in events {
            if event.number > window.last {
                window.last = event.number;
                window.events.push_back(event);
                window.beyond -= 1;
            }
        }
        drop(window);
        self.changed.notify_one();
    }

    pub fn len(&self) -> usize {
        let window = self.window();
        let beyond = usize::try_from(window.beyond).unwrap_or_default();
        window.events.len() + beyond
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The oldest `count` of the window, oldest first; they stay until they are acknowledged.
    pub fn oldest(&self, count: usize) -> Vec<Arc<Event>> {
        self.window().events.iter().take(count).cloned().collect()
    }

    /// The broker has the event of that number.
    pub fn acknowledged(&self, number: u64) {
        let mut window = self.window();
        let place = window
            .events
            .iter()
            .position(|event| event.number == number);
        let Some(place) = place else { return };
        window.events.remove(place);
        let wants_more = window.wants_more();
        drop(window);
        self.shared.acknowledge(number, wants_more);
    }

    /// Returns once something came in since it last returned. For one listener.
    pub async fn changed(&self) {
        self.changed.notified().await;
    }

    /// How many events could neither be journalled nor held in memory.
    pub fn lost(&self) -> u64 {
        self.window().lost
    }

    /// Nothing panics while it is held, so a poisoned lock cannot hold half a change.
    fn window(&self) -> MutexGuard<'_, Window> {
        self.window.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
