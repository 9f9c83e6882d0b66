//! Scripts on the site of Alder Rise.

use super::*;
use crate::plant::Plant;
use std::path::Path;
use std::time::Duration;

fn site() -> Site {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/alder-rise.toml");
    crate::site::read(&path).unwrap_or_else(|problems| panic!("{problems}"))
}

fn scenario(lines: &str) -> Result<Scenario, String> {
    let text = format!("site = \"alder-rise.toml\"\n{lines}");
    let script = Script::parse(&text, Path::new("script.toml"))
        .unwrap_or_else(|problems| panic!("{problems}"));
    plant(&site(), &script).map_err(|problems| problems.to_string())
}

fn sound(lines: &str) -> Scenario {
    scenario(lines).unwrap_or_else(|problems| panic!("{problems}"))
}

fn transmitter(scenario: &Scenario, tag: &str) -> usize {
    scenario
        .plant
        .transmitters
        .iter()
        .position(|one| one.tag == tag)
        .expect(tag)
}

/// What a transmitter tells after a time.
fn value_after(lines: &str, tag: &str, seconds: u64) -> f64 {
    let Scenario {
        plant,
        mut timeline,
        ..
    } = sound(lines);
    let place = plant
        .transmitters
        .iter()
        .position(|one| one.tag == tag)
        .expect(tag);
    let mut plant = Plant::new(plant, 1);
    plant.advance_under(Duration::from_secs(seconds), |plant| {
        timeline.apply(plant);
    });
    plant.value(place)
}

#[test]
fn every_transmitter_of_the_site_is_connected() {
    let scenario = sound("");
    assert_eq!(scenario.notes, Vec::<String>::new());
    assert_eq!(
        scenario.plant.transmitters.len(),
        site().plan.transmitters.len()
    );
    let reads = |tag| &scenario.plant.transmitters[transmitter(&scenario, tag)].senses;
    use crate::plant::Senses;
    assert!(matches!(reads("LT-101"), Senses::Gauge { tank: 0, .. }));
    assert!(matches!(reads("PDT-201"), Senses::Differential { .. }));
    assert!(matches!(reads("PT-201"), Senses::Gauge { .. }));
    assert!(matches!(
        reads("TT-101"),
        Senses::LiquidTemperature { tank: 0 }
    ));
    assert_eq!(
        (reads("TT-001"), reads("PT-001")),
        (&Senses::AirTemperature, &Senses::AirPressure)
    );
}

#[test]
fn names_that_the_site_does_not_have_are_refused_at_their_place() {
    let problems = scenario(
        r#"
        [[tank]]
        name = "clearwel"
        [[at]]
        time = "00:00:01"
        link = "skid-z"
        fault = { silent = "1 s" }
        [[at]]
        time = "00:00:01"
        transmitter = "PT-999"
        fault = { nan = true }
        [[at]]
        time = "00:00:01"
        command = { ack = "clearwell LAHH", by = "Ada" }
        "#,
    )
    .expect_err("nothing of it is there");
    for said in [
        "no tank \"clearwel\"",
        "did you mean \"clearwell\"?",
        "no link \"skid-z\"",
        "no transmitter \"PT-999\"",
        "tank \"clearwell\" has no alarm \"LAHH\"",
        "it has: LAH, LAL, LALL",
        "script.toml:",
        "4 problems in",
    ] {
        assert!(problems.contains(said), "{said} is missing in\n{problems}");
    }
}

