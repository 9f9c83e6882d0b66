//! The entrance: the one way in for commands, whichever way they came.
//!
//! What always holds: a command is answered by the engine, by the roster or by [`Closed`]; none gets further
//! than here without a person's name and the role that it takes. A forbidden attempt is handed on as well, so
//! that it is recorded.

use super::role;
use super::roster::{Caller, Roster};
use crate::engine::{Command, Done, Refusal};
use crate::wire::{Answer, Request, said};
use nix::unistd::{Uid, User, geteuid};
use serde_json::Value;
use std::fmt;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot};

/// What comes through the entrance, on its way to the engine.
#[derive(Debug)]
pub enum Petition {
    /// A command, and where its answer goes.
    Command(Command, oneshot::Sender<Result<Done, Refusal>>),
    /// Somebody tried what they may not: who, if that is known, and what.
    Forbidden {
        person: Option<Arc<str>>,
        text: String,
    },
    /// Somebody signed in or out.
    Session { person: Arc<str>, text: String },
}

/// How a request came, and what is known of whoever sent it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// By the local socket, or from the daemon's own terminal: the number of the operating system's user.
    Local { user: u32 },
    /// By the page: the person who has signed in there.
    Page { person: Arc<str> },
}

impl Way {
    /// From the program itself.
    pub fn own() -> Self {
        Way::Local { user: own_user() }
    }
}

/// The user that this program runs as.
pub fn own_user() -> u32 {
    geteuid().as_raw()
}

/// The daemon is stopping: nothing was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the daemon is stopping; nothing was done")]
pub struct Closed;

/// Hands commands to the engine; cheap to clone.
#[derive(Clone)]
pub struct Entrance {
    petitions: mpsc::Sender<Petition>,
    roster: Arc<Roster>,
    status: Arc<dyn Fn() -> serde_json::Value + Send + Sync>,
}

impl fmt::Debug for Entrance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Entrance").finish_non_exhaustive()
    }
}

/// What somebody may write over several lines; they are put into one.
const WORDS: [&str; 2] = ["text", "reason"];

/// The request with each of its texts as one line that can be shown.
fn shown(request: Request) -> Result<Request, String> {
    fn each(key: &str, value: &mut Value) -> Result<(), String> {
        match value {
            Value::String(text) => {
                let line = said::line(text)?;
                if line != *text && !WORDS.contains(&key) {
                    return Err(format!("`{key}` is one line: {line:?}"));
                }
                *text = line;
            }
            Value::Array(all) => all.iter_mut().try_for_each(|one| each(key, one))?,
            Value::Object(all) => all
                .iter_mut()
                .try_for_each(|(key, value)| each(key, value))?,
            Value::Null | Value::Bool(_) | Value::Number(_) => {}
        }
        Ok(())
    }
    let mut value = serde_json::to_value(&request).map_err(|error| error.to_string())?;
    each("", &mut value)?;
    serde_json::from_value(value).map_err(|error| error.to_string())
}

impl Entrance {
    /// `status` writes down everything as it stands.
    pub fn new(
        petitions: mpsc::Sender<Petition>,
        roster: Roster,
        status: Arc<dyn Fn() -> serde_json::Value + Send + Sync>,
    ) -> Self {
        Self {
            petitions,
            roster: Arc::new(roster),
            status,
        }
    }

    /// Asks, and waits for the answer.
    pub async fn ask(&self, way: Way, request: Request) -> Result<Answer, Closed> {
        let mut request = match shown(request) {
            Ok(request) => request,
            Err(unfit) => return Ok(Answer::Refused(unfit)),
        };
        let takes = role::takes(&request);
        let (admitted, caller) = match way {
            Way::Local { user } => {
                let caller = caller(user).await;
                let named = request.by_mut().cloned().unwrap_or_default();
                (
                    self.roster.admit(&caller, &named, takes),
                    caller.to_string(),
                )
            }
            Way::Page { person } => {
                let caller = format!("{person} at the page");
                (self.roster.admit_signed_in(&person, takes), caller)
            }
        };
        let person = match admitted {
            Ok(person) => person,
            Err(forbidden) => {
                if forbidden.is_attempt() {
                    let text = format!("\"{}\" by {caller}: {forbidden}", request.name());
                    self.record_refusal(forbidden.person().cloned(), text)
                        .await?;
                }
                return Ok(Answer::Refused(forbidden.to_string()));
            }
        };
        if let Some(by) = request.by_mut() {
            *by = person.to_string();
        }
        let Some(command) = request.command() else {
            return Ok(Answer::Status((self.status)()));
        };
        let (answer, answered) = oneshot::channel();
        self.petitions
            .send(Petition::Command(command, answer))
            .await
            .map_err(|_| Closed)?;
        answered.await.map(Answer::of).map_err(|_| Closed)
    }

    pub(super) fn roster(&self) -> &Roster {
        &self.roster
    }

    pub(super) async fn record_refusal(
        &self,
        person: Option<Arc<str>>,
        text: String,
    ) -> Result<(), Closed> {
        let petition = Petition::Forbidden { person, text };
        self.petitions.send(petition).await.map_err(|_| Closed)
    }

    pub(super) async fn record_session(
        &self,
        person: Arc<str>,
        text: String,
    ) -> Result<(), Closed> {
        let petition = Petition::Session { person, text };
        self.petitions.send(petition).await.map_err(|_| Closed)
    }
}

/// The system's name for a caller; a directory that does not answer leaves only the number.
async fn caller(id: u32) -> Caller {
    let name = tokio::task::spawn_blocking(move || User::from_uid(Uid::from_raw(id)));
    let name = name.await.ok().and_then(Result::ok).flatten();
    Caller {
        id,
        name: name.map(|user| user.name),
    }
}

#[cfg(test)]
#[path = "entrance_tests.rs"]
mod tests;
