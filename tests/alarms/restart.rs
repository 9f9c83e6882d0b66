//! After a restart: what was kept is taken up again, and nothing is decided before the first good data.

use crate::rig::{Rig, high};
use standpipe::engine::{EventKind, Memory};
use std::time::Duration;

const HOUR: Duration = Duration::from_secs(3600);

/// An alarm in each state, before the restart.
fn active(more: &str) -> Rig {
    let mut rig = Rig::new(&high(more));
    rig.at(3.5, 10);
    assert_eq!(rig.state("LAH"), "UNACK");
    rig
}

fn answered(more: &str) -> Rig {
    let mut rig = active(more);
    rig.acknowledge("LAH").expect("acknowledged");
    rig
}

/// After an hour without anybody watching, the level is that.
fn after(before: &Rig, more: &str, level: f64) -> Rig {
    let mut rig = before.restart(&high(more), HOUR);
    rig.at(level, 1);
    rig
}

#[test]
fn numbers_of_events_go_on_and_the_blind_interval_is_an_event() {
    let before = active("");
    let rig = before.restart(&high(""), HOUR);
    assert_eq!(rig.events[0].number, before.last().number + 1);
    let told = rig.told(EventKind::Blind);
    assert_eq!(
        told,
        [
            "nobody watched from 2026-03-04T05:00:10Z to 2026-03-04T06:00:10Z: what came and went in between is not known"
        ]
    );
    assert_eq!(
        Rig::new(&high("")).told(EventKind::Blind),
        Vec::<&str>::new()
    );
}

#[test]
fn restored_alarms_are_shown_as_questionable_until_there_are_data() {
    let before = active("");
    let mut rig = before.restart(&high(""), HOUR);
    let alarm = rig.alarm("LAH");
    assert_eq!((alarm.state.code(), alarm.questionable), ("UNACK", true));
    rig.level = None;
    rig.go(5);
    let alarm = rig.alarm("LAH");
    assert_eq!((alarm.state.code(), alarm.questionable), ("UNACK", true));
    assert_eq!(rig.told(EventKind::Alarm), Vec::<&str>::new());
    rig.at(3.5, 1);
    assert!(!rig.alarm("LAH").questionable);
}