#[test]
fn what_does_not_fit_the_tank_is_refused() {
    let fault = |tank: &str, fault: &str| {
        format!("[[at]]\ntime = \"0:00:01\"\ntank = \"{tank}\"\nfault = {{ {fault} }}")
    };
    for (lines, said) in [
        (
            "[[tank]]\nname = \"clearwell\"\nlevel = \"9 m\"".to_owned(),
            "outside of the vessel",
        ),
        (
            "[[tank]]\nname = \"clearwell\"\nheadspace = \"1 kPa(g)\"".to_owned(),
            "open to the air",
        ),
        (
            "[[tank]]\nname = \"degasser\"\ntrue = { leg_density = \"1060 kg/m3\" }".to_owned(),
            "no leg with a fill",
        ),
        (fault("clearwell", "plugged = \"low\""), "no low side"),
        (fault("clearwell", "equaliser = \"open\""), "no equaliser"),
        (
            fault("degasser", "wet_leg_lost = \"1 m\""),
            "no wet low leg",
        ),
        (fault("surge", "condensate = \"1 m\""), "no dry low leg"),
        (
            fault("surge", "drift = \"1 K / 1 h\""),
            "does not read that",
        ),
        (fault("degasser", "vent = \"blocked\""), "has no vent"),
        (fault("surge", "gas_leak = \"1 h\""), "no gas of its own"),
        (
            fault("surge", "blanket_lost = true"),
            "has no blanket",
        ),
        (fault("clearwell", "purge_lost = \"30 s\""), "no dip tube"),
        (
            fault("degasser", "gas_in_leg = \"1 m\", side = \"low\""),
            "no low leg with liquid",
        ),
        (fault("clearwell", "failed = \"low\""), "no loop current"),
        (
            fault("surge", "reference = \"blocked\""),
            "does not count from the outside air",
        ),
        (
            "[[tank]]\nname = \"clearwell\"\ngas = {}".to_owned(),
            "take `gas` out",
        ),
        (
            "[[expect]]\ntank = \"clearwell\"\ninterface_within = \"1 cm\"".to_owned(),
            "take `interface_within` out",
        ),
        (
            "[[tank]]\nname = \"boiler\"\n[[expect]]\nalarm = \"drum LAL\"\nstate = \"UNACK\"".to_owned(),
            "of another site: none of its tanks is one of",
        ),
        (
            "[[at]]\ntime = \"0:00:01\"\ntransmitter = \"TT-105\"\nfault = { nan = true }".to_owned(),
            "can't tell that it is no number",
        ),
        (
            "[[at]]\ntime = \"0:00:01\"\nvalve = \"XV-9\"\nopening = \"1 %\"".to_owned(),
            "no pump or valve",
        ),
        (
            "[[at]]\ntime = \"0:00:01\"\nlink = \"skid-b\"\ndevice = 7\nfault = { silent = \"1 s\" }"
                .to_owned(),
            "no device 7",
        ),
        (
            "[[pump]]\nname = \"P-1\"\nfrom = \"clearwel\"\nrate = \"1 m3/h\"".to_owned(),
            "no tank \"clearwel\"",
        ),
        (
            "[[valve]]\nname = \"X\"\nto = \"surge\"\nkv = \"1 m3/h\"\n[[pump]]\nname = \"X\"\nto = \"surge\"\nrate = \"1 m3/h\""
                .to_owned(),
            "two of the name",
        ),
    ] {
        let problems = scenario(&lines).expect_err(said);
        assert!(
            problems.contains(said) && problems.contains("1 problem in"),
            "{problems}"
        );
    }
}

#[test]
fn a_plugged_side_comes_and_goes() {
    let lines = r#"
        [[at]]
        time = "00:00:01"
        until = "00:00:10"
        tank = "degasser"
        fault = { plugged = "low" }
        [[at]]
        time = "00:00:05"
        tank = "degasser"
        headspace = "5 kPa(g)"
        "#;
    let before = value_after(lines, "PDT-201", 4);
    // The damping of 0.4 s is over after 4 s to 5e-5 of the step; the gas's own weight moves by a few pascals.
    assert!((value_after(lines, "PDT-201", 9) - before - 5000.0).abs() < 5.0);
    assert!((value_after(lines, "PDT-201", 15) - before).abs() < 5.0);
}

