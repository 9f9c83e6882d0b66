//! Each row of the lifecycle's table, and what delays and bad data do.

use super::*;
use crate::engine::plan::{Limit, Priority, Record, Watch};
use std::sync::Arc;

fn plan(on_s: u64, off_s: u64, on_bad: OnBad) -> AlarmPlan {
    AlarmPlan {
        code: "LAH".into(),
        watch: Watch::Level,
        limit: Limit::Above(3.0),
        deadband: 0.0,
        on_delay: Duration::from_secs(on_s),
        off_delay: Duration::from_secs(off_s),
        priority: Priority::High,
        on_bad,
        unit: None,
        record: Arc::new(Record::default()),
    }
}

fn at(seconds: u64) -> Duration {
    Duration::from_secs(seconds)
}

/// Runs a sequence of judgements, one a second; gives the states after each.
fn states(plan: &AlarmPlan, judgements: &str) -> Vec<&'static str> {
    let mut alarm = Alarm::default();
    let judged = judgements.chars().map(|c| match c {
        'T' => Some(Judgement::True),
        'F' => Some(Judgement::False),
        '?' => Some(Judgement::Undecided),
        'a' => None,
        other => panic!("no such judgement: {other}"),
    });
    judged
        .enumerate()
        .map(|(second, judgement)| {
            match judgement {
                Some(judgement) => drop(alarm.observe(plan, judgement, at(second as u64))),
                None => drop(alarm.acknowledge()),
            }
            alarm.state().code()
        })
        .collect()
}

#[test]
fn every_row_of_the_table() {
    let plan = plan(0, 0, OnBad::Hold);
    assert_eq!(states(&plan, "FTaF"), ["NORM", "UNACK", "ACKED", "NORM"]);
    assert_eq!(states(&plan, "TFa"), ["UNACK", "RTNUN", "NORM"]);
    assert_eq!(states(&plan, "TFT"), ["UNACK", "RTNUN", "UNACK"]);
}

#[test]
fn acknowledging_what_is_normal_or_acknowledged_does_nothing() {
    let mut alarm = Alarm::default();
    assert_eq!(alarm.acknowledge(), None);
    alarm.observe(&plan(0, 0, OnBad::Hold), Judgement::True, at(0));
    assert!(alarm.acknowledge().is_some());
    assert_eq!(alarm.acknowledge(), None);
    assert_eq!(alarm.state(), Process::Acknowledged);
}

#[test]
fn the_on_delay_must_be_unbroken() {
    let plan = plan(2, 0, OnBad::Hold);
    assert_eq!(
        states(&plan, "TTFTTT"),
        ["NORM", "NORM", "NORM", "NORM", "NORM", "UNACK"]
    );
}

#[test]
fn the_off_delay_must_be_unbroken() {
    let plan = plan(0, 2, OnBad::Hold);
    assert_eq!(
        states(&plan, "TFFTFFF"),
        [
            "UNACK", "UNACK", "UNACK", "UNACK", "UNACK", "UNACK", "RTNUN"
        ]
    );
}

#[test]
fn bad_data_count_towards_the_on_delay_and_restart_the_off_delay() {
    let on = plan(2, 0, OnBad::Hold);
    assert_eq!(states(&on, "T??"), ["NORM", "NORM", "UNACK"]);
    assert_eq!(states(&on, "F????"), ["NORM"; 5]);
    let off = plan(0, 2, OnBad::Hold);
    assert_eq!(
        states(&off, "TF?FFF"),
        ["UNACK", "UNACK", "UNACK", "UNACK", "UNACK", "RTNUN"]
    );
}

#[test]
fn bad_data_never_clear_an_alarm_that_holds() {
    let mut alarm = Alarm::default();
    let plan = plan(0, 0, OnBad::Hold);
    alarm.observe(&plan, Judgement::True, at(0));
    for second in 1..100 {
        assert_eq!(alarm.observe(&plan, Judgement::Undecided, at(second)), None);
        assert!(alarm.questionable());
    }
    alarm.observe(&plan, Judgement::True, at(100));
    assert!(!alarm.questionable());
}

#[test]
fn on_bad_can_annunciate_or_clear() {
    assert_eq!(
        states(&plan(0, 0, OnBad::Annunciate), "F?"),
        ["NORM", "UNACK"]
    );
    assert_eq!(states(&plan(0, 0, OnBad::Clear), "T?"), ["UNACK", "RTNUN"]);
}

#[test]
fn an_activation_keeps_its_event_number_until_it_is_over() {
    let mut alarm = Alarm::default();
    let plan = plan(0, 0, OnBad::Hold);
    let time = Timestamp::UNIX_EPOCH;
    let came = alarm
        .observe(&plan, Judgement::True, at(0))
        .expect("it comes");
    alarm.record(came, time, 7);
    let answered = alarm.acknowledge().expect("it is answered");
    alarm.record(answered, time, 8);
    assert_eq!(alarm.activation(), Some(7));
    let gone = alarm
        .observe(&plan, Judgement::False, at(1))
        .expect("it goes");
    alarm.record(gone, time, 9);
    assert_eq!(alarm.activation(), None);
}
