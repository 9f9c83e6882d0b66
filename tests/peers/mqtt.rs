//! MQTT against a real broker: what is retained, what a lost connection or broker costs.

use crate::broker::Broker;
use crate::relay::Relay;
use crate::snapshots;
use rumqttc::{AsyncClient, Event, MqttOptions, Packet, Publish, QoS};
use serde_json::Value;
use standpipe::engine::{Quality, Reason, Snapshot};
use standpipe::journal::{Journal, Outbox};
use standpipe::outlet::Mqtt;
use standpipe::site::settings::{BrokerSettings, Secret};
use std::path::Path;
use std::process::Stdio;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;
use tempfile::TempDir;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;

const PATIENCE: Duration = Duration::from_secs(20);
const STATUS: &str = "standpipe/alder-rise/status";
const READING: &str = "standpipe/alder-rise/tank/clearwell/reading";

/// The outlet under test, and what feeds it.
struct Outlet {
    snapshots: watch::Sender<Arc<Snapshot>>,
    journal: Journal,
    outbox: Arc<Outbox>,
    _folder: TempDir,
    stop: CancellationToken,
    task: JoinHandle<()>,
}

impl Outlet {
    fn start(settings: BrokerSettings) -> Self {
        let (sender, receiver) = watch::channel(Arc::new(snapshots::site()));
        let (folder, journal) = snapshots::journal();
        let outbox = Arc::clone(journal.outbox().expect("a broker"));
        let stop = CancellationToken::new();
        let mqtt = Mqtt {
            settings,
            site_folded: "alder-rise".into(),
            snapshots: receiver,
            heartbeat_every: Duration::from_secs(10),
            outbox: Arc::clone(&outbox),
            up: standpipe::daemon::clock::up,
        };
        let task = tokio::spawn(mqtt.run(stop.clone()));
        Self {
            snapshots: sender,
            journal,
            outbox,
            _folder: folder,
            stop,
            task,
        }
    }

    async fn push(&self, numbers: std::ops::RangeInclusive<u64>) {
        self.journal
            .commit(snapshots::step(numbers))
            .await
            .expect("the journal is written");
    }

    fn change(&self, change: impl FnOnce(&mut Snapshot)) {
        self.snapshots
            .send_modify(|snapshot| change(Arc::make_mut(snapshot)));
    }

    /// The broker has every event.
    async fn acknowledged(&self) {
        let emptied = async {
            while !self.outbox.is_empty() {
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
        };
        timeout(PATIENCE, emptied)
            .await
            .expect("the broker gets every event");
    }

    async fn stop(self) {
        self.stop.cancel();
        timeout(PATIENCE, self.task)
            .await
            .expect("it stops in time")
            .expect("it does not panic");
    }
}

fn settings(port: u16) -> BrokerSettings {
    BrokerSettings {
        host: "127.0.0.1".to_owned(),
        port,
        tls: false,
        user: None,
        password: None,
        topic: "standpipe".to_owned(),
        reading_every: Duration::from_millis(400),
    }
}

/// Somebody else who listens, with a session that the broker keeps.
struct Listener {
    messages: mpsc::UnboundedReceiver<Publish>,
}

impl Listener {
    async fn start(port: u16, filter: &str) -> Self {
        static COUNT: AtomicUsize = AtomicUsize::new(1);
        let name = format!("listener-{}", COUNT.fetch_add(1, Ordering::Relaxed));
        let mut options = MqttOptions::new(name, "127.0.0.1", port);
        options.set_clean_session(false);
        let (client, mut connection) = AsyncClient::new(options, 10);
        client
            .try_subscribe(filter, QoS::AtLeastOnce)
            .expect("room for one request");
        let (sender, messages) = mpsc::unbounded_channel();
        let (subscribed, ready) = tokio::sync::oneshot::channel();
        tokio::spawn(async move {
            let (_client, mut subscribed) = (client, Some(subscribed));
            while !sender.is_closed() {
                match connection.poll().await {
                    Ok(Event::Incoming(Packet::Publish(publish))) => {
                        let _ = sender.send(publish);
                    }
                    Ok(Event::Incoming(Packet::SubAck(_))) => {
                        subscribed
                            .take()
                            .into_iter()
                            .for_each(|it| it.send(()).expect("awaited"));
                    }
                    Ok(_) => {}
                    Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
                }
            }
        });
        timeout(PATIENCE, ready)
            .await
            .expect("subscribed in time")
            .expect("it is sent");
        Self { messages }
    }

