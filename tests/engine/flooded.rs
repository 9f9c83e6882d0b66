//! A dry leg that an overfill floods reads empty: the plant floods it, the engine must not believe it.

use crate::scene::Scene;
use crate::sites::{DRY, JUMP, METERED, closed, high, low};
use standpipe::engine::alarm::AlarmState::{Acknowledged, Normal, Unacknowledged};
use standpipe::engine::command::{Permit, TestValue, Value};
use standpipe::engine::{Command, EventKind, Quality, Reason, Refusal};
use standpipe::plant::{Fault, Setting, Side};
use standpipe::quantity::metres;
use std::path::Path;
use std::time::Duration;

fn scene(start: &str) -> Scene {
    scene_with(JUMP, start)
}

fn scene_with(streams: &str, start: &str) -> Scene {
    let site = closed(DRY, &(low("on_delay = \"3 s\"") + &high("") + streams));
    let script =
        format!("site = \"alder-rise.toml\"\nseed = 3\n[[tank]]\nname = \"day\"\n{start}\n");
    Scene::start(&site, Path::new("alder-rise.toml"), &script)
}

/// A level for a live test of an alarm, for a minute.
fn put_in(scene: &mut Scene, code: &str, level_m: f64) {
    let begun = scene.rig.command(Command::TestAlarm {
        tank: "day".into(),
        code: code.into(),
        test: TestValue {
            at: None,
            value: Value::Level(metres(level_m)),
            time: Duration::from_secs(60),
        },
        by: "Ben".into(),
    });
    assert!(begun.is_ok(), "{begun:?}");
}

fn drained() -> Command {
    Command::ConfirmLegDrained {
        tank: "day".into(),
        by: "Ada".into(),
    }
}

#[test]
fn an_overfill_past_the_upper_tap_keeps_its_high_alarm_until_the_leg_is_drained() {
    let mut scene =
        scene("level = \"3.45 m\"\ninflow = \"36 m3/h\"\ntrue = { noise = \"0.010 kPa\" }");
    scene.run_to(120);
    assert_eq!(scene.rig.state("day", "LAH"), Unacknowledged);
    assert!(!scene.rig.has("day", Reason::LowLegFlooded));
    // At 3.60 m, 150 s after the start, the leg fills, and the pressures are equal.
    scene.run_to(200);
    assert!(scene.true_level_m("day") > 3.60 && scene.plant.value(0).abs() < 1000.0);
    let reading = scene.rig.reading("day");
    assert_eq!((reading.quality, reading.level), (Quality::Bad, None));
    assert!(reading.reasons.has(Reason::LowLegFlooded));
    assert_eq!(reading.level_at_most, None, "not empty");
    assert!((reading.level_at_least.expect("a bound").value - 3.60).abs() < 1e-9);
    assert_eq!(scene.told(EventKind::Leg).len(), 1);

    // It stands, whatever comes: the level falls, the leg stays full.
    scene.plant.set(0, Setting::Inflow, 0.0);
    scene.plant.set(0, Setting::Outflow, 0.01);
    scene.run_to(1500);
    assert!(scene.true_level_m("day") < 2.5);
    assert_eq!(scene.rig.state("day", "LAH"), Unacknowledged);
    assert_eq!(
        scene.rig.state("day", "LAL"),
        Normal,
        "no low alarm of a full tank"
    );

    // Drained, and confirmed: the level is seen again, the alarm goes.
    scene.plant.mend(0, Fault::Condensate(Side::Low, 0.0));
    let done = scene.rig.command(drained());
    assert!(done.is_ok(), "{done:?}");
    scene.run_to(1510);
    let level = scene.rig.level_m("day").expect("a level again");
    assert!((level - scene.true_level_m("day")).abs() < 0.01);
    assert!(!scene.rig.state("day", "LAH").is_active());
    assert_eq!(scene.told(EventKind::Leg).len(), 2);
    let again = scene.rig.command(drained());
    assert_eq!(again, Err(Refusal::LegNotFlooded { tank: "day".into() }));
}

#[test]
fn an_answered_high_alarm_stays_answered_over_the_flood() {
    let mut scene = scene("level = \"3.52 m\"\ninflow = \"36 m3/h\"");
    scene.run_to(20);
    let answer = scene.rig.command(Command::Acknowledge {
        tank: "day".into(),
        code: "LAH".into(),
        by: "Ada".into(),
        activation: None,
    });
    assert!(answer.is_ok());
    scene.run_to(300);
    assert!(scene.rig.has("day", Reason::LowLegFlooded));
    assert_eq!(scene.rig.state("day", "LAH"), Acknowledged);
}

