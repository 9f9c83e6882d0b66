//! The writer: the one thread that owns the database.
//!
//! What always holds: it takes from the backlog only what it has committed; a failure is told at once and
//! tried again every second; a database that turns out damaged is kept aside and a new one started.

use super::Subject;
use super::backlog::Shared;
use super::entry::compact;
use super::error::JournalError;
use super::lock::Lock;
use super::outbox::Outbox;
use super::store::Store;
use crate::quantity::Timestamp;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// How many steps, and how many rows of samples, one transaction takes at most.
const STEPS_AT_ONCE: usize = 256;
const ROWS_AT_ONCE: usize = 1000;

pub struct Writer {
    pub file: PathBuf,
    pub keep_samples: Duration,
    pub keep_events: Duration,
    pub store: Option<Store>,
    pub shared: Arc<Shared>,
    pub outbox: Option<Arc<Outbox>>,
    /// All that is remembered, for a journal that has to be started anew.
    pub remembered: BTreeMap<Subject, String>,
    /// The newest time that was written: names a file that is kept aside.
    pub now: Timestamp,
    /// That nobody else writes; freed once the file is closed.
    pub lock: Option<Lock>,
}

impl Writer {
    /// Runs until the backlog is closed and, if that is possible, written.
    pub fn run(mut self) {
        let mut failed = false;
        loop {
            let closing = self.shared.await_work(failed).closing;
            let done = self.turn();
            failed = done.is_err();
            self.tell(done);
            if closing {
                let left = self.shared.lock().waiting();
                if left > 0 {
                    tracing::error!("{left} events could not be written to the journal");
                }
                // The file is closed, and its log taken in, before it is said.
                self.store = None;
                self.lock = None;
                self.shared
                    .standing
                    .send_modify(|standing| standing.ended = true);
                return;
            }
        }
    }

    fn turn(&mut self) -> Result<(), JournalError> {
        let done = self.open().and_then(|()| self.write());
        match done {
            Err(error) if error.is_damage() => {
                self.start_anew(&error)?;
                self.write()
            }
            other => other,
        }
    }

    fn open(&mut self) -> Result<(), JournalError> {
        if self.store.is_none() {
            self.store = Some(Store::open(&self.file)?);
        }
        Ok(())
    }

    fn write(&mut self) -> Result<(), JournalError> {
        self.write_steps()?;
        self.write_acknowledged()?;
        self.write_rows()?;
        self.refill()
    }

    fn write_steps(&mut self) -> Result<(), JournalError> {
        let Some(store) = &mut self.store else {
            return Ok(());
        };
        loop {
            let steps = self.shared.lock().oldest(STEPS_AT_ONCE);
            if steps.is_empty() {
                return Ok(());
            }
            store.append(&steps, self.outbox.is_some())?;
            for step in &steps {
                for kept in &step.kept {
                    let subject = kept.subject.clone();
                    match &kept.memory {
                        Some(memory) => self.remembered.insert(subject, memory.clone()),
                        None => self.remembered.remove(&subject),
                    };
                }
                self.now = step.events.last().map_or(self.now, |event| event.time);
            }
            let done = self.shared.lock().written(steps.len());
            // Whoever waits for its commit goes on at once, whatever else this turn has to do.
            self.shared
                .standing
                .send_modify(|standing| standing.done = done);
        }
    }

    /// Those whose event is written; the others wait for it.
    fn write_acknowledged(&mut self) -> Result<(), JournalError> {
        let Some(store) = &mut self.store else {
            return Ok(());
        };
        let newest = store.newest();
        let numbers: Vec<u64> = {
            let backlog = self.shared.lock();
            let written = backlog.acknowledged.iter().copied();
            written.filter(|number| *number <= newest).collect()
        };
        if numbers.is_empty() {
            return Ok(());
        }
        store.acknowledge(&numbers)?;
        let mut backlog = self.shared.lock();
        backlog
            .acknowledged
            .retain(|number| !numbers.contains(number));
        Ok(())
    }

    fn write_rows(&mut self) -> Result<(), JournalError> {
        let Some(store) = &mut self.store else {
            return Ok(());
        };
        loop {
            let rows: Vec<_> = {
                let backlog = self.shared.lock();
                backlog.rows.iter().take(ROWS_AT_ONCE).cloned().collect()
            };
            let Some(newest) = rows.iter().filter_map(super::MinuteRow::last).max() else {
                return Ok(());
            };
            store.sample(&rows)?;
            self.shared.lock().rows.drain(..rows.len());
            self.now = newest;
            store.roll_up()?;
            let counted = store.retention_clock(newest)?;
            store.prune(counted, self.keep_samples, self.keep_events)?;
        }
    }

    /// Fills the outbox's window: from the journal first, then with what waits to be written.
    fn refill(&mut self) -> Result<(), JournalError> {
        let (Some(store), Some(outbox)) = (&self.store, &self.outbox) else {
            return Ok(());
        };
        self.shared.lock().refilled();
        let Some((beyond, room)) = outbox.wants() else {
            return Ok(());
        };
        let mut events = store.waiting(beyond, room)?;
        if events.len() < room {
            let backlog = self.shared.lock();
            let unwritten = backlog.steps.iter().flat_map(|step| &step.events);
            let unwritten = unwritten.filter(|event| event.number > beyond.max(store.newest()));
            events.extend(unwritten.take(room - events.len()).cloned());
        }
        outbox.refill(events);
        Ok(())
    }

    fn start_anew(&mut self, error: &JournalError) -> Result<(), JournalError> {
        self.store = None;
        let kept = set_aside(&self.file, self.now)?;
        tracing::error!("{error}; the journal is kept aside as {}", kept.display());
        let mut store = Store::open(&self.file)?;
        store.remember(&self.remembered)?;
        self.store = Some(store);
        let kept: Arc<str> = kept.display().to_string().into();
        self.shared
            .standing
            .send_modify(|standing| standing.aside = Some(kept));
        Ok(())
    }

    /// How the journal stands after a turn.
    fn tell(&self, done: Result<(), JournalError>) {
        let (waiting, lost) = {
            let backlog = self.shared.lock();
            (backlog.waiting(), backlog.lost())
        };
        let trouble: Option<Arc<str>> = done.err().map(|error| error.to_string().into());
        self.shared.standing.send_if_modified(|standing| {
            let before = standing.clone();
            standing.trouble = trouble;
            standing.waiting = waiting;
            standing.lost = lost;
            *standing != before
        });
    }
}

/// Gives a journal, with what belongs to it, another name; answers with that.
pub fn set_aside(file: &Path, now: Timestamp) -> Result<PathBuf, JournalError> {
    let kept = with_suffix(file, &format!(".unreadable-{}", compact(now)));
    for suffix in ["", "-wal", "-shm"] {
        let (from, to) = (with_suffix(file, suffix), with_suffix(&kept, suffix));
        match std::fs::rename(&from, &to) {
            Err(cause) if suffix.is_empty() => {
                return Err(JournalError::Aside {
                    file: from,
                    aside: to,
                    cause,
                });
            }
            // Those two need not be there.
            _ => {}
        }
    }
    Ok(kept)
}

fn with_suffix(file: &Path, suffix: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}
