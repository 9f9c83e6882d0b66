//! The journal: every event, what is remembered of alarms, samples, and the outbox, in one SQLite file.
//!
//! What always holds: one thread writes ([`writer`]), over a bounded queue ([`backlog`]) that the program
//! never waits for longer than [`LONGEST_WAIT`]; the events of a step, what is remembered of their alarms
//! and their place in the outbox are one transaction; entries are chained ([`entry`]); what can't be
//! written is told and kept in memory, and what can't be kept is counted.
//! How samples are packed is told in [`coding`], the tables in [`schema`].

mod backlog;
pub mod coding;
mod entry;
mod error;
mod lock;
mod outbox;
mod reader;
mod recorder;
mod schema;
mod store;
#[cfg(test)]
mod tests;
mod verify;
mod writer;

pub use error::JournalError;
pub use outbox::Outbox;
pub use reader::{Filter, Reader};
pub use recorder::{MinuteRow, Recorder, Series, SeriesKind};
pub use verify::Verdict;

use crate::engine::Event;
use crate::engine::memory::{AlarmMemory, Memory, Remembered, RememberedKind};
use crate::quantity::Timestamp;
use crate::site::settings::JournalSettings;
use backlog::Shared;
use lock::Lock;
use std::sync::Arc;
use std::time::Duration;
use store::{Restored, Store};
use tokio::sync::watch;
use tokio::time::timeout;
use writer::Writer;

/// The longest that a step waits for its commit; then it counts as not written yet.
pub const LONGEST_WAIT: Duration = Duration::from_secs(1);
/// How long the end of a run waits for what is left.
const GOODBYE: Duration = Duration::from_secs(5);
/// Kept unless the site file says otherwise: samples, and events with the minutes' summaries.
const KEEP_SAMPLES: Duration = Duration::from_secs(30 * 86_400);
const KEEP_EVENTS: Duration = Duration::from_secs(3653 * 86_400);

/// What one step of the engine leaves behind.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Step {
    pub events: Vec<Arc<Event>>,
    pub kept: Vec<Kept>,
    /// Of the site file in force.
    pub fingerprint: Arc<str>,
}

/// What is remembered of one thing from now on, as JSON.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    pub subject: Subject,
    /// None: nothing any more.
    pub(crate) memory: Option<String>,
}

/// What something remembered is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    Alarm { tank: Arc<str>, code: Arc<str> },
    Other { kind: Arc<str>, of: Arc<str> },
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Subject::Alarm { tank, code } => write!(f, "alarm {tank} {code}"),
            Subject::Other { kind, of } => write!(f, "{kind} {of}"),
        }
    }
}

impl Kept {
    pub fn alarm(tank: Arc<str>, code: Arc<str>, memory: &AlarmMemory) -> Self {
        Self {
            subject: Subject::Alarm { tank, code },
            memory: Some(json(memory)),
        }
    }

    pub fn other(kind: RememberedKind, of: Arc<str>, memory: Option<&Remembered>) -> Self {
        let kind = kind.name().into();
        Self {
            subject: Subject::Other { kind, of },
            memory: memory.map(json),
        }
    }
}

fn json(memory: &impl serde::Serialize) -> String {
    serde_json::to_string(memory).expect("it has text keys and plain values only")
}

/// How the journal fares.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Standing {
    /// The newest step that is committed, by its ticket.
    done: u64,
    /// Why it can't be written; none while it can.
    pub trouble: Option<Arc<str>>,
    /// How many events wait in memory to be written.
    pub waiting: usize,
    /// What there was no room for, since the start.
    pub lost: Lost,
    /// Where one that could not be read is kept.
    pub aside: Option<Arc<str>>,
    /// The writer has ended, as it was asked to.
    ended: bool,
}

/// What could not be written and not be held in memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Lost {
    pub events: u64,
    /// The lowest and the highest number among them.
    pub first: Option<u64>,
    pub last: Option<u64>,
    /// Minutes of a series of samples.
    pub minutes: u64,
}

/// The program's side of the journal.
#[derive(Debug)]
pub struct Journal {
    shared: Arc<Shared>,
    outbox: Option<Arc<Outbox>>,
}

/// A journal that was opened, and what it remembers.
#[derive(Debug)]
pub struct Opened {
    pub journal: Journal,
    /// Nothing in a new one.
    pub memory: Option<Memory>,
}

