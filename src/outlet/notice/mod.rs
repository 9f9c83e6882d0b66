//! Notices on their way: e-mail and webhooks.
//!
//! What always holds: each recipient has a task and a bounded queue of its own, so that one who hangs delays
//! nobody else, and the engine never waits; every attempt has a time-out and every notice an end, after which
//! the engine hears what became of it. What waits here is lost with the program: the engine remembers it and
//! sends it again under its number.

mod mail;
mod webhook;

use crate::engine::notice::{Notice, NoticeId, Outcome};
use crate::site::settings::{MailSettings, NoticeSettings, NoticeWay, RecipientSettings};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{sleep, timeout};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// How many notices may wait for one recipient.
const QUEUE: usize = 64;
/// How long one attempt may take.
const ATTEMPT: Duration = Duration::from_secs(15);
/// Between attempts: doubling from the first to the longest.
const FIRST_PAUSE: Duration = Duration::from_millis(500);
const LONGEST_PAUSE: Duration = Duration::from_secs(30);

/// The outlet, before it is started.
#[derive(Debug)]
pub struct Notices {
    pub settings: NoticeSettings,
    /// The site's name, and folded.
    pub site: Arc<str>,
    pub site_folded: Arc<str>,
    /// Where outcomes go.
    pub outcomes: mpsc::Sender<(NoticeId, Outcome)>,
    pub up: fn() -> Duration,
}

/// Where notices are handed in.
#[derive(Debug)]
pub struct Desk {
    queues: Vec<mpsc::Sender<(Duration, Notice)>>,
    up: fn() -> Duration,
}

/// Why an attempt failed.
#[derive(Debug)]
struct Trouble {
    text: String,
    /// The server will never take it: no further attempt.
    is_final: bool,
}

impl Trouble {
    fn passing(text: impl ToString) -> Self {
        Self {
            text: text.to_string(),
            is_final: false,
        }
    }
}

/// One recipient's task.
#[derive(Debug)]
struct Carrier {
    recipient: RecipientSettings,
    mail: Option<Arc<MailSettings>>,
    site: Arc<str>,
    site_folded: Arc<str>,
    up: fn() -> Duration,
}

impl Notices {
    pub fn start(self, tasks: &TaskTracker, stop: &CancellationToken) -> Desk {
        let mail = self.settings.mail.map(Arc::new);
        let start = |recipient: RecipientSettings| {
            let (queue, waiting) = mpsc::channel(QUEUE);
            let carrier = Carrier {
                recipient,
                mail: mail.clone(),
                site: Arc::clone(&self.site),
                site_folded: Arc::clone(&self.site_folded),
                up: self.up,
            };
            let (outcomes, stop) = (self.outcomes.clone(), stop.clone());
            tasks.spawn(async move {
                tokio::select! {
                    () = carrier.run(waiting, outcomes) => {}
                    () = stop.cancelled() => {}
                }
            });
            queue
        };
        Desk {
            queues: self.settings.recipients.into_iter().map(start).collect(),
            up: self.up,
        }
    }
}

impl Desk {
    /// Never waits; answers where it can't be taken.
    pub fn hand_in(&self, notice: Notice) -> Option<(NoticeId, Outcome)> {
        let id = notice.id;
        let queue = &self.queues[notice.recipient.index()];
        let trouble = match queue.try_send(((self.up)(), notice)) {
            Ok(()) => return None,
            Err(mpsc::error::TrySendError::Full(_)) => "too many notices wait for this recipient",
            Err(mpsc::error::TrySendError::Closed(_)) => "the program is about to end",
        };
        Some((id, Outcome::Failed(trouble.into())))
    }
}

impl Carrier {
    async fn run(
        self,
        mut waiting: mpsc::Receiver<(Duration, Notice)>,
        outcomes: mpsc::Sender<(NoticeId, Outcome)>,
    ) {
        while let Some((since, notice)) = waiting.recv().await {
            let outcome = self.carry(since, &notice).await;
            if outcomes.send((notice.id, outcome)).await.is_err() {
                return;
            }
        }
    }

    /// One attempt at least, and others until the time is up.
    async fn carry(&self, since: Duration, notice: &Notice) -> Outcome {
        let (end, mut pause) = (since + self.recipient.give_up, FIRST_PAUSE);
        let name = &self.recipient.name;
        loop {
            let attempt = timeout(ATTEMPT, self.attempt(notice)).await;
            let late = || Trouble::passing(format!("no answer within {} s", ATTEMPT.as_secs()));
            let Err(trouble) = attempt.unwrap_or_else(|_| Err(late())) else {
                return Outcome::Delivered;
            };
            let text = trouble.text;
            if trouble.is_final || (self.up)() + pause > end {
                return Outcome::Failed(text.into());
            }
            tracing::warn!("notice {} to {name}: {text}; trying again", notice.id.0);
            sleep(pause).await;
            pause = (2 * pause).min(LONGEST_PAUSE);
        }
    }

    async fn attempt(&self, notice: &Notice) -> Result<(), Trouble> {
        match (&self.recipient.way, &self.mail) {
            (NoticeWay::Mail(to), Some(mail)) => {
                mail::send(mail, to, &self.site_folded, notice).await
            }
            (NoticeWay::Mail(_), None) => Err(Trouble {
                text: "the site file has no server for e-mail".to_owned(),
                is_final: true,
            }),
            (NoticeWay::Webhook(hook), _) => webhook::post(hook, &self.site, notice).await,
        }
    }
}
