//! What the running program says while a device is dead, hangs or refuses.

use crate::broker::Broker;
use crate::daemon::Daemon;
use crate::metrics;
use crate::patience::until;
use crate::subscriber::retained_json;
use crate::works::{POLL_EVERY, TOPIC, Works, field, set_clearwell};
use serde_json::{Value, json};
use standpipe::daemon::clock::up;
use std::time::Duration;

/// Silence is bad after this (a fixed lower bound: 3 polls are less here).
const BAD_AFTER: Duration = Duration::from_secs(10);

/// Of a reading that is bad for want of an answer nothing may be left that looks measured.
fn assert_no_number(reading: &Value) {
    for (key, value) in reading.as_object().expect("an object") {
        assert!(!value.is_number() || key == "number", "{key}: {value}");
    }
    let uncertainty = &reading["uncertainty"];
    assert_eq!(
        (&uncertainty["level_m"], &uncertainty["volume_m3"]),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(
        (&uncertainty["budget"], &reading["terms_pa"]),
        (&json!([]), &Value::Null)
    );
}

fn quality_of(daemon: &Daemon, tank: &str) -> (Option<f64>, Option<f64>) {
    let metric = |name: &str| daemon.metric(&format!("standpipe_tank_{name}{{tank=\"{tank}\"}}"));
    (metric("level_meters"), metric("reading_valid"))
}

#[test]
fn a_dead_device_keeps_its_last_level_for_a_while_and_then_none() {
    let (mut server, broker) = (field(), Broker::start());
    let works = Works::with_broker(&server, broker.port);
    let daemon = Daemon::start(&works);
    set_clearwell(&mut server, 40.0);
    daemon.alarm_in("clearwell", "LAH", "UNACK");
    let level = daemon.tank("clearwell")["reading"]["level_m"].clone();
    assert!(level.is_number());

    let killed = up();
    server.kill();
    let kept = daemon.reading("clearwell", |it| it["quality"] == "uncertain");
    // The last answer may be one period older than the kill.
    assert!(
        up() - killed >= 2 * POLL_EVERY,
        "before three polls were missed"
    );
    assert!(up() - killed < BAD_AFTER / 2);
    assert_eq!(
        (&kept["level_m"], &kept["quality_code"]),
        (&level, &"UncertainLastUsableValue".into())
    );
    assert_eq!(kept["reasons"], json!(["no new reading, last value kept"]));
    assert!(quality_of(&daemon, "clearwell").0.is_some());
    assert_eq!(daemon.link_up(), Some(0.0));

    let bad = daemon.reading("clearwell", |it| it["quality"] == "bad");
    assert!(up() - killed >= BAD_AFTER - 2 * POLL_EVERY);
    assert!(up() - killed < BAD_AFTER + Duration::from_secs(5));
    assert_eq!(
        (&bad["reasons"], &bad["quality_code"]),
        (&json!(["no answer"]), &"BadNoCommunication".into())
    );
    assert_no_number(&bad);
    assert_eq!(quality_of(&daemon, "clearwell"), (None, Some(0.0)));
    assert!(
        daemon
            .metric("standpipe_tank_last_good_timestamp_seconds{tank=\"clearwell\"}")
            .is_some()
    );
    assert!(daemon.errors("connect") >= 1.0);
    metrics::assert_accepted(&daemon.page("/metrics"));

    // One annunciation: the link's; what follows from it is listed under it.
    let link = daemon.alarm_in("system", "LINK-GALLERY", "UNACK");
    daemon.alarm_in("clearwell", "MEASUREMENT", "DSUPR");
    let follows = link["follows"].as_array().expect("a list");
    assert!(follows.iter().any(|it| it["tank"] == "clearwell"), "{link}");
    let held = daemon.alarm("clearwell", "LAH");
    assert_eq!(
        (&held["state"], &held["questionable"]),
        (&"UNACK".into(), &true.into())
    );
    assert_eq!(held["value"], Value::Null);
    std::thread::sleep(Duration::from_millis(300));
    assert_no_number(&retained_json(
        broker.port,
        &format!("{TOPIC}/tank/clearwell/reading"),
    ));
    let told = retained_json(
        broker.port,
        &format!("{TOPIC}/tank/clearwell/alarm/MEASUREMENT"),
    );
    assert_eq!(
        (&told["state"], &told["active"]),
        (&"DSUPR".into(), &true.into())
    );
    let signal = retained_json(broker.port, &format!("{TOPIC}/transmitter/LT-101/signal"));
    assert_eq!(
        (&signal["quality"], &signal["value"]),
        (&"bad".into(), &Value::Null)
    );

    server.restart();
    let again = daemon.reading("clearwell", |it| it["quality"] == "good");
    assert_eq!(again["level_m"], level);
    daemon.alarm_in("system", "LINK-GALLERY", "RTNUN");
    daemon.alarm_in("clearwell", "MEASUREMENT", "NORM");
    let held = daemon.alarm("clearwell", "LAH");
    assert_eq!(
        (&held["state"], &held["questionable"]),
        (&"UNACK".into(), &false.into())
    );
    assert_eq!(daemon.link_up(), Some(1.0));
    assert!(quality_of(&daemon, "clearwell").0.is_some());
}

#[test]
fn a_device_that_hangs_from_the_start_and_recovers() {
    let mut server = field();
    server.mode("hang");
    let works = Works::new(&server);
    let (begun, daemon) = (up(), Daemon::start(&works));
    let waiting = daemon.tank("clearwell");
    assert_eq!(
        waiting["reading"]["reasons"],
        json!(["waiting for the first reading"])
    );
    assert_no_number(&waiting["reading"]);
    assert_eq!(
        daemon.alarm("clearwell", "MEASUREMENT")["state"],
        "NORM",
        "nothing is decided yet"
    );

    let bad = daemon.reading("clearwell", |it| it["reasons"] == json!(["no answer"]));
    assert!(up() - begun >= BAD_AFTER);
    assert_no_number(&bad);
    daemon.alarm_in("system", "LINK-GALLERY", "UNACK");
    daemon.alarm_in("clearwell", "MEASUREMENT", "DSUPR");
    assert_eq!(
        daemon.alarm("clearwell", "LAH")["state"],
        "NORM",
        "none is invented"
    );
    assert_eq!(
        (daemon.link_up(), daemon.errors("connect")),
        (Some(0.0), 0.0)
    );
    assert!(daemon.errors("timeout") >= 1.0);
    let status = works.standpipe("status", &[]);
    assert!(status.out.contains("DOWN: device 1 at "), "{status:?}");
    assert!(
        status.out.contains("gave no answer within 0.3 s"),
        "{status:?}"
    );

    server.mode("normal");
    daemon.reading("clearwell", |it| it["quality"] == "good");
    until("the link is up", || daemon.link_up().filter(|up| *up > 0.0));
}

#[test]
fn an_exception_is_told_apart_from_silence() {
    let mut server = field();
    let works = Works::new(&server);
    let daemon = Daemon::start(&works);
    for tank in ["clearwell", "soft"] {
        daemon.reading(tank, |it| it["quality"] == "good");
    }
    // 04: server device failure (Modbus Application Protocol V1.1b3, section 7).
    server.refuse(1, "input", 0..=1, 4);
    let bad = daemon.reading("clearwell", |it| it["quality"] == "bad");
    assert_eq!(bad["reasons"], json!(["device answers an exception"]));
    assert_eq!(bad["quality_code"], "BadDeviceFailure");
    assert_no_number(&bad);
    assert_eq!(daemon.tank("soft")["reading"]["quality"], "good");
    assert_eq!(daemon.link_up(), Some(1.0));
    assert!(daemon.errors("exception") >= 10.0);
    assert_eq!(
        (daemon.errors("timeout"), daemon.errors("closed")),
        (0.0, 0.0)
    );
    daemon.alarm_in("system", "DEVICE-GALLERY-1", "UNACK");
    daemon.alarm_in("clearwell", "MEASUREMENT", "DSUPR");
    assert_eq!(daemon.alarm("soft", "MEASUREMENT")["state"], "NORM");

    server.refuse(1, "input", 0..=1, 0);
    daemon.reading("clearwell", |it| it["quality"] == "good");
}