#[test]
fn empty_after_a_start_is_uncertain_and_low() {
    let mut scene = scene("level = \"0.10 m\"");
    scene.run_to(10);
    let reading = scene.rig.reading("day");
    assert_eq!(reading.quality, Quality::Uncertain);
    assert!(reading.reasons.has(Reason::EmptyOrLowLegFlooded));
    assert_eq!(scene.rig.state("day", "LAL"), Unacknowledged);
    // Once a level between the taps was seen, empty is empty.
    scene.plant.set_level(0, metres(1.0));
    scene.run_to(20);
    assert!(scene.rig.level_m("day").is_some());
    let confirmed = scene.rig.command(Command::ConfirmLevel {
        tank: "day".into(),
        by: "Ada".into(),
    });
    assert!(confirmed.is_ok(), "it came by a jump: {confirmed:?}");
    scene.plant.set_level(0, metres(0.10));
    scene.run_to(30);
    assert!(scene.rig.has("day", Reason::AtOrBelowTap));
    assert!(!scene.rig.has("day", Reason::EmptyOrLowLegFlooded));
}

/// Nobody has drained it: what was known before a restart is known after it, from the first reading on.
#[test]
fn a_flooded_leg_is_flooded_after_a_restart_too() {
    let mut scene =
        scene("level = \"3.45 m\"\ninflow = \"36 m3/h\"\ntrue = { noise = \"0.010 kPa\" }");
    scene.run_to(200);
    assert!(scene.rig.has("day", Reason::LowLegFlooded));
    scene.rig = scene.rig.restarted(&scene.rig.kept);
    for _ in 0..5 {
        scene.second();
        let reading = scene.rig.reading("day");
        assert!(reading.reasons.has(Reason::LowLegFlooded));
        assert_eq!(reading.level_at_most, None, "not empty");
    }
    assert_eq!(scene.rig.state("day", "LAH"), Unacknowledged);
    assert_eq!(scene.rig.state("day", "LAL"), Normal);
    assert!(scene.rig.command(drained()).is_ok());
    // And that is remembered too.
    scene.rig = scene.rig.restarted(&scene.rig.kept);
    scene.second();
    assert!(!scene.rig.has("day", Reason::LowLegFlooded));
}

/// It fills while nobody watches, within the hour since the level stood near the upper tap.
#[test]
fn a_leg_that_floods_while_nobody_watches_is_found_after_the_restart() {
    for (hours, found) in [(0.2, true), (2.0, false)] {
        let mut scene = scene("level = \"3.55 m\"");
        scene.run_to(30);
        assert!(!scene.rig.has("day", Reason::LowLegFlooded));
        scene.rig.pass(hours * 3600.0);
        scene.plant.inflict(0, Fault::Condensate(Side::Low, 3.4));
        scene.rig = scene.rig.restarted(&scene.rig.kept);
        for _ in 0..5 {
            scene.second();
        }
        assert_eq!(
            scene.rig.has("day", Reason::LowLegFlooded),
            found,
            "{hours} h"
        );
        assert_ne!(scene.rig.reading("day").quality, Quality::Good);
    }
}

/// No faster than the pump can draw: nobody can tell it from a draw, and the reading says so once it is at the tap.
#[test]
fn a_leg_that_floods_slowly_is_not_called_empty() {
    let mut scene = scene("level = \"3.55 m\"");
    scene.run_to(30);
    // A metre in twenty minutes; the pump can draw it in seventeen.
    for step in 1..=4080_u64 {
        let height_m = step as f64 / 1200.0;
        scene
            .plant
            .inflict(0, Fault::Condensate(Side::Low, height_m));
        scene.run_to(30 + step);
        if scene.rig.has("day", Reason::AtOrBelowTap) {
            break;
        }
    }
    assert!(scene.rig.has("day", Reason::AtOrBelowTap));
    assert!(!scene.rig.has("day", Reason::LowLegFlooded));
    assert!(scene.rig.has("day", Reason::EmptyOrLowLegFlooded));
}

const LARGEST: &str =
    "[tank.checks]\njump = { fill_at_most = \"36 m3/h\", draw_at_most = \"36 m3/h\" }\n";

/// Streams with meters of their own, no more than 36 m³/h each way.
fn metered() -> String {
    METERED.replacen("[[transmitter]]", &format!("{LARGEST}[[transmitter]]"), 1)
}

