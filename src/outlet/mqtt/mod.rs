//! MQTT 3.1.1: the newest of every live value, retained, and every event, in order, at least once.
//!
//! What always holds: nothing but this task waits for the broker. The client library's own queue is not
//! durable, so it is never trusted: each connection starts with a client of its own, is handed at most a
//! window, and an event leaves the outbox only when the broker has acknowledged it. After a lost
//! connection the client is thrown away with all it held, and what was not acknowledged is handed over
//! again; an event's number shows a repetition.

mod backoff;
mod live;
mod session;
mod topics;
mod transport;

use crate::engine::Snapshot;
use crate::outlet::Outbox;
use crate::site::settings::BrokerSettings;
use backoff::Backoff;
use live::Live;
use session::{End, Session};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;
use topics::Topics;

/// The outlet to one broker.
#[derive(Debug)]
pub struct Mqtt {
    pub settings: BrokerSettings,
    pub site_folded: Arc<str>,
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    pub outbox: Arc<Outbox>,
    pub heartbeat_every: Duration,
    /// The monotonic time that messages and attempts are paced by.
    pub up: fn() -> Duration,
}

impl Mqtt {
    /// Runs until `stop`; then says `offline` within a short time, if there is a connection at all.
    pub async fn run(mut self, stop: CancellationToken) {
        let topics = Topics::new(&self.settings.topic, &self.site_folded);
        let mut live = Live::new(self.settings.reading_every, self.heartbeat_every);
        let mut backoff = Backoff::default();
        let mut told = String::new();
        while !stop.is_cancelled() {
            let started = (self.up)();
            let mut session = Session::new(
                &topics,
                &mut live,
                &self.outbox,
                &mut self.snapshots,
                self.up,
                &stop,
            );
            match session.run(&self.settings).await {
                End::Stopped => return,
                End::Lost { trouble, connected } => {
                    self.tell(&trouble, connected, &mut told);
                    if connected {
                        backoff.connected_for((self.up)().saturating_sub(started));
                    }
                }
            }
            tokio::select! {
                () = sleep(backoff.next_delay()) => {}
                () = stop.cancelled() => {}
            }
        }
    }

    /// Once per outage and per cause, not once per attempt.
    fn tell(&self, trouble: &str, connected: bool, told: &mut String) {
        if connected || told != trouble {
            let broker = format!("{}:{}", self.settings.host, self.settings.port);
            let waiting = self.outbox.len();
            tracing::warn!(
                broker,
                waiting,
                "no connection to the broker: {trouble}; trying again"
            );
            trouble.clone_into(told);
        }
    }
}
