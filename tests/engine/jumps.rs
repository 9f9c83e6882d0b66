//! While a jump is open limits are judged on the raw and on the last plausible level: the safe side wins.

use crate::rig::Rig;
use crate::sites::{DRY, JUMP, closed, high, low};
use standpipe::engine::alarm::AlarmState::{Normal, Unacknowledged};
use standpipe::engine::command::Permit;
use standpipe::engine::{Command, EventKind, Quality, Reason};
use std::time::Duration;

struct Run {
    rig: Rig,
    count: u32,
}

impl Run {
    fn start() -> Self {
        Self {
            rig: Rig::start(&closed(DRY, &(low("") + &high("") + JUMP))),
            count: 0,
        }
    }

    /// Polls at a level, with ±1 mm on it.
    fn at(&mut self, level_m: f64, times: usize) {
        for _ in 0..times {
            self.count += 1;
            let noise_m = [0.001, -0.0004, 0.0007, -0.001, 0.0002][self.count as usize % 5];
            let pressure_pa = self.rig.pressure_pa("day", level_m + noise_m);
            self.rig.poll(1, &[("LT", pressure_pa)]);
        }
    }

    fn confirm(&mut self) {
        let confirmed = self.rig.command(Command::ConfirmLevel {
            tank: "day".into(),
            by: "Ada".into(),
        });
        assert!(confirmed.is_ok(), "{confirmed:?}");
    }
}

#[test]
fn a_jump_over_both_limits_holds_both_alarms() {
    let mut run = Run::start();
    run.at(3.52, 20);
    assert_eq!(run.rig.state("day", "LAH"), Unacknowledged);
    // Falls by 3.1 m in a second, not quite to the tap: no flow can do that.
    run.at(0.40, 20);
    let reading = run.rig.reading("day");
    assert!(
        reading.reasons.has(Reason::LowLegFlooded) || reading.reasons.has(Reason::ImplausibleJump)
    );
    assert_eq!(run.rig.state("day", "LAH"), Unacknowledged);
    assert_eq!(
        run.rig.history("day", "LAH").len(),
        1,
        "it never went and came back"
    );
}

/// From the middle of the tank, so that no flooded leg explains it.
#[test]
fn the_safe_side_wins_for_low_and_for_high() {
    for (from_m, to_m, standing, coming) in [
        (3.40, 0.40, None, Some("LAL")),
        (2.0, 3.55, None, Some("LAH")),
        (0.45, 2.0, Some("LAL"), None),
    ] {
        let mut run = Run::start();
        run.at(2.0, 5);
        let mut level = 2.0_f64;
        while (level - from_m).abs() > 1e-9 {
            level += (from_m - level).clamp(-0.0009, 0.0009);
            run.at(level, 1);
        }
        run.at(from_m, 20);
        assert_eq!(run.rig.of_kind(EventKind::Jump).len(), 0);
        run.at(to_m, 1);
        assert_eq!(
            run.rig.reading("day").quality,
            Quality::Uncertain,
            "doubted at once"
        );
        run.at(to_m, 30);
        assert_eq!(run.rig.of_kind(EventKind::Jump).len(), 1);
        for code in ["LAL", "LAH"] {
            let active = Some(code) == standing || Some(code) == coming;
            assert_eq!(
                run.rig.state("day", code).is_active(),
                active,
                "{code} from {from_m} to {to_m}"
            );
            assert!(
                run.rig.history("day", code).len() <= 1,
                "{code} comes once at most"
            );
        }
        // A person looks, and it is real: now the raw level alone counts.
        run.confirm();
        run.at(to_m, 10);
        assert_eq!(run.rig.reading("day").quality, Quality::Good);
        assert!(standing.is_none_or(|code| !run.rig.state("day", code).is_active()));
    }
}

/// A fall to the tap is seen by its bound only; it is a jump all the same, and clears no high alarm.
#[test]
fn a_fall_to_the_tap_is_a_jump_too() {
    let mut run = Run::start();
    run.at(3.40, 20);
    run.rig
        .poll(20, &[("LT", run.rig.pressure_pa("day", 0.20))]);
    let reading = run.rig.reading("day");
    assert_eq!(reading.level, None);
    assert!(reading.reasons.has(Reason::AtOrBelowTap));
    assert!(reading.reasons.has(Reason::ImplausibleJump));
    assert_eq!(run.rig.of_kind(EventKind::Jump).len(), 1);
    assert_eq!(
        run.rig.state("day", "LAL"),
        Unacknowledged,
        "it may be empty"
    );
}

#[test]
fn a_jump_that_goes_back_is_over() {
    let mut run = Run::start();
    run.at(2.0, 20);
    run.at(2.6, 20);
    assert!(run.rig.tank("day").jump.is_some());
    run.at(2.0, 10);
    assert!(run.rig.tank("day").jump.is_none());
    assert_eq!(run.rig.of_kind(EventKind::Jump).len(), 2);
    assert_eq!(run.rig.reading("day").quality, Quality::Good);
    assert_eq!(run.rig.state("day", "LAH"), Normal);
}

/// A hand value, and a number that stood still, are no measure of the noise that comes after them.
#[test]
fn noise_after_a_value_that_stood_still_is_no_jump() {
    for hand in [Some(20_000.0), None] {
        let mut run = Run::start();
        run.at(2.0, 200);
        if let Some(hand) = hand {
            let begun = run.rig.command(Command::Work {
                tag: "LT".into(),
                permit: Permit {
                    number: "17".into(),
                    time: Duration::from_secs(600),
                    hand: Some(hand),
                },
                by: "Ben".into(),
            });
            assert!(begun.is_ok(), "{begun:?}");
        }
        let still_pa = run.rig.pressure_pa("day", 2.0);
        run.rig.poll(1000, &[("LT", still_pa)]);
        run.at(2.0, 600);
        assert_eq!(run.rig.of_kind(EventKind::Jump).len(), 0, "{hand:?}");
    }
}

/// An agitator starts, and a register goes in steps of a centimetre: neither is a movement of the liquid.
#[test]
fn noise_that_rises_and_coarse_steps_are_no_jumps() {
    let mut run = Run::start();
    run.at(2.0, 300);
    for poll in 0..600_u32 {
        // Two periods that have nothing in common, in place of noise.
        let sway_m =
            0.02 * (f64::from(poll) * 2.399).sin() + 0.02 * (f64::from(poll) * 1.173).cos();
        let pressure_pa = run.rig.pressure_pa("day", 2.0 + sway_m);
        run.rig.poll(1, &[("LT", pressure_pa)]);
    }
    assert_eq!(run.rig.of_kind(EventKind::Jump).len(), 0);

    let mut rig = Rig::start(&closed(DRY, JUMP));
    let mut doubted = 0;
    for poll in 0..3600_u32 {
        let level_m = 1.0 + 0.0005 * f64::from(poll);
        let coarse_m = (level_m / 0.01).round() * 0.01;
        rig.poll(1, &[("LT", rig.pressure_pa("day", coarse_m))]);
        doubted += u32::from(rig.has("day", Reason::ImplausibleJump));
    }
    assert_eq!(rig.of_kind(EventKind::Jump).len(), 0);
    // Until its step has shown three times nobody knows it.
    assert!(doubted <= 20, "{doubted} of 3600");
}
