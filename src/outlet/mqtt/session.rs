//! One connection, from the attempt to its end, with a client library that is thrown away after it.

use super::live::{Live, Value, json};
use super::topics::Topics;
use super::transport::{self, LARGEST_PACKET, PACKET_OVERHEAD};
use crate::engine::{Event, Snapshot};
use crate::outlet::Outbox;
use crate::site::settings::BrokerSettings;
use crate::wire::EventForm;
use rumqttc::{AsyncClient, EventLoop, Outgoing, Packet, QoS};
use std::collections::{BTreeMap, VecDeque};
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// At most so many events, and so many live values, are under way at once.
const EVENT_WINDOW: usize = 32;
const LIVE_WINDOW: usize = 32;

/// The client's own limit and queue stand above both windows, so it never refuses and never waits.
const CLIENT_WINDOW: u16 = 128;

/// How long a stop may take: the first part for what still waits, the rest for saying `offline`.
const FLUSH: Duration = Duration::from_millis(1000);
const STOP: Duration = Duration::from_millis(2000);

/// How a connection ended.
pub(super) enum End {
    /// By `stop`: `offline` is told, or left to the last will.
    Stopped,
    Lost {
        trouble: String,
        connected: bool,
    },
}

/// What was handed to the client.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Handed {
    Live(usize),
    Event(u64),
}

pub(super) struct Session<'a> {
    topics: &'a Topics,
    live: &'a mut Live,
    outbox: &'a Outbox,
    snapshots: &'a mut watch::Receiver<Arc<Snapshot>>,
    up: fn() -> Duration,
    stop: &'a CancellationToken,
    connected: bool,
    stopping: Option<Duration>,
    /// Handed over, in order, and not yet given a packet identifier.
    queued: VecDeque<Handed>,
    in_flight: BTreeMap<u16, Handed>,
    last_event: Option<u64>,
    /// When the live values have to be looked at again; at first and after any news, at once.
    due: Option<Duration>,
    disconnecting: bool,
}

/// What made the loop turn, beside the client.
enum Wake {
    Client(Result<rumqttc::Event, rumqttc::ConnectionError>),
    News,
    Stop,
}

impl<'a> Session<'a> {
    pub fn new(
        topics: &'a Topics,
        live: &'a mut Live,
        outbox: &'a Outbox,
        snapshots: &'a mut watch::Receiver<Arc<Snapshot>>,
        up: fn() -> Duration,
        stop: &'a CancellationToken,
    ) -> Self {
        live.all_again();
        Self {
            topics,
            live,
            outbox,
            snapshots,
            up,
            stop,
            connected: false,
            stopping: None,
            queued: VecDeque::new(),
            in_flight: BTreeMap::new(),
            last_event: None,
            due: Some(Duration::ZERO),
            disconnecting: false,
        }
    }

    pub async fn run(&mut self, settings: &BrokerSettings) -> End {
        match transport::options(settings, self.topics, CLIENT_WINDOW).await {
            Ok(options) => {
                let (client, connection) = AsyncClient::new(options, usize::from(CLIENT_WINDOW));
                self.carry(&client, connection).await
            }
            Err(trouble) => End::Lost {
                trouble: trouble.to_string(),
                connected: false,
            },
        }
    }

    /// A poll of the client may be in the middle of a write, so it is kept until it is done, never dropped
    /// for something else that happened.
    async fn carry(&mut self, client: &AsyncClient, mut connection: EventLoop) -> End {
        loop {
            let mut poll = pin!(connection.poll());
            let event = loop {
                let due = self.hand_over(client);
                let wake = tokio::select! {
                    event = &mut poll => Wake::Client(event),
                    () = news(self.snapshots, self.outbox, due, self.up) => Wake::News,
                    () = self.stop.cancelled(), if self.stopping.is_none() => Wake::Stop,
                };
                match wake {
                    Wake::Client(event) => break event,
                    Wake::News => self.due = Some(Duration::ZERO),
                    // The broker has said `offline` already, by the last will.
                    Wake::Stop if !self.connected => return End::Stopped,
                    Wake::Stop => self.stopping = Some((self.up)()),
                }
                if self
                    .stopping
                    .is_some_and(|since| (self.up)().saturating_sub(since) >= STOP)
                {
                    tracing::warn!(
                        "the broker did not take `offline` in time; its last will says it"
                    );
                    return End::Stopped;
                }
            };
            match event {
                Ok(rumqttc::Event::Outgoing(Outgoing::Disconnect)) => return End::Stopped,
                Ok(event) => self.note(&event),
                Err(_) if self.stopping.is_some() => return End::Stopped,
                Err(error) => {
                    return End::Lost {
                        trouble: error.to_string(),
                        connected: self.connected,
                    };
                }
            }
        }
    }