    async fn next(&mut self) -> Publish {
        timeout(PATIENCE, self.messages.recv())
            .await
            .expect("a message in time")
            .expect("it listens")
    }

    /// The next one on a topic.
    async fn next_on(&mut self, topic: &str) -> Publish {
        loop {
            let publish = self.next().await;
            if publish.topic == topic {
                return publish;
            }
        }
    }

    async fn await_status(&mut self, word: &str) {
        while self.next_on(STATUS).await.payload != word {}
    }

    /// Event numbers until `last` came.
    async fn event_numbers(&mut self, last: u64) -> Vec<u64> {
        let mut numbers = Vec::new();
        while numbers.last() != Some(&last) {
            let publish = self.next_on("standpipe/alder-rise/event").await;
            assert!(!publish.retain);
            numbers.push(json(&publish)["number"].as_u64().expect("a number"));
        }
        numbers
    }
}

fn json(publish: &Publish) -> Value {
    serde_json::from_slice(&publish.payload).expect("JSON")
}

/// Each number came, and the first time that each came is in order.
fn assert_complete_in_order(numbers: &[u64], last: u64) {
    let mut first = Vec::new();
    for number in numbers {
        if !first.contains(number) {
            first.push(*number);
        }
    }
    assert_eq!(first, (1..=last).collect::<Vec<_>>());
}

#[tokio::test]
async fn state_is_retained_for_whoever_comes_later() {
    let broker = Broker::start();
    let outlet = Outlet::start(settings(broker.port));
    let mut early = Listener::start(broker.port, "standpipe/#").await;
    early.await_status("online").await;
    early
        .next_on("standpipe/alder-rise/transmitter/PDT-201/signal")
        .await;
    drop(early);

    let mut late = Listener::start(broker.port, "standpipe/#").await;
    let mut topics = Vec::new();
    while topics.len() < 14 {
        let publish = late.next().await;
        if publish.retain {
            match publish.topic.as_str() {
                STATUS => assert_eq!(publish.payload, "online"),
                READING => assert_eq!(json(&publish)["level_m"], 3.412),
                _ => assert!(json(&publish).is_object()),
            }
            topics.push(publish.topic);
        }
    }
    topics.sort();
    let expected = [
        "standpipe/alder-rise/alarm/LINK-SKID-A",
        "standpipe/alder-rise/alarm/LINK-SKID-B",
        "standpipe/alder-rise/contact/P-101/state",
        STATUS,
        "standpipe/alder-rise/tank/clearwell/alarm/LAH",
        "standpipe/alder-rise/tank/clearwell/alarm/LSHH",
        "standpipe/alder-rise/tank/clearwell/alarm/MEASUREMENT",
        READING,
        "standpipe/alder-rise/tank/north-tank/alarm/LAL",
        "standpipe/alder-rise/tank/north-tank/alarm/MEASUREMENT",
        "standpipe/alder-rise/tank/north-tank/reading",
        "standpipe/alder-rise/tank/old-tank/alarm/LAH",
        "standpipe/alder-rise/transmitter/PDT-101/signal",
        "standpipe/alder-rise/transmitter/PDT-201/signal",
    ];
    assert_eq!(topics, expected);
    outlet.stop().await;
}

/// An older site file had another tank and another alarm; their topics are still there.
#[tokio::test]
async fn what_is_gone_from_the_site_file_is_forgotten() {
    const OLD: [&str; 2] = ["tank/old-tank/reading", "tank/clearwell/alarm/LAHH"];
    let broker = Broker::start();
    let old = OLD.map(|topic| format!("standpipe/alder-rise/{topic}"));
    for topic in &old {
        let options = MqttOptions::new("before", "127.0.0.1", broker.port);
        let (client, mut connection) = AsyncClient::new(options, 10);
        client
            .try_publish(topic, QoS::AtLeastOnce, true, "{}")
            .expect("room for one message");
        let taken = async {
            while !matches!(
                connection.poll().await.expect("it is connected"),
                Event::Incoming(Packet::PubAck(_))
            ) {}
        };
        timeout(PATIENCE, taken).await.expect("in time");
    }
    let mut listener = Listener::start(broker.port, "standpipe/#").await;
    let outlet = Outlet::start(settings(broker.port));
    for topic in &old {
        let there = listener.next_on(topic).await;
        assert!(there.retain && there.payload == "{}");
    }
    let mut cleared = Vec::new();
    while cleared.len() < 2 {
        let publish = listener.next().await;
        if publish.payload.is_empty() {
            cleared.push(publish.topic);
        }
    }
    cleared.sort();
    assert_eq!(cleared, [old[1].as_str(), old[0].as_str()]);
    // An alarm that waits for an answer is shown until it has one.
    let topic = "standpipe/alder-rise/tank/old-tank/alarm/LAH";
    outlet.change(|site| {
        let alarm = site.gone[0].alarm.as_mut().expect("it is shown");
        alarm.state = standpipe::engine::alarm::AlarmState::Normal;
    });
    while !listener.next_on(topic).await.payload.is_empty() {}
    outlet.stop().await;
}

#[tokio::test]
async fn readings_keep_their_pace_and_bad_quality_does_not_wait() {
    let broker = Broker::start();
    let mut listener = Listener::start(broker.port, READING).await;
    let outlet = Outlet::start(BrokerSettings {
        reading_every: Duration::from_secs(1),
        ..settings(broker.port)
    });
    listener.next().await;
    for number in 100..110 {
        outlet.change(|site| site.tanks[0].reading.number = number);
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let early = timeout(Duration::from_millis(300), listener.messages.recv()).await;
    assert!(early.is_err(), "one per reading_every");
    assert_eq!(
        json(&listener.next().await)["number"],
        109,
        "the newest of them"
    );

    outlet.change(|site| site.tanks[0].reading = snapshots::bad(200, Reason::NoAnswer));
    let at_once = timeout(Duration::from_millis(600), listener.next()).await;
    let bad = json(&at_once.expect("a change of quality does not wait"));
    assert_eq!(
        (&bad["quality"], &bad["level_m"]),
        (&"bad".into(), &Value::Null)
    );
    outlet.change(|site| site.tanks[0].reading.quality = Quality::Uncertain);
    let at_once = timeout(Duration::from_millis(600), listener.next()).await;
    assert_eq!(
        json(&at_once.expect("nor does the next"))["quality"],
        "uncertain"
    );
    outlet.stop().await;
}

#[tokio::test]
async fn the_last_will_speaks_for_a_program_that_died() {
    let broker = Broker::start();
    let mut listener = Listener::start(broker.port, STATUS).await;
    let outlet = Outlet::start(settings(broker.port));
    listener.await_status("online").await;
    outlet.task.abort();
    listener.await_status("offline").await;
}

#[tokio::test]
async fn an_orderly_stop_sends_what_waits_then_offline_then_disconnects() {
    let broker = Broker::start();
    let relay = Relay::start(broker.port, Vec::new()).await;
    let mut listener = Listener::start(broker.port, "standpipe/#").await;
    let outlet = Outlet::start(settings(relay.port));
    listener.await_status("online").await;
    outlet.push(1..=200).await;
    let outbox = Arc::clone(&outlet.outbox);
    outlet.stop().await;
    assert!(outbox.is_empty());
    assert_complete_in_order(&listener.event_numbers(200).await, 200);
    listener.await_status("offline").await;
    // MQTT 3.1.1, 3.14: DISCONNECT is these two bytes. After it the broker sends no last will.
    tokio::time::sleep(Duration::from_millis(100)).await;
    assert!(
        relay
            .sent
            .lock()
            .expect("no panic holds it")
            .ends_with(&[0xE0, 0x00])
    );
}

#[tokio::test]
async fn no_event_is_lost_while_the_broker_is_away() {
    let mut broker = Broker::start();
    let mut listener = Listener::start(broker.port, "standpipe/alder-rise/event").await;
    let mut readings = Listener::start(broker.port, READING).await;
    let outlet = Outlet::start(settings(broker.port));
    outlet.push(1..=50).await;
    assert_complete_in_order(&listener.event_numbers(50).await, 50);
    outlet.acknowledged().await;
    broker.stop();
    outlet.push(51..=300).await;
    outlet.change(|site| site.tanks[0].reading.number = 900);
    tokio::time::sleep(Duration::from_millis(700)).await;
    assert_eq!(outlet.outbox.len(), 250);
    broker.again();
    let mut numbers: Vec<u64> = (1..=50).collect();
    numbers.extend(listener.event_numbers(300).await);
    assert_complete_in_order(&numbers, 300);
    while json(&readings.next().await)["number"] != 900 {}
    assert_eq!(outlet.outbox.lost(), 0);
    outlet.stop().await;
}

#[tokio::test]
async fn no_event_is_lost_over_a_line_that_breaks_in_the_middle() {
    let broker = Broker::start();
    let relay = Relay::start(broker.port, vec![9_000, 20_000, 31_000]).await;
    let mut listener = Listener::start(broker.port, "standpipe/alder-rise/event").await;
    let outlet = Outlet::start(settings(relay.port));
    outlet.push(1..=600).await;
    let numbers = listener.event_numbers(600).await;
    assert_complete_in_order(&numbers, 600);
    assert_eq!(*relay.cuts.lock().expect("no panic holds it"), 3);
    outlet.stop().await;
}

#[tokio::test]
async fn the_password_is_read_anew_for_each_attempt() {
    let broker = Broker::with_password("alder-rise", "sluice gate");
    let file = broker.file("mqtt.password");
    let outlet = Outlet::start(BrokerSettings {
        user: Some("alder-rise".to_owned()),
        password: Some(Secret::File(file.clone())),
        ..settings(broker.port)
    });
    outlet.push(1..=1).await;
    for wrong in ["", "lock gate\n"] {
        tokio::time::sleep(Duration::from_millis(600)).await;
        assert_eq!(outlet.outbox.len(), 1);
        std::fs::write(&file, wrong).expect("writable");
    }
    std::fs::write(&file, "sluice gate\n").expect("writable");
    outlet.acknowledged().await;
    outlet.stop().await;
}

/// The certificates that are trusted come from the environment, so the client runs in a process of its own.
#[tokio::test]
async fn tls_reaches_a_broker_whose_authority_is_trusted_and_no_other() {
    let broker = Broker::with_certificate();
    let client = |trusted: &Path| {
        tokio::process::Command::new(std::env::current_exe().expect("this test"))
            .args(["--exact", "mqtt::tls_client", "--ignored"])
            .env("SSL_CERT_FILE", trusted)
            .env(TLS_PORT, broker.port.to_string())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .kill_on_drop(true)
            .status()
    };
    assert!(
        client(&broker.file("broker.pem"))
            .await
            .expect("it starts")
            .success()
    );
    assert!(
        !client(&broker.file("stranger.pem"))
            .await
            .expect("it starts")
            .success()
    );
}

const TLS_PORT: &str = "STANDPIPE_TEST_TLS_PORT";

#[tokio::test]
#[ignore = "the client of the test above, which starts it with an environment of its own"]
async fn tls_client() {
    let port = std::env::var(TLS_PORT)
        .expect("started by the test above")
        .parse()
        .expect("a port");
    let outlet = Outlet::start(BrokerSettings {
        tls: true,
        ..settings(port)
    });
    outlet.push(1..=3).await;
    tokio::time::sleep(Duration::from_secs(2)).await;
    assert!(outlet.outbox.is_empty());
    outlet.stop().await;
}
