//! A live test of the running program's high alarm, beside the field that goes on as it is.

use crate::daemon::Daemon;
use crate::patience::until;
use crate::works::{Works, field};
use serde_json::Value;

fn events(works: &Works, kind: &str) -> Vec<Value> {
    let told = works.standpipe("journal", &["list", "--json", "--kind", kind]);
    assert_eq!(told.code, Some(0), "{told:?}");
    let lines = told.out.lines();
    lines
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect()
}

#[test]
fn a_test_annunciates_is_answered_and_is_over() {
    let server = field();
    let works = Works::new(&server);
    let daemon = Daemon::start(&works);
    let real = daemon.reading("clearwell", |it| it["quality"] == "good");
    let begun = works.standpipe(
        "test",
        &[
            "clearwell",
            "LAH",
            "--value",
            "4.5 m",
            "--for",
            "8 s",
            "--by",
            "Ben",
        ],
    );
    assert_eq!(begun.code, Some(0), "{begun:?}");
    daemon.reading("clearwell", |it| {
        it["level_m"]
            .as_f64()
            .is_some_and(|it| (it - 4.5).abs() < 1e-3)
            && it["reasons"]
                .as_array()
                .is_some_and(|all| all.iter().any(|it| it == "live test: a value is put in"))
    });
    let alarm = daemon.alarm_in("clearwell", "LAH", "UNACK");
    assert_eq!(alarm["test"], true);
    let answered = works.standpipe("ack", &["clearwell", "LAH", "--by", "Ada"]);
    assert_eq!(answered.code, Some(0), "{answered:?}");
    let status = works.standpipe("status", &[]);
    assert!(
        status.out.contains("UNDER TEST of LAH by Ben"),
        "{}",
        status.out
    );

    let over = until("the test is over", || {
        events(&works, "test")
            .pop()
            .filter(|it| it["text"].as_str().is_some_and(|it| it.contains("passed")))
    });
    let text = over["text"].as_str().unwrap_or_default();
    assert!(
        text.starts_with("TEST: live test passed: annunciated after "),
        "{text}"
    );
    assert!(text.contains("acknowledged by Ada (as "), "{text}");
    assert_eq!(over["test"], true);
    for event in events(&works, "alarm") {
        assert_eq!(event["test"], true, "{event}");
    }
    let after = daemon.reading("clearwell", |it| it["quality"] == "good");
    let level = |reading: &Value| reading["level_m"].as_f64().expect("a level");
    assert!((level(&after) - level(&real)).abs() < 0.005, "{after}");
    assert_eq!(daemon.alarm("clearwell", "LAH")["state"], "NORM");
}
