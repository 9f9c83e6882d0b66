//! Several alarms that bad data alone bring about are one annunciation.

use crate::rig::{Rig, high};
use std::time::Duration;

const ANNUNCIATE: &str = "on_bad = \"annunciate\"";

fn low(more: &str) -> String {
    format!("[[tank.alarm]]\ncode = \"LAL\"\nwatch = \"level\"\nbelow = \"1 m\"\n{more}\n")
}

/// A measured tank whose level is lost, for so long.
fn lost(alarms: &str, seconds: u32) -> Rig {
    let mut rig = Rig::new(alarms);
    rig.go(2);
    rig.level = None;
    rig.go(seconds);
    rig
}

fn both() -> String {
    high(ANNUNCIATE) + &low(&format!("{ANNUNCIATE}\npriority = \"high\""))
}

#[test]
fn the_highest_priority_tells_it_and_lists_the_others() {
    let rig = lost(&both(), 20);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["DSUPR", "UNACK", "DSUPR"]);
    assert_eq!(rig.annunciated(), 1);
    assert_eq!(
        rig.follows("LAL"),
        ["clearwell LAH", "clearwell MEASUREMENT"]
    );
    let cause = rig.alarm("LAH").suppressed.expect("suppressed").cause;
    assert_eq!(&*cause, "LAL tells it");
    assert!(rig.alarm("LAH").active, "its state runs on underneath");
}

#[test]
fn of_the_same_priority_the_first_in_the_site_file_tells_it() {
    let rig = lost(&(high(ANNUNCIATE) + &low(ANNUNCIATE)), 20);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["UNACK", "DSUPR", "DSUPR"]);
}

#[test]
fn it_is_told_no_later_than_the_first_of_them_would() {
    let slow = format!("{ANNUNCIATE}\npriority = \"highest\"\non_delay = \"60 s\"");
    let quick = format!("{ANNUNCIATE}\non_delay = \"5 s\"");
    let rig = lost(&(high(&slow) + &low(&quick)), 16);
    // Bad after ten seconds, and five of the shorter delay.
    assert_eq!((rig.state("LAH"), rig.state("LAL")), ("UNACK", "DSUPR"));
}

#[test]
fn all_of_it_is_over_with_the_first_good_data() {
    let mut rig = lost(&both(), 20);
    rig.at(2.0, 1);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["NORM", "RTNUN", "NORM"]);
    assert_eq!(rig.annunciated(), 1);
}

#[test]
fn a_limit_that_is_really_passed_when_the_data_are_back_is_told() {
    let mut rig = lost(&both(), 20);
    rig.at(3.5, 1);
    assert_eq!((rig.state("LAH"), rig.state("LAL")), ("UNACK", "RTNUN"));
    let (state, text) = *rig.history("LAH").last().expect("some");
    assert_eq!(
        (state, text),
        ("UNACK", "its suppression is over; it is active")
    );
}

#[test]
fn whoever_hides_the_one_gets_the_next() {
    let mut rig = lost(&both(), 20);
    rig.shelve("LAL", 1, false).expect("shelved");
    rig.go(1);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    // Measurement failed has the priority of the highest of them.
    assert_eq!(states, ["DSUPR", "SHLVD", "UNACK"]);
    // It is not told twice when the shelf is over.
    rig.wait(Duration::from_secs(3600));
    rig.go(1);
    assert_eq!(rig.annunciated(), 2);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["DSUPR", "DSUPR", "UNACK"]);
}

#[test]
fn an_alarm_that_was_active_before_stays_and_tells_nothing_for_others() {
    let mut rig = Rig::new(&both());
    rig.at(3.5, 2);
    rig.acknowledge("LAH").expect("acknowledged");
    rig.level = None;
    rig.go(20);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["ACKED", "UNACK", "DSUPR"]);
}

#[test]
fn after_a_restart_it_is_still_one() {
    let before = lost(&both(), 20);
    let mut rig = before.restart(&both(), Duration::from_secs(60));
    assert_eq!(rig.state("MEASUREMENT"), "DSUPR");
    rig.level = None;
    rig.go(20);
    let states = ["LAH", "LAL", "MEASUREMENT"].map(|code| rig.state(code));
    assert_eq!(states, ["DSUPR", "UNACK", "DSUPR"]);
    assert_eq!(rig.annunciated(), 0);
    assert_eq!(rig.follows("LAL").len(), 2);
}

#[test]
fn the_rule_of_an_alarm_goes_before() {
    let rule = "suppress = { while = \"HS-101 on\", hold = \"60 s\" }";
    let alarms = high(&format!("{ANNUNCIATE}\n{rule}\npriority = \"highest\""))
        + &low(&format!("{ANNUNCIATE}\npriority = \"highest\""));
    let mut rig = Rig::new(&alarms);
    rig.contacts[0] = Some(true);
    rig.go(2);
    rig.level = None;
    rig.go(20);
    // The one that is out for cleaning does not tell it for the others.
    assert_eq!((rig.state("LAH"), rig.state("LAL")), ("DSUPR", "UNACK"));
    let cause = rig.alarm("LAH").suppressed.expect("suppressed").cause;
    assert_eq!(&*cause, "HS-101 is on (cleaning)");
}

#[test]
fn what_waits_for_an_answer_is_not_hidden_by_it() {
    let mut rig = Rig::new(&both());
    rig.at(3.5, 2);
    rig.at(2.0, 2);
    assert_eq!(rig.state("LAH"), "RTNUN");
    rig.level = None;
    rig.go(20);
    assert_eq!((rig.state("LAH"), rig.state("LAL")), ("RTNUN", "UNACK"));
    assert_eq!(rig.annunciated(), 2);
    assert!(rig.alarm("LAH").questionable);
    rig.at(2.0, 2);
    assert_eq!(rig.state("LAH"), "RTNUN");
    assert!(!rig.alarm("LAH").questionable);
}
