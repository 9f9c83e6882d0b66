//! What waits to be written: a bounded queue in memory between the program and the writer thread.
//!
//! What always holds: putting something in never waits; what is in it leaves it only once it is
//! written; what there is no room for is counted, with the numbers of the events. What is remembered
//! is never lost: the newest of each alarm, and of all else, is kept, however full the queue.

use super::recorder::MinuteRow;
use super::{Kept, Lost, Standing, Step, Subject};
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::watch;

/// How many events may wait: at 300 bytes each some 30 MB.
const MOST_EVENTS: usize = 100_000;
/// How many rows of samples may wait: at 200 bytes each some 10 MB.
const MOST_ROWS: usize = 50_000;
/// How long the writer sleeps at most; acknowledgements of the broker wait so long to be written together.
const IDLE: Duration = Duration::from_secs(1);
/// How long after a failure the next attempt is made.
const RETRY: Duration = Duration::from_secs(1);

/// Shared by the program's side and the writer.
#[derive(Debug)]
pub struct Shared {
    backlog: Mutex<Backlog>,
    wake: Condvar,
    pub standing: watch::Sender<Standing>,
}

#[derive(Debug, Default)]
pub struct Backlog {
    pub steps: VecDeque<Arc<Step>>,
    pub rows: VecDeque<MinuteRow>,
    pub acknowledged: Vec<u64>,
    pub closing: bool,
    refill: bool,
    events: usize,
    /// The ticket of the newest step.
    ticket: u64,
    /// Of steps that there was no room for.
    overflow: BTreeMap<Subject, Kept>,
    fingerprint: Option<Arc<str>>,
    lost: Lost,
}

impl Shared {
    pub fn new(standing: Standing) -> Self {
        Self {
            backlog: Mutex::default(),
            wake: Condvar::new(),
            standing: watch::Sender::new(standing),
        }
    }

    /// Puts a step in; answers with its ticket, or with none where its events had no room.
    pub fn push(&self, step: &Arc<Step>) -> Option<u64> {
        let mut backlog = self.lock();
        let count = step.events.len();
        if backlog.events + count > MOST_EVENTS {
            backlog.lose(step);
            return None;
        }
        backlog.events += count;
        backlog.ticket += 1;
        backlog.steps.push_back(Arc::clone(step));
        let ticket = backlog.ticket;
        drop(backlog);
        self.wake.notify_one();
        Some(ticket)
    }

    pub fn push_rows(&self, rows: Vec<MinuteRow>) {
        if rows.is_empty() {
            return;
        }
        let mut backlog = self.lock();
        let room = MOST_ROWS.saturating_sub(backlog.rows.len());
        backlog.lost.minutes += rows.len().saturating_sub(room) as u64;
        backlog.rows.extend(rows.into_iter().take(room));
        drop(backlog);
        self.wake.notify_one();
    }

    pub fn acknowledge(&self, number: u64, refill: bool) {
        let mut backlog = self.lock();
        backlog.acknowledged.push(number);
        backlog.refill |= refill;
        if refill {
            self.wake.notify_one();
        }
    }

    pub fn close(&self) {
        self.lock().closing = true;
        self.wake.notify_one();
    }

    /// For the writer: returns once there is something to do, or it is time to look.
    pub fn await_work(&self, failed: bool) -> MutexGuard<'_, Backlog> {
        let (wait, idle): (_, fn(&mut Backlog) -> bool) = if failed {
            (RETRY, |backlog| !backlog.closing)
        } else {
            (IDLE, |backlog| !backlog.is_urgent())
        };
        let waited = self.wake.wait_timeout_while(self.lock(), wait, idle);
        waited.unwrap_or_else(PoisonError::into_inner).0
    }

    /// Nothing panics while it is held, so a poisoned lock cannot hold half a change.
    pub fn lock(&self) -> MutexGuard<'_, Backlog> {
        self.backlog.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Backlog {
    fn is_urgent(&self) -> bool {
        self.closing
            || self.refill
            || !self.steps.is_empty()
            || !self.rows.is_empty()
            || !self.overflow.is_empty()
    }

    /// The oldest steps; they stay in until [`Backlog::written`].
    pub fn oldest(&mut self, count: usize) -> Vec<Arc<Step>> {
        if self.steps.is_empty() && !self.overflow.is_empty() {
            // All else is written; what is remembered of the alarms of lost events follows.
            let kept = std::mem::take(&mut self.overflow).into_values().collect();
            let fingerprint = self.fingerprint.take().unwrap_or_default();
            self.ticket += 1;
            self.steps.push_back(Arc::new(Step {
                events: Vec::new(),
                kept,
                fingerprint,
            }));
        }
        self.steps.iter().take(count).cloned().collect()
    }

    /// So many of the oldest steps are written; answers with the newest ticket among them.
    pub fn written(&mut self, count: usize) -> u64 {
        let count = count.min(self.steps.len());
        for step in self.steps.drain(..count) {
            self.events -= step.events.len();
        }
        self.ticket - self.steps.len() as u64
    }

    pub fn waiting(&self) -> usize {
        self.events
    }

    pub fn lost(&self) -> Lost {
        self.lost
    }

    /// A turn of the writer looks after the outbox.
    pub fn refilled(&mut self) {
        self.refill = false;
    }

    fn lose(&mut self, step: &Step) {
        for event in &step.events {
            self.lost.events += 1;
            self.lost.first.get_or_insert(event.number);
            self.lost.last = Some(event.number);
        }
        self.fingerprint = Some(Arc::clone(&step.fingerprint));
        for kept in &step.kept {
            self.overflow.insert(kept.subject.clone(), kept.clone());
        }
    }
}
