//! Alarms of the system itself: each failure is told once, with what follows from it.

use crate::rig::{Rig, high};
use standpipe::engine::alarm::AlarmState;
use standpipe::engine::{
    Command, EventKind, Fault, Input, JournalLoss, JournalState, Sample, SystemPart, TransmitterId,
};
use std::time::Duration;

const LINK: &str = "LINK-SKID-A";
const DEVICE: &str = "DEVICE-SKID-A-1";

/// A link that was up, and failed so long ago.
fn failed(alarms: &str, seconds: u32) -> Rig {
    let mut rig = Rig::new(alarms);
    rig.link(None);
    rig.go(5);
    rig.fail_link();
    rig.go(seconds);
    rig
}

fn back(rig: &mut Rig, level: f64) {
    rig.link(None);
    (rig.level, rig.contacts) = (Some(level), [Some(false); 2]);
}

#[test]
fn a_failed_link_is_told_and_the_measurement_follows_from_it() {
    let rig = failed(&high("priority = \"high\""), 30);
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("UNACK", "DSUPR")
    );
    assert_eq!(rig.annunciated(), 1);
    assert_eq!(rig.follows(LINK), ["clearwell MEASUREMENT"]);
    let cause = rig
        .alarm("MEASUREMENT")
        .suppressed
        .expect("suppressed")
        .cause;
    assert_eq!(&*cause, "LINK-SKID-A tells it");
    let alarm = rig.alarm(LINK);
    assert_eq!(alarm.priority.name(), "high", "that of what follows");
    assert_eq!(
        alarm.record.consequence.as_deref(),
        Some("No level of clearwell: their alarms may be missed")
    );
    let [(_, text)] = rig.history(LINK)[..] else {
        panic!("{:?}", rig.history(LINK));
    };
    assert!(
        text.starts_with("link skid-a failed: no route to host. Response: "),
        "{text}"
    );
    let event = rig
        .events
        .iter()
        .find(|event| event.code.as_deref() == Some(LINK));
    let event = event.expect("an event");
    assert_eq!(
        (event.kind, event.tank.as_deref()),
        (EventKind::Alarm, Some("system"))
    );
}

#[test]
fn a_link_that_is_back_within_its_on_delay_is_not_told() {
    let mut rig = failed(&high(""), 5);
    back(&mut rig, 2.0);
    rig.go(60);
    assert_eq!(rig.annunciated(), 0);
    assert_eq!(rig.history(LINK), []);
}

#[test]
fn nothing_is_told_twice_when_the_link_is_back() {
    let mut rig = failed(&high(""), 30);
    back(&mut rig, 2.0);
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("RTNUN", "DSUPR")
    );
    rig.go(1);
    assert_eq!(rig.state("MEASUREMENT"), "NORM");
    assert_eq!(rig.annunciated(), 1);
    rig.acknowledge_of("system", LINK).expect("acknowledged");
    assert_eq!(rig.state(LINK), "NORM");
    assert!(rig.acknowledge_of("system", LINK).is_err());
}

#[test]
fn what_is_still_not_measured_when_the_link_is_back_is_told() {
    let mut rig = failed(&high(""), 30);
    back(&mut rig, 2.0);
    rig.level = None;
    rig.go(2);
    assert_eq!(rig.state("MEASUREMENT"), "DSUPR");
    rig.go(2);
    assert_eq!(rig.state("MEASUREMENT"), "UNACK");
    assert_eq!(rig.follows(LINK), Vec::<String>::new());
}

#[test]
fn a_level_that_cannot_be_measured_ends_the_links_on_delay() {
    let slow = "[system]\nlink = { on_delay = \"1 h\", priority = \"low\" }\n";
    let rig = failed(&format!("{}\n{slow}", high("")), 9);
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("NORM", "NORM")
    );
    let rig = failed(&format!("{}\n{slow}", high("")), 11);
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("UNACK", "DSUPR")
    );
    assert_eq!(rig.alarm(LINK).priority.name(), "low");
}

#[test]
fn whoever_hides_the_link_gets_the_measurement() {
    let mut rig = failed(&high(""), 30);
    rig.shelve_of("system", LINK, 1, false).expect("shelved");
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("SHLVD", "UNACK")
    );
    let asked = Command::Unshelve {
        tank: "system".into(),
        code: LINK.into(),
        by: "Ada".into(),
    };
    rig.ask(asked).expect("unshelved");
    // It has been told already, and stays.
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("UNACK", "UNACK")
    );
}