#[test]
fn the_truth_of_a_transmitter_and_its_leg_is_the_script_s() {
    let as_the_site_says = value_after("", "PDT-202", 1);
    let zero = "[[tank]]\nname = \"surge\"\ntrue = { transmitter_zero = \"0.2 kPa\" }";
    assert!((value_after(zero, "PDT-202", 1) - as_the_site_says - 200.0).abs() < 1e-6);
    let light = "[[tank]]\nname = \"surge\"\ntrue = { leg_density = \"1070 kg/m3\" }";
    // 1080 kg/m³ at 15 degC as the site file says; 10 kg/m³ less over the leg of 2.80 + 0.40 m.
    let gravity = site().plan.gravity.value;
    assert!(
        (value_after(light, "PDT-202", 1) - as_the_site_says - 10.0 * gravity * 3.2).abs() < 1e-3
    );
}

#[test]
fn faults_of_a_transmitter_are_its_own() {
    let drift =
        "[[at]]\ntime = \"0:00:00\"\ntransmitter = \"TT-101\"\nfault = { drift = \"1 K / 10 s\" }";
    let warmed = value_after(drift, "TT-101", 20) - value_after("", "TT-101", 20);
    assert!((warmed - 2.0).abs() < 1e-9, "{warmed}");
}

#[test]
fn pumps_and_demands_move_what_they_should() {
    let lines = r#"
        [[tank]]
        name  = "clearwell"
        level = "3 m"
        [[tank]]
        name  = "backwash"
        level = "1 m"
        [[pump]]
        name = "P-1"
        from = "clearwell"
        to   = "backwash"
        rate = "36 m3/h"
        [[demand]]
        tank    = "clearwell"
        every   = "100 s"
        pattern = [["0 s", "0 m3/h"], ["50 s", "72 m3/h"]]
        "#;
    let Scenario {
        plant,
        mut timeline,
        ..
    } = sound(lines);
    let mut plant = Plant::new(plant, 1);
    let before = (plant.volume(0).value, plant.volume(1).value);
    plant.advance_under(Duration::from_secs(200), |plant| {
        timeline.apply(plant);
    });
    // 10 L/s over 200 s, and 20 L/s in half of them.
    let (out, into) = (
        before.0 - plant.volume(0).value,
        plant.volume(1).value - before.1,
    );
    assert!((into - 2.0).abs() < 1e-9, "{into}");
    assert!((out - 4.0).abs() < 1e-9, "{out}");
}

#[test]
fn demands_scatter_by_the_seed() {
    let drawn = |seed: u32| {
        let lines = format!(
            "seed = {seed}\n[[tank]]\nname = \"clearwell\"\nlevel = \"4 m\"\n[[demand]]\ntank = \"clearwell\"\nevery = \"60 s\"\nscatter = \"20 %\"\npattern = [[\"0 s\", \"36 m3/h\"]]"
        );
        let Scenario {
            plant,
            mut timeline,
            ..
        } = sound(&lines);
        let mut plant = Plant::new(plant, 1);
        let minutes = (0..10).map(|_| {
            let before = plant.volume(0).value;
            plant.advance_under(Duration::from_secs(60), |plant| {
                timeline.apply(plant);
            });
            before - plant.volume(0).value
        });
        minutes.collect::<Vec<f64>>()
    };
    // 0.6 m³ a minute, by up to a fifth more or less.
    let first = drawn(1);
    assert!(
        first.iter().all(|m3| (0.48..=0.72).contains(m3)),
        "{first:?}"
    );
    assert!(
        first
            .windows(2)
            .all(|pair| (pair[0] - pair[1]).abs() > 1e-9),
        "{first:?}"
    );
    assert_eq!(first, drawn(1));
    assert_ne!(first, drawn(2));
}

/// A site of its own: two tanks, with flows and densities that are measured.
const METERED: &str = r#"
[site]
name = "Alder Rise"
gravity = "9.81 m/s2"