impl Journal {
    /// Opens it, or starts a new one; one that another program writes is refused. One that can't be read is
    /// kept aside (`Standing::aside`); one that there is no room to write to is tried again and again
    /// (`Standing::trouble`).
    pub fn open(
        settings: &JournalSettings,
        has_broker: bool,
        now: Timestamp,
    ) -> Result<Opened, JournalError> {
        let file = &settings.file;
        let lock = Lock::take(file)?;
        let mut standing = Standing::default();
        let opened = Store::open(file).and_then(|store| Ok((store.restored()?, Some(store))));
        let (restored, store) = match opened {
            Ok(opened) => opened,
            Err(error) if error.is_damage() => {
                let last_event = reader::salvaged_number(file);
                let kept = writer::set_aside(file, now)?;
                tracing::error!("{error}; kept aside as {}", kept.display());
                standing.aside = Some(kept.display().to_string().into());
                let restored = Restored {
                    last_event,
                    ..Restored::default()
                };
                (restored, Some(Store::open(file)?))
            }
            Err(error) if error.may_pass() => {
                standing.trouble = Some(error.to_string().into());
                (reader::restored_without_room(file), None)
            }
            Err(error) => return Err(error),
        };
        let shared = Arc::new(Shared::new(standing));
        let outbox =
            has_broker.then(|| Arc::new(Outbox::new(Arc::clone(&shared), restored.waiting)));
        let writer = Writer {
            file: file.clone(),
            keep_samples: settings.keep_samples.unwrap_or(KEEP_SAMPLES),
            keep_events: settings.keep_events.unwrap_or(KEEP_EVENTS),
            store,
            shared: Arc::clone(&shared),
            outbox: outbox.clone(),
            remembered: restored.remembered.iter().cloned().collect(),
            now,
            lock,
        };
        std::thread::Builder::new()
            .name("journal".to_owned())
            .spawn(move || writer.run())
            .map_err(|error| JournalError::Thread(error.to_string()))?;
        let journal = Self { shared, outbox };
        Ok(Opened {
            journal,
            memory: memory(restored),
        })
    }

    /// Writes a step. Returns once it is committed, or it is known that this takes longer; then it waits in
    /// memory and the reason is the answer. Whatever comes, the events are in the outbox after it.
    pub async fn commit(&self, step: Step) -> Result<(), Arc<str>> {
        let step = Arc::new(step);
        let ticket = self.shared.push(&step);
        let committed = self.committed(ticket).await;
        for event in &step.events {
            if let Some(outbox) = &self.outbox {
                outbox.push(event, ticket.is_some());
            }
        }
        committed
    }

    /// Takes samples; never waits.
    pub fn sample(&self, rows: Vec<MinuteRow>) {
        self.shared.push_rows(rows);
    }

    pub fn standing(&self) -> watch::Receiver<Standing> {
        self.shared.standing.subscribe()
    }

    /// Events that wait for the broker, where the site has one.
    pub fn outbox(&self) -> Option<&Arc<Outbox>> {
        self.outbox.as_ref()
    }

    /// Writes what is left, and ends the writer.
    pub async fn close(&self) {
        self.shared.close();
        let mut standing = self.standing();
        let ended = standing.wait_for(|standing| standing.ended);
        if timeout(GOODBYE, ended).await.is_err() {
            tracing::error!("the disk does not answer: what was left for the journal is lost");
        }
    }

    async fn committed(&self, ticket: Option<u64>) -> Result<(), Arc<str>> {
        let mut standing = self.shared.standing.subscribe();
        let trouble = |standing: &Standing| standing.trouble.clone();
        let Some(ticket) = ticket else {
            let told = trouble(&standing.borrow());
            return Err(told.unwrap_or_else(|| "too much waits to be written".into()));
        };
        let over = |standing: &Standing| standing.done >= ticket || standing.trouble.is_some();
        let waited = timeout(LONGEST_WAIT, standing.wait_for(over)).await;
        match waited {
            Ok(Ok(standing)) if standing.done >= ticket => Ok(()),
            Ok(Ok(standing)) => Err(trouble(&standing).unwrap_or_default()),
            Ok(Err(_)) => Err("its writer has ended".into()),
            Err(_) => {
                let late: Arc<str> =
                    format!("the disk has not answered for {} s", LONGEST_WAIT.as_secs()).into();
                let told = Arc::clone(&late);
                self.shared.standing.send_if_modified(|standing| {
                    let is_news = standing.done < ticket && standing.trouble.is_none();
                    if is_news {
                        standing.trouble = Some(told);
                    }
                    is_news
                });
                Err(late)
            }
        }
    }
}

/// None of a journal that knows nothing. What can't be read is begun anew.
fn memory(restored: Restored) -> Option<Memory> {
    if restored.last_event == 0 && restored.last_time.is_none() {
        return None;
    }
    let mut memory = Memory {
        last_event: restored.last_event,
        last_time: restored.last_time,
        fingerprint: restored.fingerprint,
        ..Memory::default()
    };
    for (subject, text) in restored.remembered {
        let name = subject.to_string();
        let taken = match subject {
            Subject::Alarm { tank, code } => serde_json::from_str(&text).map(|alarm| {
                memory
                    .alarms
                    .push((tank.to_string(), code.to_string(), alarm))
            }),
            Subject::Other { of, .. } => serde_json::from_str(&text)
                .map(|other| memory.remembered.push((of.to_string(), other))),
        };
        if let Err(error) = taken {
            tracing::error!("what is remembered of {name} can't be read ({error}): begun anew");
        }
    }
    Some(memory)
}