#[test]
fn a_measurement_that_had_failed_before_stays_as_it_was_answered() {
    let mut rig = Rig::new(&high(""));
    rig.link(None);
    rig.go(2);
    rig.level = None;
    rig.go(20);
    rig.acknowledge("MEASUREMENT").expect("acknowledged");
    rig.fail_link();
    rig.go(30);
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("UNACK", "ACKED")
    );
}

#[test]
fn an_alarm_that_annunciates_follows_unless_it_is_more_urgent() {
    let annunciate = |priority: &str| {
        high(&format!(
            "on_bad = \"annunciate\"\npriority = \"{priority}\""
        )) + "[system]\nlink = { priority = \"high\" }\n"
    };
    let rig = failed(&annunciate("high"), 30);
    let states = [LINK, "LAH", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["UNACK", "DSUPR", "DSUPR"]);
    assert_eq!(rig.annunciated(), 1);
    let rig = failed(&annunciate("highest"), 30);
    let states = [LINK, "LAH", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["UNACK", "UNACK", "DSUPR"]);
}

#[test]
fn a_contact_on_a_failed_link_follows_too() {
    let switch = "[[tank.alarm]]\ncode = \"LSHH\"\nwatch = \"LSHH-101\"\nis = \"on\"\non_bad = \"annunciate\"\n";
    let rig = failed(switch, 30);
    let states = [LINK, "LSHH", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["UNACK", "DSUPR", "DSUPR"]);
    assert_eq!(rig.follows(LINK).len(), 2);
}

#[test]
fn it_survives_a_restart() {
    let mut before = failed(&high(""), 30);
    before.acknowledge_of("system", LINK).expect("acknowledged");
    let mut rig = before.restart(&high(""), Duration::from_secs(60));
    let alarm = rig.alarm(LINK);
    assert_eq!((alarm.state.code(), alarm.questionable), ("ACKED", true));
    rig.fail_link();
    rig.go(30);
    assert_eq!(
        (rig.state(LINK), rig.state("MEASUREMENT")),
        ("ACKED", "DSUPR")
    );
    assert_eq!(rig.annunciated(), 0);
    assert_eq!(rig.follows(LINK), ["clearwell MEASUREMENT"]);
}

#[test]
fn a_device_that_answers_exceptions_is_told_and_the_measurement_follows() {
    let mut rig = Rig::new(&high(""));
    rig.link(None);
    rig.go(5);
    for _ in 0..30 {
        rig.wait(Duration::from_secs(1));
        let sample = Sample {
            transmitter: TransmitterId(0),
            raw: Err(Fault::Exception(2)),
        };
        rig.step(Input::Samples(&[sample]));
    }
    assert_eq!(
        (rig.state(DEVICE), rig.state("MEASUREMENT")),
        ("UNACK", "DSUPR")
    );
    assert_eq!(rig.annunciated(), 1);
    let text = rig.history(DEVICE)[0].1;
    assert!(
        text.starts_with("device 1 on skid-a answers exception 2 (illegal data address)"),
        "{text}"
    );
    rig.at(2.0, 5);
    assert_eq!(
        (rig.state(DEVICE), rig.state("MEASUREMENT")),
        ("RTNUN", "NORM")
    );
    assert_eq!(rig.annunciated(), 1);
}

