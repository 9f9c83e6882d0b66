//! Rounds over restarts, work and live tests.

use crate::rig::Rig;
use standpipe::engine::command::{Looked, NewEntry, Permit, SeenAt};
use standpipe::engine::{Command, EventKind};
use standpipe::quantity::metres;
use std::time::Duration;

const EVERY: &str = "[tank.checks]\nsight_glass = { every = \"8 h\" }\n";
const HOURS_8: Duration = Duration::from_secs(8 * 3600);

fn enter(rig: &mut Rig, level_m: f64) -> Result<String, String> {
    rig.ask(Command::Enter {
        tank: "clearwell".into(),
        entry: NewEntry {
            looked: Looked::Sight {
                level: metres(level_m),
                blown_down: false,
            },
            seen: SeenAt::Now,
            uncertainty: None,
        },
        reader: None,
        by: "Ada".into(),
    })
}

#[test]
fn entries_and_chart_outlive_a_restart() {
    let mut rig = Rig::new(EVERY);
    for step in 0..80 {
        rig.at(2.0, 2);
        enter(&mut rig, 2.0 + 0.001 * f64::from(step % 3)).expect("taken");
    }
    let before = rig.tank().rounds;
    assert_eq!(before.rows.len(), 64, "the newest are kept one by one");
    assert_eq!(before.chart.entries, 80, "all of them are in the chart");
    let again = rig.restart(EVERY, Duration::from_secs(60));
    assert_eq!(again.tank().rounds, before);
}

#[test]
fn an_overdue_round_is_told_once_whatever_is_started_again() {
    let mut rig = Rig::new(EVERY);
    rig.at(2.0, 5);
    // Half of the time before a restart, the rest after it.
    rig.wait(HOURS_8 / 2);
    let mut again = rig.restart(EVERY, Duration::from_secs(60));
    again.wait(HOURS_8 / 2);
    again.at(2.0, 5);
    assert_eq!(again.told(EventKind::Rounds).len(), 1);
    assert!(again.tank().rounds.overdue);
    let mut third = again.restart(EVERY, Duration::from_secs(60));
    third.at(2.0, 60);
    assert_eq!(third.told(EventKind::Rounds).len(), 0);
    enter(&mut third, 2.0).expect("taken");
    assert!(!third.tank().rounds.overdue);
}

#[test]
fn work_that_is_ended_begins_a_series() {
    let mut rig = Rig::new(EVERY);
    rig.at(2.0, 5);
    for _ in 0..4 {
        enter(&mut rig, 2.0).expect("taken");
        rig.at(2.0, 5);
    }
    assert_eq!(rig.tank().rounds.chart.entries, 4);
    let permit = Permit {
        number: "17".into(),
        time: Duration::from_secs(600),
        hand: Some(20_000.0),
    };
    rig.ask(Command::Work {
        tag: "LT-101".into(),
        permit,
        by: "Ben".into(),
    })
    .expect("begun");
    rig.at(2.0, 5);
    let said = enter(&mut rig, 2.0).expect("taken");
    assert!(
        said.contains("there is no reading of that moment"),
        "a hand value is none: {said}"
    );
    rig.ask(Command::EndWork {
        tag: "LT-101".into(),
        anyway: false,
        by: "Ben".into(),
    })
    .expect("ended");
    assert_eq!(rig.tank().rounds.chart.entries, 0);
    rig.at(2.0, 5);
    enter(&mut rig, 2.0).expect("taken");
    let rounds = rig.tank().rounds;
    assert_eq!(rounds.chart.entries, 1);
    assert!(rounds.rows.last().is_some_and(|row| row.entry.begins));
    assert_eq!(rounds.rows.len(), 6, "what was entered before stays");
}
