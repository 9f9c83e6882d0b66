//! The demo's script through the whole chain in virtual time: plant, words, engine.

use crate::scene::Scene;
use standpipe::engine::EventKind;
use standpipe::engine::plan::Correction;
use std::path::{Path, PathBuf};

fn site_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("config/alder-rise.toml")
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).expect("the demo's files are there")
}

fn demo(change: impl Fn(String) -> String) -> Scene {
    let path = site_path();
    let script = text(&path.with_file_name("demo.toml"));
    Scene::start(&change(text(&path)), &path, &script)
}

/// The seconds, since the start, at which an alarm changed, with the state that it went to.
fn history(scene: &Scene, tank: &str, code: &str) -> Vec<(i64, &'static str)> {
    let start = scene.rig.events[0].time;
    let history = scene.rig.history(tank, code).into_iter();
    history
        .map(|(time, state)| ((time - start).as_secs(), state.code()))
        .collect()
}

#[test]
fn the_clearwells_high_alarm_comes_and_goes() {
    let mut scene = demo(|site| site);
    scene.run_to(600);
    let [(came, "UNACK"), (went, "RTNUN")] = history(&scene, "clearwell", "LAH")[..] else {
        panic!("{:?}", history(&scene, "clearwell", "LAH"));
    };
    assert!((20..=30).contains(&came), "{came}");
    assert!((70..=90).contains(&went), "{went}");
}

/// What the jump events say, and when, up to ten minutes; all of them the degasser's.
fn jumps(mut scene: Scene) -> Vec<(u64, String)> {
    scene.run_to(600);
    let told = scene.told(EventKind::Jump);
    assert!(
        told.iter().all(|(_, tank, _)| tank == "degasser"),
        "{told:?}"
    );
    told.into_iter()
        .map(|(second, _, text)| (second, text))
        .collect()
}

#[test]
fn the_degassers_jump_is_a_pressure_artefact_and_goes_with_it() {
    let told = jumps(demo(|site| site));
    let [(opened, what), (over, gone)] = &told[..] else {
        panic!("one jump that comes and goes, not {told:?}");
    };
    assert!((45..=50).contains(opened), "within five polls: {opened}");
    assert!(what.contains("pressure artefact"), "{what}");
    assert!((66..=75).contains(over), "{over}");
    assert!(gone.contains("went back"), "{gone}");
}

#[test]
fn without_the_headspace_the_same_jump_is_unexplained() {
    let mut silent = demo(|site| site);
    silent.silent = Some("PT-201");
    let line = "\npressure = \"PT-201\"\n";
    let unnamed = demo(|site| {
        assert_eq!(site.matches(line).count(), 1);
        site.replace(line, "\n")
    });
    for scene in [silent, unnamed] {
        let told = jumps(scene);
        let [(opened, what), (over, _)] = &told[..] else {
            panic!("one jump that comes and goes, not {told:?}");
        };
        assert!((45..=50).contains(opened), "{opened}");
        assert!(
            what.contains("unexplained") && !what.contains("artefact"),
            "{what}"
        );
        assert!((66..=75).contains(over), "{over}");
    }
}

/// Bound: five standard deviations of the transmitters' noise as a level, and 6 mm for what the site file
/// does not know of the plant (temperatures, the damping of a moving level, the registers' steps).
#[test]
fn every_level_is_near_the_truth_while_all_is_well() {
    let mut scene = demo(|site| site);
    let plan = scene.rig.plan.clone();
    for second in 5..=120 {
        scene.run_to(second);
        for tank in &plan.tanks {
            let plugged = *tank.name == *"degasser" && (35..=70).contains(&second);
            if plugged {
                continue;
            }
            let reading = scene.rig.reading(&tank.name);
            let shown_m = reading.level.map(|level| level.value);
            let shown_m = shown_m.unwrap_or_else(|| panic!("{} has no level", tank.name));
            // The correction is the site's own.
            let Correction { gain, offset, .. } = tank.hookups[0].correction;
            let level_m = (shown_m - offset.value) / gain;
            let noise = tank.transmitters().map(|id| scene.noise_pa[id.index()]);
            let noise_pa = noise.fold(0.0, f64::hypot);
            let density = reading.density.expect("a density").value;
            let within_m = 0.006 + 5.0 * noise_pa / (density * plan.gravity.value);
            let off_m = level_m - scene.true_level_m(&tank.name);
            assert!(
                off_m.abs() < within_m,
                "{} is {off_m:+.4} m off at {second} s, more than {within_m:.4} m",
                tank.name
            );
        }
    }
}
