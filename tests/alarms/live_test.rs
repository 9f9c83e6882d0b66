//! Live tests of alarms: what follows from the value is marked and leaves nothing behind; what is real goes before.

use crate::rig::{Rig, high};
use standpipe::engine::command::{TestValue, Value};
use standpipe::engine::event::TEST_MARK;
use standpipe::engine::{Command, Event, EventKind, Reason};
use standpipe::quantity::metres;
use std::time::Duration;

const DELAYS: &str = "on_delay = \"10 s\"\noff_delay = \"20 s\"\ntest_every = \"365 d\"";

fn low() -> &'static str {
    "[[tank.alarm]]\ncode = \"LAL\"\nwatch = \"level\"\nbelow = \"1 m\"\n"
}

fn both() -> String {
    format!("{}{}", high(DELAYS), low())
}

fn test_of(code: &str, level_m: f64, seconds: u64) -> Command {
    Command::TestAlarm {
        tank: "clearwell".into(),
        code: code.into(),
        test: TestValue {
            at: None,
            value: Value::Level(metres(level_m)),
            time: Duration::from_secs(seconds),
        },
        by: "Ben".into(),
    }
}

fn end() -> Command {
    Command::EndTestAlarm {
        tank: "clearwell".into(),
        code: "LAH".into(),
        by: "Ada".into(),
    }
}

/// What is said of how a test went.
fn result(rig: &Rig) -> &str {
    rig.told(EventKind::Test).last().expect("a test was told")
}

/// The events after the first so many.
fn after(rig: &Rig, first: usize) -> &[Event] {
    &rig.events[first..]
}

#[test]
fn an_alarm_is_tried_from_the_signal_to_the_answer_and_nothing_is_left_of_it() {
    let mut rig = Rig::new(&both());
    rig.at(2.0, 60);
    let before = rig.events.len();
    let said = rig.ask(test_of("LAH", 3.5, 60)).expect("begun");
    assert!(
        said.contains("level 3.500 m put in at LT-101 for 1 min"),
        "{said}"
    );
    rig.go(1);
    let tank = rig.tank();
    let level = tank.reading.level.expect("a level").value;
    assert!((level - 3.5).abs() < 1e-5, "{level}");
    assert!(tank.reading.reasons.has(Reason::TestValue));
    assert!(
        tank.test
            .is_some_and(|test| test.is_put_in && &*test.by == "Ben")
    );
    assert!(rig.alarm("LAH").test);
    rig.go(8);
    assert_eq!(rig.state("LAH"), "NORM", "its on-delay runs");
    rig.go(1);
    assert_eq!(rig.state("LAH"), "UNACK");
    rig.go(5);
    rig.acknowledge("LAH").expect("acknowledged");
    // The value is taken away after 60 s, and the alarm clears after its off-delay.
    rig.go(45);
    assert_eq!(rig.state("LAH"), "ACKED");
    assert!(rig.tank().test.is_some_and(|test| !test.is_put_in));
    rig.go(20);
    assert_eq!(rig.state("LAH"), "NORM");
    assert_eq!(
        result(&rig),
        "TEST: live test passed: annunciated after 10 s (on-delay 10 s), acknowledged by Ada after 15 s, cleared 20 s after the value was taken away"
    );
    for event in after(&rig, before) {
        assert!(event.is_test(), "{event:?}");
    }
    assert_eq!(rig.kept[&lah()].state.code(), "NORM");
    assert_eq!(rig.kept[&lah()].activation, None);
    let tank = rig.tank();
    assert!(tank.test.is_none() && tank.reading.reasons.is_empty());
    assert_eq!(rig.horn().since, None);
    let quiet = rig.events.len();
    rig.go(600);
    assert_eq!(rig.events.len(), quiet, "{:?}", after(&rig, quiet));
}

fn lah() -> (String, String) {
    ("clearwell".into(), "LAH".into())
}