#[test]
fn waiting_for_data_takes_at_most_as_long_as_bad_quality_takes() {
    let before = active("");
    let mut rig = before.restart(&high(""), HOUR);
    rig.level = None;
    rig.go(9);
    assert_eq!(rig.state("MEASUREMENT"), "NORM");
    rig.go(2);
    assert_eq!(rig.state("MEASUREMENT"), "UNACK");
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn still_active_stays_as_it_was_with_no_new_event() {
    let before = active("");
    let (first, activation) = (before.alarm("LAH").since, before.alarm("LAH").activation);
    let rig = after(&before, "", 3.5);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert_eq!(
        (rig.alarm("LAH").since, rig.alarm("LAH").activation),
        (first, activation)
    );
    assert_eq!(rig.told(EventKind::Alarm), Vec::<&str>::new());
    let rig = after(&answered(""), "", 3.5);
    assert_eq!(rig.state("LAH"), "ACKED");
    assert_eq!(rig.told(EventKind::Alarm), Vec::<&str>::new());
}

#[test]
fn the_deadband_still_holds_what_was_active() {
    let more = "deadband = \"0.1 m\"";
    assert_eq!(after(&active(more), more, 2.95).state("LAH"), "UNACK");
    assert_eq!(after(&active(more), more, 2.85).state("LAH"), "RTNUN");
}

#[test]
fn newly_active_is_found_at_start_after_its_own_on_delay() {
    let more = "on_delay = \"10 s\"";
    let mut before = Rig::new(&high(more));
    before.go(10);
    let mut rig = after(&before, more, 3.5);
    rig.go(9);
    assert_eq!(rig.state("LAH"), "NORM");
    rig.go(1);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert!(
        rig.last().text.starts_with("found at start: level 3.5"),
        "{}",
        rig.last().text
    );
    // What comes later was not found at the start.
    rig.at(2.0, 1);
    rig.at(3.5, 11);
    assert!(rig.last().text.starts_with("level"), "{}", rig.last().text);
}

#[test]
fn cleared_meanwhile_is_told_with_an_interval() {
    let latch = "latch = true";
    for (before, more, state) in [
        (answered(""), "", "NORM"),
        (answered(latch), latch, "LATAK"),
        (active(""), "", "RTNUN"),
        (active(latch), latch, "LATUN"),
    ] {
        let rig = after(&before, more, 2.0);
        assert_eq!(rig.state("LAH"), state);
        let text = &rig.last().text;
        let interval = "it cleared between 2026-03-04T05:00:10Z and 2026-03-04T06:00:11Z";
        assert!(text.ends_with(interval), "{text}");
    }
}

#[test]
fn what_waited_for_an_answer_still_waits() {
    let mut before = active("");
    before.at(2.0, 1);
    assert_eq!(before.state("LAH"), "RTNUN");
    let mut rig = after(&before, "", 2.0);
    assert_eq!(rig.state("LAH"), "RTNUN");
    rig.acknowledge("LAH").expect("acknowledged");
    assert_eq!(rig.state("LAH"), "NORM");
}

#[test]
fn shelves_resume_to_their_deadline() {
    let mut before = active("");
    before.shelve("LAH", 2, false).expect("shelved");
    let mut rig = after(&before, "", 3.5);
    assert_eq!(rig.state("LAH"), "SHLVD");
    rig.wait(HOUR - Duration::from_secs(2));
    assert_eq!(rig.state("LAH"), "SHLVD");
    rig.wait(Duration::from_secs(2));
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn a_shelf_whose_time_went_by_meanwhile_is_over_at_the_start() {
    let mut before = active("");
    before.shelve("LAH", 2, false).expect("shelved");
    let rig = before.restart(&high(""), 3 * HOUR);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert_eq!(rig.last().text, "its time on the shelf is up; it is active");
}

#[test]
fn shelves_end_where_the_clock_stands_before_the_last_entry() {
    let mut before = active("");
    before.shelve("LAH", 2, false).expect("shelved");
    let earlier = before.now.utc - HOUR;
    let rig = before.restart_at(&high(""), earlier);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert!(
        rig.last()
            .text
            .contains("the clock stands before the last entry"),
        "{}",
        rig.last().text
    );
    assert!(rig.told(EventKind::Blind)[0].contains("shelves are over"));
}

#[test]
fn suppressed_and_out_of_service_stay_so() {
    let more = "suppress = { while = \"HS-101 on\" }";
    let mut before = Rig::new(&high(more));
    before.contacts[0] = Some(true);
    before.at(3.5, 2);
    assert_eq!(before.state("LAH"), "DSUPR");
    let mut rig = before.restart(&high(more), HOUR);
    assert_eq!(rig.state("LAH"), "DSUPR");
    rig.contacts[0] = Some(false);
    rig.at(3.5, 1);
    assert_eq!(rig.state("LAH"), "UNACK");
}

#[test]
fn an_alarm_that_is_gone_is_closed_and_shown_until_it_is_answered() {
    for before in [active(""), answered("")] {
        let mut rig = before.restart("", HOUR);
        assert_eq!(rig.state("LAH"), "RTNUN");
        assert!(rig.alarm("LAH").removed && !rig.alarm("LAH").active);
        assert_eq!(
            rig.last().text,
            "closed: the site file does not have this alarm any more"
        );
        rig.at(3.5, 5);
        // And so after another restart.
        let mut rig = rig.restart("", HOUR);
        assert_eq!(rig.state("LAH"), "RTNUN");
        rig.acknowledge("LAH").expect("acknowledged");
        assert_eq!(rig.state("LAH"), "NORM");
        assert!(rig.acknowledge("LAH").is_err());
        let rig = rig.restart("", HOUR);
        assert_eq!(rig.told(EventKind::Alarm), Vec::<&str>::new());
    }
}

#[test]
fn a_changed_limit_is_judged_anew() {
    let more = "deadband = \"1 m\"";
    let before = active(more);
    let moved =
        format!("[[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"3.6 m\"\n{more}\n");
    let mut rig = before.restart(&moved, HOUR);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert_eq!(rig.told(EventKind::SiteFile).len(), 1);
    // 3.5 m lies within the deadband of 3.6 m, but was never above that limit.
    rig.at(3.5, 1);
    assert_eq!(rig.state("LAH"), "RTNUN");
}

#[test]
fn without_anything_kept_it_starts_as_ever() {
    let mut rig = Rig::start(
        &high(""),
        Some(Memory::default()),
        crate::rig::start_of_time(),
    );
    assert_eq!(rig.events.len(), 1);
    rig.at(3.5, 1);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert!(rig.last().text.starts_with("found at start"));
}
