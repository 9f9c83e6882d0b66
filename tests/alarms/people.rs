//! What people ask, and what they are told where it cannot be done.

use crate::rig::{Rig, high};
use standpipe::engine::{Command, EventKind};
use std::time::Duration;

fn names() -> (String, String, std::sync::Arc<str>) {
    ("clearwell".into(), "LAH".into(), "Ada".into())
}

fn reset() -> Command {
    let (tank, code, by) = names();
    Command::Reset { tank, code, by }
}

fn unshelve() -> Command {
    let (tank, code, by) = names();
    Command::Unshelve { tank, code, by }
}

fn out_of_service() -> Command {
    let (tank, code, by) = names();
    Command::OutOfService {
        tank,
        code,
        by,
        reason: Some("transmitter exchange".into()),
    }
}

fn back() -> Command {
    let (tank, code, by) = names();
    Command::Return { tank, code, by }
}

fn shelve(hours: u64, reason: &str) -> Command {
    let (tank, code, by) = names();
    Command::Shelve {
        tank,
        code,
        by,
        time: Duration::from_secs(3600 * hours),
        reason: reason.into(),
        once: false,
    }
}

#[test]
fn an_acknowledgement_names_the_activation_that_it_answers() {
    let mut rig = Rig::new(&high(""));
    rig.at(3.5, 1);
    let older = rig.alarm("LAH").activation.expect("active");
    rig.at(2.0, 1);
    rig.at(3.5, 1);
    let (tank, code, by) = names();
    let answer = |activation| Command::Acknowledge {
        tank: tank.clone(),
        code: code.clone(),
        by: by.clone(),
        activation: Some(activation),
    };
    let refused = rig.ask(answer(older)).expect_err("an older activation");
    assert!(
        refused.contains(&format!("activation {older} is over")),
        "{refused}"
    );
    assert_eq!(rig.state("LAH"), "UNACK");
    let present = rig.alarm("LAH").activation.expect("active");
    rig.ask(answer(present)).expect("the present one");
    assert_eq!(rig.state("LAH"), "ACKED");
    assert_eq!(rig.last().person.as_deref(), Some("Ada"));
}

#[test]
fn the_re_alarm_asks_for_an_answer_again() {
    let mut rig = Rig::new(&high("re_alarm = \"30 min\""));
    rig.at(3.5, 1);
    rig.acknowledge("LAH").expect("acknowledged");
    rig.go(1799);
    assert_eq!(rig.state("LAH"), "ACKED");
    rig.go(1);
    assert_eq!(rig.state("LAH"), "UNACK");
    assert!(
        rig.last().text.starts_with("still active: level"),
        "{}",
        rig.last().text
    );
}

#[test]
fn shelving_needs_a_reason_and_a_time_within_the_sites_limit() {
    let mut rig = Rig::new(&high("priority = \"high\""));
    rig.go(1);
    let refused = rig.ask(shelve(13, "float sticks")).expect_err("too long");
    assert_eq!(refused, "13 h on the shelf is too long: 12 h at most");
    let refused = rig.ask(shelve(0, "float sticks")).expect_err("no time");
    assert!(refused.contains("more than 0"), "{refused}");
    let refused = rig.ask(shelve(1, " ")).expect_err("no reason");
    assert!(refused.contains("needs a reason"), "{refused}");
    assert_eq!(rig.state("LAH"), "NORM");
    rig.ask(shelve(12, "float sticks")).expect("shelved");
    let refused = rig.ask(shelve(1, "float sticks")).expect_err("already");
    assert!(
        refused.contains("shelved already, until 2026-03-04T17:00:01Z"),
        "{refused}"
    );
    let refused = rig.acknowledge("LAH").expect_err("hidden");
    assert_eq!(refused, "clearwell LAH is shelved: nothing to acknowledge");
    let done = rig.ask(unshelve()).expect("unshelved");
    assert_eq!(done, "clearwell LAH unshelved by Ada: now normal");
    assert!(
        rig.ask(unshelve())
            .expect_err("not shelved")
            .contains("is not shelved")
    );
}

#[test]
fn the_highest_priority_is_shelved_only_where_the_site_file_says_so() {
    let mut rig = Rig::new(&high("priority = \"highest\""));
    rig.go(1);
    let refused = rig.ask(shelve(1, "float sticks")).expect_err("never");
    assert!(
        refused.contains("highest priority and cannot be shelved"),
        "{refused}"
    );
    let mut rig = Rig::new(&high(
        "priority = \"highest\"\nshelve = { at_most = \"8 h\" }",
    ));
    rig.go(1);
    let refused = rig.ask(shelve(9, "float sticks")).expect_err("too long");
    assert!(refused.contains("8 h at most"), "{refused}");
    rig.ask(shelve(8, "float sticks")).expect("shelved");
}

#[test]
fn out_of_service_and_back() {
    let mut rig = Rig::new(&high(""));
    rig.at(3.5, 1);
    rig.acknowledge("LAH").expect("acknowledged");
    let done = rig.ask(out_of_service()).expect("taken out");
    assert_eq!(
        done,
        "clearwell LAH taken out of service by Ada: now out of service"
    );
    assert_eq!(
        rig.last().text,
        "taken out of service: transmitter exchange"
    );
    assert!(rig.ask(out_of_service()).is_err());
    assert!(
        rig.ask(reset())
            .expect_err("hidden")
            .contains("is out of service: nothing to reset")
    );
    let done = rig.ask(back()).expect("returned");
    assert_eq!(
        done,
        "clearwell LAH returned to service by Ada: now active, unacknowledged"
    );
    assert!(
        rig.ask(back())
            .expect_err("not out")
            .contains("is not out of service")
    );
}

#[test]
fn what_is_refused_changes_nothing_and_is_no_event() {
    let mut rig = Rig::new(&high(""));
    rig.go(1);
    let events = rig.events.len();
    for command in [reset(), unshelve(), back(), shelve(99, "long")] {
        assert!(rig.ask(command).is_err());
    }
    let (_, code, by) = names();
    let elsewhere = Command::Return {
        tank: "reservoir".into(),
        code,
        by,
    };
    assert_eq!(
        rig.ask(elsewhere).expect_err("unknown"),
        "there is no tank \"reservoir\""
    );
    assert_eq!(rig.events.len(), events);
    assert_eq!(rig.told(EventKind::Alarm), Vec::<&str>::new());
}