#[test]
fn a_silent_device_behind_a_link_that_answers_is_told_as_the_device() {
    let mut rig = Rig::new(&high(""));
    rig.link(None);
    rig.go(5);
    (rig.level, rig.contacts) = (None, [None; 2]);
    rig.go(30);
    let states = [LINK, DEVICE, "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["NORM", "UNACK", "DSUPR"]);
    // What the link does not let through says nothing of the device.
    rig.link(Some("no route to host"));
    rig.go(30);
    assert!(rig.alarm(DEVICE).questionable);
    assert_eq!(rig.state(DEVICE), "UNACK");
}

#[test]
fn a_journal_that_cant_be_written_is_told_after_a_while_and_ends() {
    let mut rig = Rig::new(&high(""));
    let trouble = "the disk is full".into();
    rig.step(Input::Journal(JournalState::Failing { trouble }));
    rig.go(9);
    assert_eq!(rig.state("JOURNAL"), "NORM");
    rig.go(2);
    assert_eq!(rig.state("JOURNAL"), "UNACK");
    let text = rig.history("JOURNAL")[0].1;
    assert!(
        text.contains("the disk is full") && text.contains("Response: Make room"),
        "{text}"
    );
    let lost = JournalLoss::default();
    rig.step(Input::Journal(JournalState::Written { lost }));
    assert_eq!(rig.state("JOURNAL"), "RTNUN");
    assert_eq!(rig.annunciated(), 1);
}

#[test]
fn a_replaced_journal_waits_for_an_answer() {
    let mut rig = Rig::new(&high(""));
    let aside = "site.db.unreadable-20260304T050607Z".into();
    rig.step(Input::Journal(JournalState::Replaced { aside }));
    assert_eq!(rig.state("JOURNAL-REPLACED"), "UNACK");
    assert!(
        rig.history("JOURNAL-REPLACED")[0]
            .1
            .contains("unreadable-2026")
    );
    rig.go(120);
    assert_eq!(rig.state("JOURNAL-REPLACED"), "RTNUN");
    rig.acknowledge_of("system", "JOURNAL-REPLACED")
        .expect("acknowledged");
    assert_eq!(rig.state("JOURNAL-REPLACED"), "NORM");
}

#[test]
fn a_stepped_clock_is_told_once_a_step() {
    let mut rig = Rig::new(&high(""));
    rig.go(5);
    rig.now.utc += Duration::from_secs(600);
    rig.go(1);
    assert_eq!(rig.state("CLOCK"), "UNACK");
    assert!(
        rig.history("CLOCK")[0].1.contains("+600"),
        "{:?}",
        rig.history("CLOCK")
    );
    rig.go(30);
    rig.acknowledge_of("system", "CLOCK").expect("acknowledged");
    rig.go(60);
    assert_eq!(rig.state("CLOCK"), "NORM");
    assert_eq!(rig.annunciated(), 1);
    rig.now.utc -= Duration::from_secs(600);
    rig.go(1);
    assert_eq!((rig.state("CLOCK"), rig.annunciated()), ("UNACK", 2));
}

#[test]
fn a_clock_that_stands_before_the_last_entry_is_told() {
    let mut before = Rig::new(&high(""));
    before.go(5);
    let mut rig = before.restart_at(&high(""), before.now.utc - Duration::from_secs(3600));
    rig.go(1);
    assert_eq!(rig.state("CLOCK"), "UNACK");
}

#[test]
fn what_the_shell_tells_is_raised_and_cleared() {
    for (part, code) in [
        (SystemPart::Notice, "NOTICE"),
        (SystemPart::SiteFile, "SITE-FILE"),
    ] {
        let mut rig = Rig::new(&high(""));
        rig.step(Input::System(part, Some("it did not work".into())));
        rig.step(Input::System(part, Some("it did not work".into())));
        assert_eq!((rig.state(code), rig.annunciated()), ("UNACK", 1));
        rig.acknowledge_of("system", code).expect("acknowledged");
        rig.step(Input::System(part, None));
        assert_eq!(rig.state(code), "NORM");
    }
}

#[test]
fn an_alarm_of_a_link_that_is_gone_is_shown_until_it_is_answered() {
    let before = failed(&high(""), 30);
    let mut memory = before.memory();
    for (tank, code, _) in &mut memory.alarms {
        if tank == "system" {
            *code = "LINK-SKID-B".to_owned();
        }
    }
    let mut rig = Rig::start(&high(""), Some(memory), before.now.utc);
    let system = rig.snapshot().system;
    let gone = system.iter().find(|alarm| *alarm.code == *"LINK-SKID-B");
    let gone = gone.expect("it is shown");
    assert_eq!(
        (gone.state, gone.removed),
        (AlarmState::ReturnedUnacknowledged, true)
    );
    rig.acknowledge_of("system", "LINK-SKID-B")
        .expect("acknowledged");
    assert_eq!(rig.state("LINK-SKID-B"), "NORM");
}