    /// Hands over what the windows have room for. Answers when to do so again without any news.
    fn hand_over(&mut self, client: &AsyncClient) -> Option<Duration> {
        if !self.connected || self.disconnecting {
            return self.stopping.map(|since| since + STOP);
        }
        let now = (self.up)();
        if self.due.is_some_and(|due| due <= now) {
            let snapshot = self.snapshots.borrow_and_update().clone();
            self.due = self.live.refresh(&snapshot, self.topics, now);
        }
        self.hand_over_events(client);
        let Some(since) = self.stopping else {
            self.hand_over_live(client);
            return self.due;
        };
        let flushed = self.outbox.is_empty() && self.live.is_settled();
        if flushed || now - since >= FLUSH {
            self.live.status(self.topics, "offline", now);
        }
        self.hand_over_live(client);
        if self.live.is_offline_told() {
            self.disconnecting = client.try_disconnect().is_ok();
        }
        let next = if now - since < FLUSH {
            since + FLUSH
        } else {
            since + STOP
        };
        Some(next)
    }

    fn hand_over_events(&mut self, client: &AsyncClient) {
        let topic = self.topics.event();
        for event in self.outbox.oldest(EVENT_WINDOW) {
            let room = self.under_way(|handed| matches!(handed, Handed::Event(_))) < EVENT_WINDOW;
            if self.last_event.is_some_and(|last| event.number <= last) || !room {
                continue;
            }
            let payload = event_payload(&event, topic.len());
            if client
                .try_publish(&topic, QoS::AtLeastOnce, false, payload)
                .is_err()
            {
                return;
            }
            self.queued.push_back(Handed::Event(event.number));
            self.last_event = Some(event.number);
        }
    }

    fn hand_over_live(&mut self, client: &AsyncClient) {
        while self.under_way(|handed| matches!(handed, Handed::Live(_))) < LIVE_WINDOW {
            let Some((place, value)) = self.live.next() else {
                return;
            };
            if !fits(value) {
                tracing::error!(topic = value.topic, "too large for a packet, not published");
                self.live.acknowledged(place);
                continue;
            }
            let payload = value.payload.clone();
            if client
                .try_publish(&value.topic, QoS::AtLeastOnce, value.is_retained(), payload)
                .is_err()
            {
                self.live.refused(place);
                return;
            }
            self.queued.push_back(Handed::Live(place));
        }
    }

    /// The client tells what it sent, in the order in which it was handed over, and what came.
    fn note(&mut self, event: &rumqttc::Event) {
        match event {
            rumqttc::Event::Incoming(Packet::ConnAck(_)) => {
                self.connected = true;
                self.live.status(self.topics, "online", (self.up)());
                tracing::info!("connected to the broker");
            }
            rumqttc::Event::Outgoing(Outgoing::Publish(identifier)) => {
                if let Some(handed) = self.queued.pop_front() {
                    self.in_flight.insert(*identifier, handed);
                }
            }
            rumqttc::Event::Incoming(Packet::PubAck(ack)) => match self.in_flight.remove(&ack.pkid)
            {
                Some(Handed::Event(number)) => self.outbox.acknowledged(number),
                Some(Handed::Live(place)) => self.live.acknowledged(place),
                None => {}
            },
            _ => {}
        }
    }

    fn under_way(&self, kind: impl Fn(&Handed) -> bool) -> usize {
        self.queued
            .iter()
            .chain(self.in_flight.values())
            .filter(|handed| kind(handed))
            .count()
    }
}

/// A new snapshot, a new event, or the moment that something is due.
async fn news(
    snapshots: &mut watch::Receiver<Arc<Snapshot>>,
    outbox: &Outbox,
    due: Option<Duration>,
    up: fn() -> Duration,
) {
    let changed = async {
        if snapshots.changed().await.is_err() {
            std::future::pending::<()>().await; // the daemon ends; `stop` follows
        }
    };
    let is_due = async {
        match due {
            Some(due) => sleep(due.saturating_sub(up())).await,
            None => std::future::pending().await,
        }
    };
    tokio::select! {
        () = changed => {}
        () = outbox.changed() => {}
        () = is_due => {}
    }
}

fn fits(value: &Value) -> bool {
    value.topic.len() + value.payload.len() + PACKET_OVERHEAD <= LARGEST_PACKET
}

/// One that no packet can hold would stop all that follow: then it goes without its text, and says so.
fn event_payload(event: &Event, topic: usize) -> Vec<u8> {
    let mut form = EventForm::new(event);
    let payload = json(&form);
    if topic + payload.len() + PACKET_OVERHEAD <= LARGEST_PACKET {
        return payload;
    }
    form.text = format!(
        "(the text of {} bytes is too long for a message)",
        event.text.len()
    );
    json(&form)
}
