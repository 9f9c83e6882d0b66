//! Work on a transmitter, and the horn.

use crate::rig::{Rig, high};
use standpipe::engine::command::Permit;
use standpipe::engine::{Command, EventKind, Reason};
use std::time::Duration;

fn begin(rig: &mut Rig, hand: Option<f64>) -> Result<String, String> {
    rig.ask(Command::Work {
        tag: "LT-101".into(),
        permit: Permit {
            number: "17".into(),
            time: Duration::from_secs(600),
            hand,
        },
        by: "Ben".into(),
    })
}

fn end(rig: &mut Rig, anyway: bool) -> Result<String, String> {
    rig.ask(Command::EndWork {
        tag: "LT-101".into(),
        anyway,
        by: "Ben".into(),
    })
}

#[test]
fn without_a_hand_value_the_level_is_unknown_and_nothing_is_annunciated() {
    let mut rig = Rig::new(&high("on_bad = \"annunciate\""));
    rig.at(2.0, 30);
    let said = begin(&mut rig, None).expect("begun");
    assert!(
        said.contains("permit 17, for 10 min; nothing in its place"),
        "{said}"
    );
    assert!(said.contains("clearwell LAH, MEASUREMENT"), "{said}");
    // Whatever is done at the manifold reaches no reading.
    rig.at(5.9, 60);
    assert!(rig.tank().reading.reasons.has(Reason::FunctionCheck));
    assert_eq!(rig.tank().reading.level, None);
    assert_eq!(rig.annunciated(), 0);
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("DSUPR", "DSUPR")
    );
    let cause = rig
        .alarm("MEASUREMENT")
        .suppressed
        .expect("suppressed")
        .cause;
    assert_eq!(&*cause, "work on LT-101, permit 17");
    rig.at(2.0, 5);
    let said = end(&mut rig, false).expect("ended");
    assert!(
        said.contains("returned to service after 65 s: it reads"),
        "{said}"
    );
    rig.at(2.0, 5);
    assert_eq!(
        (rig.state("LAH"), rig.state("MEASUREMENT")),
        ("NORM", "NORM")
    );
    assert_eq!(rig.annunciated(), 0);
    assert!(rig.remembered.is_empty());
}

#[test]
fn a_hand_value_stands_in_and_alarms_are_judged_on_it() {
    let mut rig = Rig::new(&high(""));
    rig.at(2.0, 30);
    begin(&mut rig, Some(3.5 * 9806.65)).expect("begun");
    rig.at(0.1, 5);
    let reading = rig.tank().reading;
    assert!(reading.reasons.has(Reason::HandValue));
    assert!((reading.level.expect("a level").value - 3.5).abs() < 0.01);
    assert_eq!(rig.state("LAH"), "UNACK");
    let said = end(&mut rig, false).expect("ended");
    assert!(said.contains("WHICH IS NOT the hand value"), "{said}");
}

#[test]
fn past_its_time_the_signal_counts_again_and_that_is_told() {
    let mut rig = Rig::new(&high(""));
    rig.at(2.0, 30);
    begin(&mut rig, None).expect("begun");
    rig.at(3.4, 599);
    assert_eq!(rig.state("LAH"), "NORM");
    rig.at(3.4, 5);
    assert_eq!(rig.state("LAH"), "UNACK");
    let told = rig.told(EventKind::Work);
    assert!(
        told[1].starts_with("overdue: permit 17 of Ben is over"),
        "{told:?}"
    );
    assert_eq!(told.len(), 2);
}

#[test]
fn work_goes_on_over_a_restart() {
    let mut rig = Rig::new(&high(""));
    rig.at(2.0, 30);
    begin(&mut rig, None).expect("begun");
    let mut again = rig.restart(&high(""), Duration::from_secs(60));
    again.at(3.5, 30);
    assert!(again.tank().reading.reasons.has(Reason::FunctionCheck));
    assert_eq!(again.state("LAH"), "NORM");
}

#[test]
fn a_signal_that_is_not_sound_is_not_returned_unasked() {
    let mut rig = Rig::new(&high(""));
    rig.at(2.0, 30);
    begin(&mut rig, None).expect("begun");
    assert!(
        begin(&mut rig, None)
            .expect_err("twice")
            .contains("already")
    );
    rig.level = None;
    rig.go(30);
    assert!(
        end(&mut rig, false)
            .expect_err("not sound")
            .contains("not sound yet (no answer)")
    );
    end(&mut rig, true).expect("anyway");
    assert!(end(&mut rig, true).expect_err("over").contains("no work"));
}

#[test]
fn silencing_answers_nothing_and_the_next_annunciation_sounds_again() {
    let alarms = high("") + &high("").replace("LAH", "LAHH").replace("3 m", "4 m");
    let mut rig = Rig::new(&alarms);
    rig.at(2.0, 10);
    let silence = |rig: &mut Rig, place: &str| {
        rig.ask(Command::Silence {
            place: Some(place.into()),
            by: "Ada".into(),
        })
    };
    assert_eq!(
        silence(&mut rig, "control room"),
        Err("no horn sounds".into())
    );
    rig.at(3.5, 5);
    silence(&mut rig, "control room").expect("silenced");
    let horn = rig.horn();
    assert!(!horn.sounds_at("control room") && horn.sounds_at("pump house"));
    assert_eq!(rig.state("LAH"), "UNACK");
    rig.at(4.5, 5);
    assert!(rig.horn().sounds_at("control room"));
    rig.acknowledge("LAH").expect("answered");
    assert!(rig.horn().since.is_some());
    rig.acknowledge("LAHH").expect("answered");
    assert_eq!(rig.horn().since, None);
}
