//! Bad data, and a level that nobody believes.

use crate::rig::{Rig, high};
use standpipe::engine::{Command, EventKind};

#[test]
fn measurement_failed_and_annunciate_are_one_annunciation() {
    let mut rig = Rig::new(&high("on_bad = \"annunciate\""));
    rig.go(2);
    rig.level = None;
    rig.go(20);
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("UNACK", "DSUPR")
    );
    let cause = rig
        .alarm("MEASUREMENT")
        .suppressed
        .expect("suppressed")
        .cause;
    assert_eq!(&*cause, "LAH tells it");
    assert_eq!(rig.annunciated(), 1);
    rig.at(2.0, 1);
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("RTNUN", "NORM")
    );
    assert_eq!(rig.annunciated(), 1);
}

#[test]
fn an_alarm_that_is_active_already_does_not_tell_that_the_measurement_failed() {
    let mut rig = Rig::new(&high("on_bad = \"annunciate\""));
    rig.at(3.5, 2);
    rig.acknowledge("LAH").expect("acknowledged");
    rig.level = None;
    rig.go(20);
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("ACKED", "UNACK")
    );
}

#[test]
fn who_hides_the_one_gets_the_other() {
    let mut rig = Rig::new(&high("on_bad = \"annunciate\""));
    rig.go(2);
    rig.level = None;
    rig.go(20);
    rig.shelve("LAH", 1, false).expect("shelved");
    rig.go(1);
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("SHLVD", "UNACK")
    );
}

/// 36 m3/h on 10 m2 is 1 mm/s.
const JUMP: &str =
    "[tank.checks]\njump = { fill_at_most = \"36 m3/h\", draw_at_most = \"36 m3/h\" }\n";

/// Half a metre down at once, from 2.5 m; σ about 1 mm.
fn jumped(alarms: &str) -> Rig {
    let mut rig = Rig::new(&format!("{alarms}\n{JUMP}"));
    let noise = |second: u32| 0.0007 * f64::from(second * 5 % 7) - 0.0021;
    (0..60).for_each(|second| rig.at(2.5 + noise(second), 1));
    (0..10).for_each(|second| rig.at(2.0 + noise(second), 1));
    assert_eq!(
        rig.told(EventKind::Jump).len(),
        1,
        "{:?}",
        rig.told(EventKind::Jump)
    );
    rig
}

#[test]
fn after_a_jump_the_operator_is_told_when_a_limit_can_no_longer_be_excluded() {
    let mut rig = jumped(&high(""));
    // The last plausible level of 2.5 m rises by at most 1 mm/s: 500 s to the limit of 3 m.
    rig.at(2.0, 480);
    assert_eq!(rig.told(EventKind::Jump).len(), 1);
    assert!(!rig.alarm("LAH").questionable);
    rig.go(40);
    let told = rig.told(EventKind::Jump);
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(
        told[1].starts_with("high limit 3.000 m can no longer be excluded"),
        "{told:?}"
    );
    assert!(rig.alarm("LAH").questionable);
    assert_eq!(rig.state("LAH"), "NORM");
    rig.go(500);
    assert_eq!(rig.told(EventKind::Jump).len(), 2, "told once");
    rig.ask(Command::ConfirmLevel {
        tank: "clearwell".into(),
        by: "Ada".into(),
    })
    .expect("confirmed");
    rig.go(1);
    assert!(!rig.alarm("LAH").questionable);
}

#[test]
fn while_a_jump_is_open_the_safe_side_wins() {
    // Active at 2.5 m; the reading falls below, but the level may still be there.
    let low = "[[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"2.4 m\"\n";
    let mut rig = jumped(low);
    assert_eq!(rig.state("LAH"), "UNACK");
    rig.at(2.0, 1000);
    assert_eq!(rig.state("LAH"), "UNACK");
}