#[test]
fn another_limit_that_is_really_crossed_ends_it_and_is_told_as_ever() {
    let mut rig = Rig::new(&both());
    rig.at(1.2, 60);
    rig.ask(test_of("LAH", 3.5, 120)).expect("begun");
    rig.at(1.2, 20);
    assert_eq!(rig.state("LAH"), "UNACK");
    let before = rig.events.len();
    rig.at(0.9, 1);
    assert_eq!((rig.state("LAH"), rig.state("LAL")), ("NORM", "UNACK"));
    let told = after(&rig, before);
    let texts: Vec<&str> = told.iter().map(|event| event.text.as_str()).collect();
    assert!(
        result(&rig)
            .starts_with("TEST: live test cut short: LAL: level 0.901 m, low limit 1.000 m"),
        "{texts:?}"
    );
    let back = told
        .iter()
        .find(|event| event.code.as_deref() == Some("LAH"));
    assert!(back.is_some_and(Event::is_test), "{texts:?}");
    let real = told.last().expect("told");
    assert!(
        !real.is_test() && real.code.as_deref() == Some("LAL"),
        "{texts:?}"
    );
    assert!(rig.tank().test.is_none());
    assert_eq!(
        rig.kept[&("clearwell".into(), "LAL".into())].state.code(),
        "UNACK"
    );
}

#[test]
fn the_tested_limit_that_is_really_crossed_is_another_activation() {
    let mut rig = Rig::new(&both());
    rig.at(2.9, 60);
    rig.ask(test_of("LAH", 3.5, 120)).expect("begun");
    rig.at(2.9, 15);
    let tested = rig.alarm("LAH").activation.expect("active");
    rig.acknowledge("LAH").expect("acknowledged");
    rig.at(3.2, 1);
    assert!(
        result(&rig).contains("cut short: LAH: level 3.204 m"),
        "{}",
        result(&rig)
    );
    assert_eq!(rig.state("LAH"), "NORM", "its real on-delay runs now");
    rig.at(3.2, 10);
    assert_eq!(rig.state("LAH"), "UNACK", "nobody has answered this one");
    assert!(rig.alarm("LAH").activation > Some(tested));
    assert!(!rig.last().is_test());
}

#[test]
fn a_real_signal_that_fails_ends_it() {
    let mut rig = Rig::new(&both());
    rig.at(2.0, 60);
    rig.ask(test_of("LAH", 3.5, 600)).expect("begun");
    rig.at(2.0, 15);
    rig.level = None;
    rig.go(20);
    assert!(
        result(&rig).starts_with(
            "TEST: live test cut short: the real reading has changed: it is uncertain"
        ),
        "{}",
        result(&rig)
    );
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("NORM", "UNACK")
    );
    assert!(!rig.last().is_test(), "{:?}", rig.last());
}

#[test]
fn what_does_not_annunciate_has_failed_and_counts_for_nothing() {
    let mut rig = Rig::new(&both());
    rig.at(2.0, 60);
    assert!(rig.snapshot().tests[0].overdue, "never tested");
    rig.ask(test_of("LAH", 2.8, 30)).expect("begun");
    rig.go(31);
    assert_eq!(
        result(&rig),
        "TEST: live test FAILED: not annunciated within 30 s"
    );
    let record = &rig.snapshot().tests[0];
    assert!(record.overdue && record.last.is_some() && record.passed.is_none());
}