[[link]]
name = "skid"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-1"
link = "skid"
register = "input 0"
type = "f32"
unit = "kPa"

[[transmitter]]
tag = "FT-1"
link = "skid"
register = "input 2"
type = "f32"
reads = "flow"
unit = "m3/h"

[[transmitter]]
tag = "FT-2"
link = "skid"
register = "input 4"
type = "f32"
reads = "flow"
unit = "m3/h"

[[transmitter]]
tag = "FT-3"
link = "skid"
register = "input 6"
type = "f32"
reads = "flow"
unit = "m3/h"

[[transmitter]]
tag = "DT-1"
link = "skid"
register = "input 8"
type = "f32"
reads = "density"
unit = "kg/m3"

[[tank]]
name = "settler"
vessel = { shape = "upright-cylinder", diameter = "2 m", height = "4 m" }
liquid = { kind = "measured", density = "DT-1" }
hookup = { kind = "vented", transmitter = "LT-1", at = "0.2 m" }

[[tank.stream]]
name = "feed"
direction = "in"
flow = "FT-1"

[[tank.stream]]
name = "P-1"
direction = "out"
flow = "FT-2"

[[tank.stream]]
name = "decant"
direction = "out"
flow = "FT-3"
"#;

#[test]
fn flow_and_density_transmitters_are_fed_by_what_they_measure() {
    use crate::plant::Senses;
    let site = crate::site::parse(METERED, Path::new("metered.toml"))
        .unwrap_or_else(|problems| panic!("{problems}"));
    let script = r#"
site = "metered.toml"
[[pump]]
name = "P-1"
from = "settler"
rate = "3 m3/h"
"#;
    let script = Script::parse(script, Path::new("script.toml"));
    let script = script.unwrap_or_else(|problems| panic!("{problems}"));
    let scenario = plant(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    let senses = |tag| &scenario.plant.transmitters[transmitter(&scenario, tag)].senses;
    assert_eq!(senses("FT-1"), &Senses::Inflow { tank: 0 });
    assert_eq!(senses("FT-2"), &Senses::PipeFlow { pipe: 0 });
    // Of two metered streams one way, which of them the rest goes by nobody could say.
    assert_eq!(senses("FT-3"), &Senses::Nothing);
    assert_eq!(
        scenario.notes,
        ["FT-3 is connected to nothing here: its register says failure"]
    );
    assert_eq!(senses("DT-1"), &Senses::LiquidDensity { tank: 0 });
}

#[test]
fn every_transmitter_of_the_rarer_hookups_is_connected() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/alder-rise-hookups.toml");
    let site = crate::site::read(&path).unwrap_or_else(|problems| panic!("{problems}"));
    let script = Script::parse("site = \"hookups.toml\"", Path::new("script.toml"));
    let script = script.unwrap_or_else(|problems| panic!("{problems}"));
    let scenario = plant(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(scenario.notes, Vec::<String>::new());
    let mut tanks = site.plan.tanks.iter();
    let separator = tanks.position(|tank| &*tank.name == "separator");
    let model = &scenario.plant.tanks[separator.expect("it has one")];
    // In the middle between the taps at 0.40 m and 2.00 m.
    let lower = model.lower.expect("two liquids");
    approx::assert_abs_diff_eq!(lower.boundary.value, 1.2);
}

#[test]
fn a_boundary_is_refused_where_there_is_one_liquid() {
    for lines in [
        "[[tank]]\nname = \"clearwell\"\ninterface = \"1.2 m\"",
        "[[at]]\ntime = \"00:01:00\"\ntank = \"clearwell\"\ninterface = \"1.2 m\"",
        "[[expect]]\ntank = \"clearwell\"\ninterface_within = \"10 mm\"",
    ] {
        let problems = scenario(lines).expect_err("one liquid only");
        assert!(problems.contains("holds one liquid only"), "{problems}");
    }
}
