//! The running program in bad company: closed streams, taken places, numbers that are none, wrong files.

use crate::daemon::Daemon;
use crate::metrics;
use crate::modbus::ModbusServer;
use crate::patience::until;
use crate::works::{Works, field, free_port};
use serde_json::{Value, json};
use std::io::{ErrorKind, Write};
use std::net::TcpListener;
use std::os::unix::net::UnixStream;
use std::time::Duration;

/// It polls: its readings go on.
fn assert_alive(daemon: &Daemon) {
    let number = || daemon.tank("clearwell")["reading"]["number"].as_u64();
    let before = number();
    until("readings go on", || {
        number().filter(|now| Some(*now) > before)
    });
}

#[test]
fn closed_streams_do_not_stop_it() {
    let mut server = field();
    for start in [Daemon::start_closed, Daemon::start_piped] {
        let works = Works::new(&server);
        let mut daemon = start(&works);
        daemon.answers();
        daemon.reading("clearwell", |it| it["quality"] == "good");
        let events = daemon.event_count();
        // Each event is a line of the log that nobody reads.
        server.kill();
        until("events go on", || {
            (daemon.event_count() >= events + 2).then_some(())
        });
        server.restart();
        daemon.reading("clearwell", |it| it["quality"] == "good");
        assert_alive(&daemon);
        assert_eq!(daemon.terminate().code(), Some(0));
    }
}

#[test]
fn a_second_daemon_at_the_same_socket_or_port_gives_way() {
    let server = field();
    let (works, other) = (Works::new(&server), Works::new(&server));
    let daemon = Daemon::start(&works);
    other.add(&format!("[commands]\nsocket = {:?}", works.socket()));
    let second = other.standpipe("run", &[]);
    assert_eq!(second.code, Some(2), "{second:?}");
    assert!(
        second.error.contains("another daemon already listens at"),
        "{second:?}"
    );
    assert!(second.error.contains("[commands] socket"), "{second:?}");

    // The same site file once more: the page's port is taken.
    let third = works.standpipe("run", &[]);
    assert_eq!(third.code, Some(2), "{third:?}");
    assert!(
        third
            .error
            .contains(&format!("can't serve at 127.0.0.1:{}", works.page)),
        "{third:?}"
    );
    assert!(third.error.contains("[http] listen"), "{third:?}");
    assert_alive(&daemon);
    assert_eq!(
        works.standpipe("status", &[]).code,
        Some(0),
        "its socket is still there"
    );
}

#[test]
fn a_port_of_another_program_is_told() {
    let server = field();
    let works = Works::new(&server);
    let taken = TcpListener::bind(("127.0.0.1", works.page)).expect("it was free");
    let told = works.standpipe("run", &[]);
    assert_eq!(told.code, Some(2), "{told:?}");
    assert!(told.error.contains("can't serve at"), "{told:?}");
    drop(taken);
    assert!(!works.socket().exists());
}

#[test]
fn a_broker_that_is_not_there_holds_nothing_up() {
    let server = field();
    let works = Works::with_broker(&server, free_port());
    let mut daemon = Daemon::start(&works);
    daemon.reading("clearwell", |it| it["quality"] == "good");
    assert!(
        daemon
            .metric("standpipe_outbox_events")
            .is_some_and(|count| count >= 1.0)
    );
    assert_alive(&daemon);
    assert_eq!(daemon.terminate().code(), Some(0));
}

/// A third transmitter, an integer whose maker says "failed" by −32768.
const MARKED: &str = r#"
[[transmitter]]
tag = "LT-103"
link = "gallery"
register = "input 4"
type = "i16"
measures = "gauge"
unit = "kPa"
scale = { raw = [0, 10000], value = [0.0, 25.0] }
span = ["0 kPa", "25 kPa"]
limits = ["-10 kPa", "50 kPa"]
accuracy = "0.2 %"
failed = [-32768]

[[tank]]
name = "day"
vessel = { shape = "upright-cylinder", diameter = "1.0 m", height = "2.0 m" }
liquid = { kind = "water", temperature = "20 degC" }
hookup = { kind = "vented", transmitter = "LT-103", at = "0 m" }
"#;

