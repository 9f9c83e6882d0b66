//! The running program and its broker: nothing lost over an outage, and never a false `online`.

use crate::broker::Broker;
use crate::daemon::Daemon;
use crate::patience::until;
use crate::subscriber::{Subscriber, retained, retained_json};
use crate::works::{TOPIC, Works, field, set_clearwell};
use std::time::Duration;

fn await_status(broker: &Broker, word: &str) {
    let topic = format!("{TOPIC}/status");
    until(word, || {
        retained(broker.port, &topic).filter(|it| it == word)
    });
}

/// Event numbers in the order in which each came first, until `last`.
fn numbers_until(subscriber: &Subscriber, last: u64) -> Vec<u64> {
    let mut numbers = Vec::new();
    while numbers.last() != Some(&last) {
        let event = subscriber.event(|_| true);
        let number = event["number"].as_u64().expect("a number");
        // At least once: a repetition is allowed.
        if !numbers.contains(&number) {
            numbers.push(number);
        }
    }
    numbers
}

#[test]
fn alarms_while_the_broker_is_away_all_arrive_in_order() {
    let (mut server, mut broker) = (field(), Broker::start());
    let subscriber = Subscriber::start(broker.port, &format!("{TOPIC}/event"));
    let works = Works::with_broker(&server, broker.port);
    let mut daemon = Daemon::start(&works);
    await_status(&broker, "online");
    daemon.reading("clearwell", |it| it["quality"] == "good");

    broker.stop();
    let number = |daemon: &Daemon| {
        let reading = daemon.tank("clearwell")["reading"].clone();
        reading["number"].as_u64().expect("a number")
    };
    let before = number(&daemon);
    for round in 0..2 {
        set_clearwell(&mut server, 42.0);
        daemon.alarm_in("clearwell", "LAH", "UNACK");
        if round == 0 {
            let done = works.standpipe("ack", &["clearwell", "LAH", "--by", "Ada"]);
            assert_eq!(done.code, Some(0), "{done:?}");
        }
        set_clearwell(&mut server, 30.0);
        daemon.alarm_in("clearwell", "LAH", ["NORM", "RTNUN"][round]);
    }
    assert!(number(&daemon) >= before + 5, "polling goes on");
    let waiting = daemon
        .metric("standpipe_outbox_events")
        .expect("there is a broker");
    assert!(waiting >= 5.0, "{waiting} wait");
    let last = daemon.event_count();

    broker.again();
    assert_eq!(
        numbers_until(&subscriber, last),
        (1..=last).collect::<Vec<_>>()
    );
    await_status(&broker, "online");
    until("the outbox is empty", || {
        daemon
            .metric("standpipe_outbox_events")
            .filter(|count| *count < 1.0)
    });
    assert_eq!(
        daemon.metric("standpipe_outbox_lost_events_total"),
        Some(0.0)
    );
    let alarm = retained_json(broker.port, &format!("{TOPIC}/tank/clearwell/alarm/LAH"));
    assert_eq!(
        (&alarm["state"], &alarm["active"]),
        (&"RTNUN".into(), &false.into())
    );

    assert_eq!(daemon.terminate().code(), Some(0));
    assert_eq!(
        retained(broker.port, &format!("{TOPIC}/status")).as_deref(),
        Some("offline")
    );
    let stopped = subscriber.event(|event| event["number"].as_u64() > Some(last));
    assert_eq!(stopped["kind"], "stop");
}

#[test]
fn a_killed_daemon_is_offline_by_its_last_will_and_starts_again() {
    let (server, broker) = (field(), Broker::start());
    let works = Works::with_broker(&server, broker.port);
    let mut daemon = Daemon::start(&works);
    await_status(&broker, "online");
    daemon.kill();
    await_status(&broker, "offline");
    assert!(
        works.socket().exists(),
        "a killed daemon leaves its socket behind"
    );
    let mut daemon = Daemon::start(&works);
    await_status(&broker, "online");
    daemon.reading("clearwell", |it| it["quality"] == "good");
    assert_eq!(daemon.terminate().code(), Some(0));
    assert!(!works.socket().exists());
}

#[test]
fn a_broker_that_comes_after_the_daemon_gets_every_event() {
    let (server, mut broker) = (field(), Broker::start());
    let subscriber = Subscriber::start(broker.port, &format!("{TOPIC}/event"));
    broker.stop();
    let works = Works::with_broker(&server, broker.port);
    let daemon = Daemon::start(&works);
    daemon.reading("clearwell", |it| it["quality"] == "good");
    std::thread::sleep(Duration::from_secs(1));
    broker.again();
    let last = daemon.event_count();
    assert_eq!(
        numbers_until(&subscriber, last),
        (1..=last).collect::<Vec<_>>()
    );
    await_status(&broker, "online");
}
