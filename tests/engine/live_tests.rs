//! A value put in at every kind of hookup, beside a twin of the site that nobody tests: the tested tank shows the
//! level that was asked for, every other tank what its twin shows, and afterwards so does the tested one.

use crate::scene::Scene;
use standpipe::engine::command::{TestValue, Value};
use standpipe::engine::plan::{Choose, Plan, Watch};
use standpipe::engine::tank::visible_levels;
use standpipe::engine::{Command, EventKind, Reason};
use standpipe::quantity::{Length, metres};
use std::fmt::Write;
use std::path::Path;
use std::time::Duration;

const FULL: &str = "[[tank.alarm]]\ncode = \"FULL\"\nwatch = \"mass\"\nabove = \"9000 t\"\n";

/// Half way up what can be seen.
fn middle(plan: &Plan, tank: usize) -> Length {
    let (low, high) = visible_levels(&plan.tanks[tank], &plan.tanks[tank].hookups[0].hookup);
    (low + high) * 0.5
}

/// The site at rest, each tank half full.
fn at_rest(file: &str) -> Scene {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("config")
        .join(file);
    let text = std::fs::read_to_string(&path).expect("the site file is there");
    // Each tank with one more alarm, behind what it has.
    let mut tanks = text.split("\n[[tank]]\n");
    let head = tanks.next().expect("what comes before the tanks");
    let text = tanks.fold(head.to_owned(), |text, tank| {
        format!("{text}\n[[tank]]\n{tank}\n{FULL}")
    });
    let site = standpipe::site::parse(&text, &path).unwrap_or_else(|it| panic!("{it}"));
    let mut script = format!("site = \"{file}\"\nseed = 7\n");
    for (index, tank) in site.plan.tanks.iter().enumerate() {
        let level_m = middle(&site.plan, index).value;
        writeln!(
            script,
            "[[tank]]\nname = \"{}\"\nlevel = \"{level_m:.3} m\"",
            tank.name
        )
        .expect("a text grows");
    }
    Scene::start(&text, &path, &script)
}

fn levels(scene: &Scene) -> Vec<Option<f64>> {
    let tanks = scene.rig.engine.snapshot().tanks;
    tanks
        .iter()
        .map(|tank| tank.reading.level.map(|level| level.value))
        .collect()
}

/// Tries an alarm of each tank; the kinds of hookup that were tried.
fn try_each(file: &str) -> Vec<&'static str> {
    let (mut tested, mut twin) = (at_rest(file), at_rest(file));
    let run = |tested: &mut Scene, twin: &mut Scene, seconds: u64| {
        for _ in 0..seconds {
            tested.second();
            twin.second();
        }
    };
    run(&mut tested, &mut twin, 90);
    let plan = std::sync::Arc::clone(&tested.rig.plan);
    let mut kinds = Vec::new();
    for (index, tank) in plan.tanks.iter().enumerate() {
        let watches = tank.alarms.iter().find(|alarm| alarm.watch == Watch::Mass);
        let (Some(alarm), true) = (watches, matches!(tank.choice.level, Choose::One(_))) else {
            continue;
        };
        let put = middle(&plan, index) + metres(0.10);
        let time = alarm.on_delay + Duration::from_secs(10);
        let begun = tested.rig.command(Command::TestAlarm {
            tank: tank.name.to_string(),
            code: alarm.code.to_string(),
            test: TestValue {
                at: None,
                value: Value::Level(put),
                time,
            },
            by: "Ben".into(),
        });
        if let Err(refusal) = begun {
            panic!("{file} {}: {refusal}", tank.name);
        }
        let leading = tested.rig.tank(&tank.name).hookups;
        let leading = leading.iter().find(|hookup| hookup.chosen);
        kinds.push(leading.expect("one is chosen").kind);
        for _ in 0..5 {
            run(&mut tested, &mut twin, 1);
            let shown = tested.rig.level_m(&tank.name).expect("a level");
            assert!(
                (shown - put.value).abs() < 1e-4,
                "{file} {}: {shown} m, not {:.3} m",
                tank.name,
                put.value
            );
            assert!(tested.rig.has(&tank.name, Reason::TestValue));
            let (mut ours, mut theirs) = (levels(&tested), levels(&twin));
            (ours[index], theirs[index]) = (None, None);
            assert_eq!(ours, theirs, "{file} while {} is tested", tank.name);
        }
        run(&mut tested, &mut twin, time.as_secs() + 35);
        assert_eq!(levels(&tested), levels(&twin), "{file} after {}", tank.name);
    }
    let told = tested.rig.events.iter().filter(|event| !event.is_test());
    let told: Vec<&str> = told.map(|event| event.text.as_str()).collect();
    let twins: Vec<&str> = twin.rig.events.iter().map(|it| it.text.as_str()).collect();
    assert_eq!(
        told, twins,
        "{file}: what is not marked is what the twin tells"
    );
    let over = tested.rig.of_kind(EventKind::Test);
    assert_eq!(
        over.len(),
        2 * kinds.len(),
        "each begun and ended by itself"
    );
    kinds
}

#[test]
fn every_hookup_is_turned_round_and_no_other_tank_notices() {
    let mut kinds = try_each("alder-rise.toml");
    kinds.extend(try_each("alder-rise-hookups.toml"));
    for kind in [
        "vented",
        "differential",
        "two-transmitter",
        "three-transmitter",
        "dip-tube",
        "barometer",
    ] {
        assert!(kinds.contains(&kind), "{kind} is not among {kinds:?}");
    }
}
