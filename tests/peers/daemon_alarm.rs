//! The high alarm of the running program through its states (ANSI/ISA-18.2), and who may answer it.

use crate::broker::Broker;
use crate::daemon::Daemon;
use crate::modbus::ModbusServer;
use crate::subscriber::{Subscriber, retained_json};
use crate::works::{ON_DELAY, POLL_EVERY, TOPIC, Works, field, set_clearwell};
use serde_json::Value;
use standpipe::daemon::clock::up;

/// Limit 4.00 m, deadband 0.05 m: what the gauge at 0.25 m reads at a level, in water of 20 °C (998.21 kg/m³
/// less air of 1.20 kg/m³), kPa.
fn at_level(metres: f64) -> f64 {
    (metres - 0.25) * 997.0 * 9.8116 / 1000.0
}

fn is_lah(event: &Value, from: &str, to: &str) -> bool {
    event["kind"] == "alarm" && event["code"] == "LAH" && event["from"] == from && event["to"] == to
}

/// Sets a level and waits until it is read.
fn bring_to(server: &mut ModbusServer, daemon: &Daemon, metres: f64) {
    set_clearwell(server, at_level(metres));
    daemon.reading("clearwell", |it| {
        it["level_m"]
            .as_f64()
            .is_some_and(|level| (level - metres).abs() < 0.005)
    });
}

#[test]
fn a_high_alarm_from_normal_to_normal() {
    let (mut server, broker) = (field(), Broker::start());
    let subscriber = Subscriber::start(broker.port, "works/#");
    let works = Works::with_broker(&server, broker.port);
    let daemon = Daemon::start(&works);
    daemon.reading("clearwell", |it| it["quality"] == "good");
    let topic = format!("{TOPIC}/tank/clearwell/alarm/LAH");
    subscriber.until(|on, text| on == topic && text.contains("NORM"));

    let nothing = works.standpipe("ack", &["clearwell", "LAH", "--by", "Ada"]);
    assert_eq!(nothing.code, Some(1), "{nothing:?}");
    assert!(
        nothing.error.contains("nothing to acknowledge"),
        "{nothing:?}"
    );

    let begun = up();
    set_clearwell(&mut server, at_level(4.2));
    let came = subscriber.event(|event| is_lah(event, "NORM", "UNACK"));
    assert!(up() - begun >= ON_DELAY, "before its on-delay");
    assert_eq!(
        (&came["tank"], &came["person"]),
        (&"clearwell".into(), &Value::Null)
    );
    assert!(
        came["text"]
            .as_str()
            .expect("text")
            .contains("Close the inlet valve XV-101")
    );
    let kept = daemon.alarm_in("clearwell", "LAH", "UNACK");
    assert_eq!(kept["activation"], came["number"]);
    let (_, state) = subscriber.until(|on, text| on == topic && text.contains("UNACK"));
    let state: Value = serde_json::from_str(&state).expect("JSON");
    assert_eq!(state["limit"], 4.0);
    assert!(
        state["value"].as_f64().is_some_and(|value| value > 4.0),
        "{state}"
    );
    assert_eq!(
        (
            &state["active"],
            &state["questionable"],
            &state["priority"],
            &state["unit"]
        ),
        (&true.into(), &false.into(), &"high".into(), &"m".into())
    );
    let series = |state: &str| {
        format!("standpipe_alarm_state{{code=\"LAH\",state=\"{state}\",tank=\"clearwell\"}}")
    };
    assert_eq!(daemon.metric(&series("UNACK")), Some(1.0));
    assert_eq!(daemon.metric(&series("NORM")), Some(0.0));

    for (tank, code, words) in [
        ("clearwell", "LAHH", "has no alarm \"LAHH\""),
        ("clear", "LAH", "there is no tank \"clear\""),
    ] {
        let refused = works.standpipe("ack", &[tank, code, "--by", "Ada"]);
        assert_eq!(refused.code, Some(1), "{refused:?}");
        assert!(refused.error.contains(words), "{refused:?}");
    }
    let nameless = works.standpipe("ack", &["clearwell", "LAH", "--by", " "]);
    assert_eq!(nameless.code, Some(1), "{nameless:?}");
    assert!(nameless.error.contains("needs the name"), "{nameless:?}");
    let forgotten = works.standpipe("ack", &["clearwell", "LAH"]);
    assert_eq!(forgotten.code, Some(1), "{forgotten:?}");
    daemon.alarm_in("clearwell", "LAH", "UNACK");

    let done = works.standpipe("ack", &["clearwell", "LAH", "--by", "Ada"]);
    assert_eq!(done.code, Some(0), "{done:?}");
    // Whoever is answered can see what was done.
    assert_eq!(daemon.alarm("clearwell", "LAH")["state"], "ACKED");
    let answered = subscriber.event(|event| is_lah(event, "UNACK", "ACKED"));
    // The site file names no people: the user of this machine who asked is told with the name.
    let person = answered["person"].as_str().unwrap_or_default();
    assert!(person.starts_with("Ada (as "), "{person}");

    bring_to(&mut server, &daemon, 3.97);
    std::thread::sleep(2 * POLL_EVERY);
    assert_eq!(
        daemon.alarm("clearwell", "LAH")["state"],
        "ACKED",
        "inside the deadband"
    );
    bring_to(&mut server, &daemon, 3.93);
    subscriber.event(|event| is_lah(event, "ACKED", "NORM"));
    daemon.alarm_in("clearwell", "LAH", "NORM");
    subscriber.until(|on, text| on == topic && text.contains("\"NORM\""));
    assert_eq!(retained_json(broker.port, &topic)["state"], "NORM");
}

#[test]
fn an_answer_to_an_older_activation_is_refused() {
    let mut server = field();
    let works = Works::new(&server);
    let daemon = Daemon::start(&works);
    let activation =
        |state: &str| daemon.alarm_in("clearwell", "LAH", state)["activation"].to_string();
    set_clearwell(&mut server, at_level(4.2));
    let first = activation("UNACK");
    bring_to(&mut server, &daemon, 3.5);
    assert_eq!(activation("RTNUN"), first, "nobody has answered it");
    set_clearwell(&mut server, at_level(4.3));
    let second = activation("UNACK");
    assert_ne!(first, second);

    let answer = |number: &str| {
        works.standpipe(
            "ack",
            &["clearwell", "LAH", "--by", "Ada", "--activation", number],
        )
    };
    let late = answer(&first);
    assert_eq!(late.code, Some(1), "{late:?}");
    assert!(
        late.error.contains(&format!("activation {first} is over")),
        "{late:?}"
    );
    assert_eq!(activation("UNACK"), second);
    assert_eq!(answer(&second).code, Some(0));
    assert_eq!(activation("ACKED"), second);
}