#[test]
fn a_test_that_was_passed_is_remembered_and_due_again_in_time() {
    let mut rig = Rig::new(&both());
    rig.at(2.0, 60);
    rig.ask(test_of("LAH", 3.5, 60)).expect("begun");
    rig.go(15);
    // Whoever operates may end it before its time; unanswered, it is passed all the same.
    rig.ask(end()).expect("ended");
    rig.go(20);
    assert!(
        result(&rig).contains("passed: annunciated after 10 s"),
        "{}",
        result(&rig)
    );
    assert!(
        result(&rig).contains("not acknowledged, cleared 20 s"),
        "{}",
        result(&rig)
    );
    assert_eq!(rig.state("LAH"), "NORM", "not returned unacknowledged");
    let hour = Duration::from_secs(3600);
    for (blind, overdue) in [(hour, false), (hour * 24 * 366, true)] {
        let mut rig = rig.restart(&both(), blind);
        rig.at(2.0, 10);
        let tests = rig.snapshot().tests;
        let [record] = &tests[..] else {
            panic!("{tests:?}")
        };
        assert_eq!((&*record.code, record.overdue), ("LAH", overdue));
        assert!(record.passed.is_some() && record.by.as_deref() == Some("Ben"));
    }
}

#[test]
fn a_restart_in_the_midst_of_it_finds_the_tank_as_it_was() {
    let mut rig = Rig::new(&both());
    rig.at(2.0, 60);
    rig.ask(test_of("LAH", 3.5, 120)).expect("begun");
    rig.go(15);
    assert_eq!(rig.state("LAH"), "UNACK");
    let mut rig = rig.restart(&both(), Duration::from_secs(5));
    rig.at(2.0, 30);
    assert_eq!(rig.state("LAH"), "NORM");
    assert_eq!(rig.annunciated(), 0);
    assert_eq!(rig.horn().since, None);
    assert!(
        result(&rig).contains("cut short by a restart"),
        "{}",
        result(&rig)
    );
    assert!(rig.snapshot().tests[0].overdue);
    assert!(rig.tank().test.is_none());
    // Told once.
    let again = rig.restart(&both(), Duration::from_secs(5));
    assert_eq!(again.told(EventKind::Test), Vec::<&str>::new());
}

#[test]
fn only_a_quiet_tank_is_tested() {
    let mut rig = Rig::new(&both());
    rig.at(0.8, 30);
    let refused = rig.ask(test_of("LAH", 3.5, 60)).expect_err("LAL is active");
    assert!(refused.contains("not quiet (LAL is active"), "{refused}");
    rig.at(2.0, 30);
    rig.acknowledge("LAL").expect("acknowledged");
    rig.shelve("LAH", 1, false).expect("shelved");
    let refused = rig.ask(test_of("LAH", 3.5, 60)).expect_err("hidden");
    assert!(
        refused.contains("is shelved: nothing would be annunciated"),
        "{refused}"
    );
    let refused = rig
        .ask(test_of("MEASUREMENT", 3.5, 60))
        .expect_err("no level");
    assert!(refused.contains("does not look at a level"), "{refused}");
    for (seconds, words) in [(901, "15 min at most"), (0, "too short")] {
        let refused = rig.ask(test_of("LAL", 0.5, seconds)).expect_err("its time");
        assert!(refused.contains(words), "{refused}");
    }
    assert!(
        rig.ask(end())
            .expect_err("none")
            .contains("is not being tested")
    );
    assert_eq!(rig.told(EventKind::Test), Vec::<&str>::new());
}

#[test]
fn under_test_a_tank_takes_answers_only() {
    let mut rig = Rig::new(&both());
    rig.at(2.0, 30);
    rig.ask(test_of("LAH", 3.5, 60)).expect("begun");
    rig.go(15);
    let refused = rig.shelve("LAL", 1, false).expect_err("it would be lost");
    assert!(refused.contains("under a live test of LAH"), "{refused}");
    let refused = rig.ask(test_of("LAL", 0.5, 60)).expect_err("one at a time");
    assert!(refused.contains("one test at a time"), "{refused}");
    let work = Command::Work {
        tag: "LT-101".into(),
        permit: standpipe::engine::command::Permit {
            number: "17".into(),
            time: Duration::from_secs(600),
            hand: None,
        },
        by: "Ben".into(),
    };
    assert!(
        rig.ask(work)
            .expect_err("in use")
            .contains("under a live test")
    );
    rig.acknowledge("LAH").expect("an answer is part of it");
    assert!(rig.last().text.starts_with(TEST_MARK));
}