#[test]
fn numbers_that_are_none_are_bad_with_a_reason() {
    let mut server = field();
    server.set(1, "input", 4, &[5000]);
    let works = Works::new(&server);
    works.add(MARKED);
    let daemon = Daemon::start(&works);
    let not_finite = "not a finite number";
    // IEEE 754 single precision, high word first.
    let words: [(&str, &[u16], &str); 6] = [
        ("clearwell", &[0x7FC0, 0x0000], not_finite), // a quiet NaN
        ("clearwell", &[0x7FA0, 0x0001], not_finite), // a signalling NaN
        ("clearwell", &[0x7F80, 0x0000], not_finite), // infinity
        ("clearwell", &[0xFF80, 0x0000], not_finite), // minus infinity
        ("day", &[0x8000], "the device marks its value as failed"),
        ("day", &[0x7FFF], "outside what the sensor can tell"), // 82 kPa
    ];
    for (tank, words, reason) in words {
        let (address, sound) = if tank == "day" {
            (4, vec![5000])
        } else {
            (0, vec![0x4204, 0])
        };
        server.set(1, "input", address, words);
        let bad = daemon.reading(tank, |it| {
            it["quality"] == "bad" && it["reasons"] == json!([reason])
        });
        assert_eq!(
            (&bad["level_m"], &bad["volume_m3"]),
            (&Value::Null, &Value::Null),
            "{words:04X?}"
        );
        daemon.alarm_in(tank, "MEASUREMENT", "UNACK");
        metrics::assert_accepted(&daemon.page("/metrics"));
        server.set(1, "input", address, &sound);
        daemon.reading(tank, |it| it["quality"] == "good");
        daemon.alarm_in(tank, "MEASUREMENT", "RTNUN");
    }
    // The largest finite number of kilopascals is no pressure that a sensor can tell.
    server.set(1, "input", 0, &[0x7F7F, 0xFFFF]);
    let bad = daemon.reading("clearwell", |it| it["quality"] == "bad");
    assert_eq!(
        (&bad["level_m"], &bad["level_at_least_m"], &bad["reasons"]),
        (
            &Value::Null,
            &Value::Null,
            &json!(["outside what the sensor can tell"])
        ),
        "{bad}"
    );
    assert_alive(&daemon);
}

#[test]
fn status_in_words_and_as_json() {
    let server = field();
    let works = Works::new(&server);
    let nobody = works.standpipe("status", &[]);
    assert_eq!(nobody.code, Some(2), "{nobody:?}");
    assert!(nobody.error.contains("no daemon answers"), "{nobody:?}");

    let mut daemon = Daemon::start(&works);
    daemon.reading("soft", |it| it["quality"] == "good");
    let told = works.standpipe("status", &[]);
    assert_eq!((told.code, told.error.as_str()), (Some(0), ""), "{told:?}");
    for words in [
        "Alder Rise at 20",
        "gallery",
        " up",
        "clearwell",
        "soft",
        "good",
    ] {
        assert!(told.out.contains(words), "no {words}: {told:?}");
    }
    let told = works.standpipe("status", &["--json"]);
    let status: Value = serde_json::from_str(&told.out).expect("JSON");
    assert_eq!(
        (&status["site"], &status["links"][0]["up"]),
        (&"Alder Rise".into(), &true.into())
    );
    assert_eq!(status["tanks"].as_array().map(Vec::len), Some(2));
    assert!(status["tanks"][1]["reading"]["level_m"].is_number());
    assert_eq!(daemon.terminate().code(), Some(0));
    assert_eq!(works.standpipe("status", &["--json"]).code, Some(2));
}

#[test]
fn a_wrong_site_file_is_refused_at_its_place() {
    let works = Works::new(&ModbusServer::start(json!({})));
    works.add("[journal]\nfiel = \"alder-rise.db\"");
    let checked = works.standpipe("check", &[]);
    assert_eq!(checked.code, Some(1), "{checked:?}");
    let run = works.standpipe("run", &[]);
    assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{run:?}");
    for text in [checked.out, run.error] {
        assert!(
            text.contains("fiel") && text.contains("site.toml:"),
            "{text}"
        );
    }
    std::fs::remove_file(works.site()).expect("it is there");
    let run = works.standpipe("run", &[]);
    assert_eq!(run.code, Some(2), "{run:?}");
    assert!(run.error.contains("site.toml"), "{run:?}");
}

#[test]
fn a_client_that_never_reads_does_not_hold_up_the_end() {
    let server = field();
    let works = Works::new(&server);
    let mut daemon = Daemon::start(&works);
    let mut client = UnixStream::connect(works.socket()).expect("it listens");
    client
        .set_write_timeout(Some(Duration::from_millis(500)))
        .expect("it can be set");
    let question = b"{\"command\":\"status\"}\n".repeat(500);
    // Until its answers fill the way back, and then the way there.
    let full = (0..200).find_map(|_| client.write_all(&question).err());
    assert_eq!(full.map(|error| error.kind()), Some(ErrorKind::WouldBlock));
    assert_alive(&daemon);
    assert_eq!(daemon.terminate().code(), Some(0));
}