/// As slowly, but meters say what is drawn: nothing, or half of what the reading loses. The level is doubted, not gone.
#[test]
fn a_leg_that_floods_slowly_is_suspected_by_the_flow_that_is_known() {
    for (drawn_m3_h, flooding_m_h, found) in [
        (0.0, 2.0, true),
        (9.0, 2.0, true),
        // A draw within half as much again as the meter says.
        (20.0, 0.5, false),
        // As slow as a leak.
        (0.0, 0.1, false),
    ] {
        let start = format!("level = \"3.55 m\"\noutflow = \"{drawn_m3_h} m3/h\"");
        let mut scene = scene_with(&metered(), &start);
        scene.run_to(30);
        for step in 1..=1500_u64 {
            let height_m = flooding_m_h * step as f64 / 3600.0;
            scene
                .plant
                .inflict(0, Fault::Condensate(Side::Low, height_m));
            scene.run_to(30 + step);
        }
        let case = format!("{drawn_m3_h} m³/h, {flooding_m_h} m/h");
        assert_eq!(
            scene.rig.has("day", Reason::LowLegSuspected),
            found,
            "{case}"
        );
        assert!(scene.rig.level_m("day").is_some(), "{case}");
        if !found {
            assert_eq!(scene.rig.reading("day").quality, Quality::Good, "{case}");
        }
    }
}

#[test]
fn a_suspected_leg_tells_that_it_may_be_high_and_lets_the_low_alarm_act() {
    let mut scene = scene_with(&metered(), "level = \"3.55 m\"");
    scene.run_to(30);
    assert_eq!(scene.rig.state("day", "LAH"), Unacknowledged);
    let flood = |scene: &mut Scene, from: u64, to: u64| {
        for step in from..to {
            let height_m = step as f64 / 1500.0;
            scene
                .plant
                .inflict(0, Fault::Condensate(Side::Low, height_m));
            scene.run_to(30 + step);
        }
    };
    flood(&mut scene, 1, 1200);
    assert!(scene.rig.level_m("day").expect("a level") < 3.0);
    assert_eq!(scene.told(EventKind::Leg).len(), 1);
    let doubted = scene.told(EventKind::Jump);
    assert_eq!(doubted.len(), 1, "once: {doubted:?}");
    let text = &doubted[0].2;
    assert!(
        text.contains("can no longer be excluded: the low leg may be flooded"),
        "{text}"
    );
    // That outlives a restart.
    scene.rig = scene.rig.restarted(&scene.rig.kept);
    flood(&mut scene, 1200, 1210);
    assert!(scene.rig.has("day", Reason::LowLegSuspected));
    assert_ne!(scene.rig.reading("day").quality, Quality::Good);
    flood(&mut scene, 1210, 4650);
    assert!(scene.rig.state("day", "LAL").is_active(), "or not");
    // A person has looked: the leg is dry.
    scene.plant.mend(0, Fault::Condensate(Side::Low, 0.0));
    let done = scene.rig.command(drained());
    assert!(done.is_ok(), "{done:?}");
    scene.run_to(4700);
    assert!(!scene.rig.has("day", Reason::LowLegSuspected));
}

/// A hand value in place of a meter knows no draw.
#[test]
fn a_draw_that_is_not_known_floods_no_leg() {
    let mut scene = scene_with(&metered(), "level = \"3.55 m\"\noutflow = \"30 m3/h\"");
    scene.run_to(5);
    let worked = scene.rig.command(Command::Work {
        tag: "FT-202".into(),
        permit: Permit {
            number: "17".into(),
            time: Duration::from_secs(3600),
            hand: Some(0.0),
        },
        by: "Ben".into(),
    });
    assert!(worked.is_ok(), "{worked:?}");
    scene.run_to(600);
    assert!(!scene.rig.has("day", Reason::LowLegSuspected));
    assert!(
        scene
            .rig
            .level_m("day")
            .is_some_and(|level_m| level_m < 3.2)
    );
}

/// A low level that is put in for a test, beside a tank that is full, is no fall.
#[test]
fn a_test_of_a_low_alarm_floods_no_leg() {
    let mut scene = scene("level = \"3.499 m\"");
    scene.run_to(130);
    put_in(&mut scene, "LAL", 0.40);
    scene.run_to(160);
    assert_eq!(scene.rig.state("day", "LAL"), Unacknowledged);
    scene.run_to(260);
    assert!(!scene.rig.has("day", Reason::LowLegFlooded));
    assert_eq!(scene.told(EventKind::Leg), []);
}

/// A level near the upper tap that was put in for a test was never there.
#[test]
fn nothing_of_a_test_is_remembered() {
    let mut scene = scene("level = \"2.00 m\"");
    scene.run_to(60);
    put_in(&mut scene, "LAH", 3.55);
    scene.run_to(90);
    assert_eq!(scene.rig.state("day", "LAH"), Unacknowledged);
    scene.rig = scene.rig.restarted(&scene.rig.kept);
    for _ in 0..10 {
        scene.second();
        assert!(!scene.rig.has("day", Reason::LowLegFlooded));
    }
}
