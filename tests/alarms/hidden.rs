//! Shelved, suppressed by design, out of service; and contacts, which suppress and are alarms of their own.

use crate::rig::{Rig, high};
use standpipe::engine::{Command, EventKind};
use std::time::Duration;

const HOUR: Duration = Duration::from_secs(3600);

const SUPPRESSED: &str =
    "suppress = { while = \"HS-101 on\", hold = \"60 s\", at_most = \"72 h\" }";

#[test]
fn a_shelf_ends_at_its_deadline_though_nothing_is_read() {
    let mut rig = Rig::new(&high(""));
    rig.at(3.5, 2);
    rig.shelve("LAH", 2, false).expect("shelved");
    assert_eq!(rig.state("LAH"), "SHLVD");
    let shelf = rig.alarm("LAH").shelf.expect("it is shelved");
    assert_eq!(
        shelf.until,
        rig.now.utc.checked_add(2 * HOUR).expect("a time")
    );
    assert_eq!((&*shelf.by, &*shelf.reason), ("Ada", "float sticks"));
    rig.go(10);
    let ends = rig.now.up + 2 * HOUR - Duration::from_secs(10);
    assert!(rig.due().is_some_and(|due| due <= ends));
    rig.wait(2 * HOUR - Duration::from_secs(11));
    assert_eq!(rig.state("LAH"), "SHLVD");
    rig.wait(Duration::from_secs(1));
    assert_eq!(rig.state("LAH"), "UNACK");
    assert_eq!(
        rig.told(EventKind::Alarm).last(),
        Some(&"its time on the shelf is up; it is active")
    );
}

#[test]
fn a_shelf_follows_the_wall_clock_when_that_is_stepped() {
    let mut rig = Rig::new(&high(""));
    rig.at(3.5, 2);
    rig.shelve("LAH", 2, false).expect("shelved");
    rig.now.utc += 3 * HOUR;
    rig.go(1);
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn a_one_shot_shelf_ends_when_the_condition_clears() {
    let mut rig = Rig::new(&high("off_delay = \"5 s\""));
    rig.at(3.5, 2);
    rig.shelve("LAH", 2, true).expect("shelved");
    rig.at(2.0, 4);
    assert_eq!(rig.state("LAH"), "SHLVD");
    rig.go(3);
    assert_eq!(rig.state("LAH"), "NORM");
    rig.at(3.5, 1);
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn a_change_under_a_flag_is_an_event_that_annunciates_nothing() {
    let mut rig = Rig::new(&high(""));
    rig.go(1);
    rig.shelve("LAH", 2, false).expect("shelved");
    rig.at(3.5, 2);
    let event = rig.last();
    assert_eq!((event.from, event.to), (event.to, event.from));
    assert!(
        event.text.starts_with("active while shelved: level 3.50"),
        "{}",
        event.text
    );
    assert!(rig.alarm("LAH").active);
    assert_eq!(rig.annunciated(), 0);
}

#[test]
fn a_contact_suppresses_by_design_with_its_cause_and_its_hold() {
    let mut rig = Rig::new(&high(SUPPRESSED));
    rig.go(1);
    // Both in one read: the order of what is in it is no evidence.
    rig.contacts[0] = Some(true);
    rig.at(3.5, 5);
    assert_eq!(rig.state("LAH"), "DSUPR");
    let alarm = rig.alarm("LAH");
    assert!(alarm.active);
    let cause = alarm.suppressed.expect("suppressed").cause;
    assert_eq!(&*cause, "HS-101 is on (cleaning)");
    rig.contacts[0] = Some(false);
    rig.go(60);
    assert_eq!(rig.state("LAH"), "DSUPR");
    rig.go(1);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert_eq!(rig.annunciated(), 1);
}

#[test]
fn a_contact_of_bad_quality_fulfils_nothing() {
    let mut rig = Rig::new(&high(SUPPRESSED));
    rig.contacts[0] = Some(true);
    rig.at(3.5, 5);
    assert_eq!(rig.state("LAH"), "DSUPR");
    rig.contacts[0] = None;
    // Ten seconds until it is bad, and the hold.
    rig.go(9);
    assert_eq!(rig.state("LAH"), "DSUPR");
    rig.go(62);
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn a_suppression_ends_after_its_longest_time_though_its_condition_holds() {
    let mut rig = Rig::new(&high(SUPPRESSED));
    rig.contacts[0] = Some(true);
    rig.at(3.5, 1);
    rig.wait(72 * HOUR - Duration::from_secs(2));
    rig.go(1);
    assert_eq!(rig.state("LAH"), "DSUPR");
    rig.go(2);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert!(
        rig.last().text.contains("as long as it may"),
        "{}",
        rig.last().text
    );
    rig.go(100);
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn a_list_of_conditions_must_hold_all_at_once() {
    let mut rig = Rig::new(&high(
        "suppress = { while = [\"HS-101 on\", \"LSHH-101 off\"] }",
    ));
    rig.contacts = [Some(true), Some(true)];
    rig.at(3.5, 2);
    assert_eq!(rig.state("LAH"), "UNACK");
    rig.contacts = [Some(true), Some(false)];
    rig.go(1);
    assert_eq!(rig.state("LAH"), "DSUPR");
}

#[test]
fn nothing_is_told_before_the_suppressing_contact_was_heard() {
    let mut rig = Rig::new(&high(SUPPRESSED));
    rig.contacts[0] = None;
    rig.go(1);
    assert_eq!(rig.state("LAH"), "NORM");
    rig.contacts[0] = Some(true);
    rig.go(1);
    assert_eq!(rig.state("LAH"), "DSUPR");
}

#[test]
fn a_contact_is_an_alarm_of_its_own() {
    let switch = "[[tank.alarm]]\ncode = \"LSHH\"\nwatch = \"LSHH-101\"\nis = \"on\"\n\
                  on_delay = \"2 s\"\nlatch = true\nresponse = \"Close the inlet valve\"\n";
    let mut rig = Rig::new(switch);
    rig.go(5);
    rig.contacts[1] = Some(true);
    rig.go(2);
    assert_eq!(rig.state("LSHH"), "NORM");
    rig.go(1);
    assert_eq!(rig.state("LSHH"), "UNACK");
    assert_eq!(
        rig.last().text,
        "LSHH-101 is on (high-high level). Response: Close the inlet valve"
    );
    // Silence never clears it.
    rig.contacts[1] = None;
    rig.go(30);
    assert_eq!(rig.state("LSHH"), "UNACK");
    assert!(rig.alarm("LSHH").questionable);
    rig.contacts[1] = Some(false);
    rig.go(1);
    assert_eq!(rig.state("LSHH"), "LATUN");
    let reset = Command::Reset {
        tank: "clearwell".into(),
        code: "LSHH".into(),
        by: "Ada".into(),
    };
    let refused = rig.ask(reset.clone()).expect_err("refused");
    assert!(refused.contains("acknowledge it first"), "{refused}");
    rig.acknowledge("LSHH").expect("acknowledged");
    assert_eq!(rig.state("LSHH"), "LATAK");
    rig.ask(reset).expect("reset");
    assert_eq!(rig.state("LSHH"), "NORM");
}
