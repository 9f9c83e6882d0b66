//! Commands: carried out and recorded, or refused with a reason and nothing changed.

use crate::rig::Rig;
use crate::sites::{JUMP, high, low, vented};
use standpipe::engine::alarm::AlarmState::{
    Acknowledged, Normal, ReturnedUnacknowledged, Unacknowledged,
};
use standpipe::engine::{Command, EventKind, Refusal};

fn ack(tank: &str, code: &str, activation: Option<u64>) -> Command {
    Command::Acknowledge {
        tank: tank.into(),
        code: code.into(),
        by: "Ada".into(),
        activation,
    }
}

fn rig() -> Rig {
    Rig::start(&vented(&(low("") + &high("") + JUMP)))
}

fn refused(rig: &mut Rig, command: Command) -> Refusal {
    let seen = |rig: &Rig| format!("{:?}", rig.engine.snapshot());
    let (events, before) = (rig.events.len(), seen(rig));
    let refusal = rig.command(command).expect_err("it must be refused");
    assert_eq!(rig.events.len(), events, "no event of a refused command");
    assert_eq!(seen(rig), before, "nothing has changed");
    assert!(refusal.to_string().len() > 10);
    refusal
}

#[test]
fn an_acknowledgement_answers_the_activation_that_it_names() {
    let mut rig = rig();
    rig.poll(1, &[("LT", rig.pressure_pa("day", 3.6))]);
    let first = rig.alarm("day", "LAH").activation.expect("it is active");
    rig.poll(1, &[("LT", rig.pressure_pa("day", 3.0))]);
    assert_eq!(rig.state("day", "LAH"), ReturnedUnacknowledged);
    rig.poll(1, &[("LT", rig.pressure_pa("day", 3.6))]);
    let present = rig.alarm("day", "LAH").activation.expect("it is active");
    assert!(present > first);

    let refusal = refused(&mut rig, ack("day", "LAH", Some(first)));
    let due = Refusal::OlderActivation {
        named: first,
        present,
    };
    assert_eq!(refusal, due);
    assert!(rig.command(ack("day", "LAH", Some(present))).is_ok());
    assert_eq!(rig.state("day", "LAH"), Acknowledged);
    let last = rig.events.last().expect("an event of it");
    assert_eq!(
        (last.kind, last.person.as_deref()),
        (EventKind::Alarm, Some("Ada"))
    );
    assert_eq!(rig.alarm("day", "LAH").activation, Some(present));
}

#[test]
fn what_is_not_there_or_not_due_is_refused() {
    let mut rig = rig();
    rig.poll(1, &[("LT", rig.pressure_pa("day", 2.0))]);
    let day = || "day".to_owned();
    assert_eq!(
        refused(&mut rig, ack("night", "LAH", None)),
        Refusal::UnknownTank {
            tank: "night".into()
        }
    );
    assert_eq!(
        refused(&mut rig, ack("day", "LAHH", None)),
        Refusal::UnknownAlarm {
            tank: day(),
            code: "LAHH".into()
        }
    );
    assert_eq!(
        refused(&mut rig, ack("day", "LAH", None)),
        Refusal::NothingToAcknowledge {
            tank: day(),
            code: "LAH".into(),
            state: Normal.words()
        }
    );
    let by = || "Ada".into();
    let confirm = Command::ConfirmLevel {
        tank: day(),
        by: by(),
    };
    assert_eq!(refused(&mut rig, confirm), Refusal::NoJump { tank: day() });
    let drained = Command::ConfirmLegDrained {
        tank: day(),
        by: by(),
    };
    assert_eq!(
        refused(&mut rig, drained),
        Refusal::LegNotFlooded { tank: day() }
    );
    for command in [
        Command::ConfirmLevel {
            tank: "night".into(),
            by: by(),
        },
        Command::ConfirmLegDrained {
            tank: "night".into(),
            by: by(),
        },
    ] {
        assert_eq!(
            refused(&mut rig, command),
            Refusal::UnknownTank {
                tank: "night".into()
            }
        );
    }
}

#[test]
fn a_refused_confirmation_forgets_nothing() {
    let mut rig = rig();
    for second in 0..60 {
        let level_m = 2.0 + 0.0005 * f64::from(second);
        rig.poll(1, &[("LT", rig.pressure_pa("day", level_m))]);
    }
    assert!(rig.reading("day").rate.is_some());
    let confirm = Command::ConfirmLevel {
        tank: "day".into(),
        by: "Ada".into(),
    };
    refused(&mut rig, confirm);
    rig.poll(1, &[("LT", rig.pressure_pa("day", 2.03))]);
    assert!(rig.reading("day").rate.is_some());
}

#[test]
fn an_acknowledged_alarm_cannot_be_acknowledged_twice() {
    let mut rig = rig();
    rig.poll(1, &[("LT", rig.pressure_pa("day", 0.3))]);
    assert_eq!(rig.state("day", "LAL"), Unacknowledged);
    assert!(rig.command(ack("day", "LAL", None)).is_ok());
    let refusal = refused(&mut rig, ack("day", "LAL", None));
    assert!(matches!(refusal, Refusal::NothingToAcknowledge { .. }));
    rig.poll(1, &[("LT", rig.pressure_pa("day", 1.0))]);
    assert_eq!(rig.state("day", "LAL"), Normal);
}
