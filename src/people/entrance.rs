//! The entrance: the one way in for commands, whichever way they came.
//!
//! What always holds: a command is answered by the engine or by [`Closed`]; a command without a person's
//! name gets no further than here.

use crate::engine::{Command, Done, Refusal};
use crate::wire::{Answer, Request};
use std::fmt;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot};

/// The longest name that a person can have, in characters; longer is a slip.
const LONGEST_NAME: usize = 80;

/// A command on its way to the engine, and where its answer goes.
#[derive(Debug)]
pub struct Petition {
    pub command: Command,
    pub answer: oneshot::Sender<Result<Done, Refusal>>,
}

/// The daemon is stopping: nothing was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the daemon is stopping; nothing was done")]
pub struct Closed;

/// Hands commands to the engine; cheap to clone.
#[derive(Clone)]
pub struct Entrance {
    petitions: mpsc::Sender<Petition>,
    status: Arc<dyn Fn() -> serde_json::Value + Send + Sync>,
}

impl fmt::Debug for Entrance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Entrance").finish_non_exhaustive()
    }
}

impl Entrance {
    /// `status` writes down everything as it stands.
    pub fn new(
        petitions: mpsc::Sender<Petition>,
        status: Arc<dyn Fn() -> serde_json::Value + Send + Sync>,
    ) -> Self {
        Self { petitions, status }
    }

    /// Asks, and waits for the answer.
    pub async fn ask(&self, request: Request) -> Result<Answer, Closed> {
        if let Some(trouble) = request.by().and_then(name_trouble) {
            return Ok(Answer::Refused(trouble.to_owned()));
        }
        let Some(command) = request.command() else {
            return Ok(Answer::Status((self.status)()));
        };
        let (answer, answered) = oneshot::channel();
        self.petitions
            .send(Petition { command, answer })
            .await
            .map_err(|_| Closed)?;
        answered.await.map(Answer::of).map_err(|_| Closed)
    }
}

fn name_trouble(name: &str) -> Option<&'static str> {
    if name.trim().is_empty() {
        Some("a command needs the name of the person who gives it")
    } else if name.chars().count() > LONGEST_NAME {
        Some("that name is too long: at most 80 characters")
    } else if name.chars().any(char::is_control) {
        Some("that name holds a control character")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ack(by: &str) -> Request {
        Request::Ack {
            tank: "clearwell".into(),
            code: "LAH".into(),
            by: by.into(),
            activation: None,
        }
    }

    fn entrance() -> (Entrance, mpsc::Receiver<Petition>) {
        let (petitions, received) = mpsc::channel(1);
        (
            Entrance::new(petitions, Arc::new(|| serde_json::Value::Null)),
            received,
        )
    }

    #[tokio::test]
    async fn a_command_reaches_the_engine_and_its_answer_comes_back() {
        let (entrance, mut received) = entrance();
        let engine = tokio::spawn(async move {
            let petition = received.recv().await.expect("a petition");
            petition
                .answer
                .send(Ok(Done("done".into())))
                .expect("somebody waits");
        });
        assert_eq!(
            entrance.ask(ack("Ada")).await,
            Ok(Answer::Done("done".into()))
        );
        engine.await.expect("the engine ends");
    }

    #[tokio::test]
    async fn without_a_name_nothing_gets_through() {
        let (entrance, mut received) = entrance();
        for name in ["", "  ", "a\nb"] {
            assert!(matches!(
                entrance.ask(ack(name)).await,
                Ok(Answer::Refused(_))
            ));
        }
        assert!(received.try_recv().is_err());
    }

    #[tokio::test]
    async fn a_stopped_engine_is_said() {
        let (entrance, received) = entrance();
        drop(received);
        assert_eq!(entrance.ask(ack("Ada")).await, Err(Closed));
    }
}
