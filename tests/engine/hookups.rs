//! Several hookups on one tank, a density that is measured, and the boundary of two liquids.

use crate::rig::Rig;
use crate::sites::{HEAVY, head, tank};
use standpipe::engine::{EventKind, Fault, Quality, Reason};

/// Pascals of so many metres of liquid, the air above it counted as in the engine: by hand, within 1 mm.
fn pascals(density_kg_m3: f64, metres: f64) -> f64 {
    density_kg_m3 * 9.81 * metres
}

fn transmitter(tag: &str, register: u16, measures: &str) -> String {
    format!(
        r#"
[[transmitter]]
tag      = "{tag}"
link     = "skid-a"
register = "input {register}"
type     = "f64"
measures = "{measures}"
unit     = "Pa"
accuracy = "20 Pa"
"#
    )
}

const PAIR: &str = r#"[
  { name = "north", kind = "vented", transmitter = "LT", at = "0.10 m" },
  { name = "south", kind = "vented", transmitter = "LT-2", at = "0.10 m" },
]"#;

fn pair(choose: &str) -> Rig {
    let chosen = format!("choose = {choose}\n");
    let site = head("gauge", "") + &transmitter("LT-2", 4, "gauge") + &tank(HEAVY, PAIR) + &chosen;
    Rig::start(&site)
}

fn levels(north_m: f64, south_m: f64) -> [(&'static str, f64); 2] {
    let pressure = |level_m: f64| pascals(1000.0, level_m - 0.1);
    [("LT", pressure(north_m)), ("LT-2", pressure(south_m))]
}

#[track_caller]
fn near(rig: &Rig, level_m: f64) {
    let shown = rig.level_m("day").expect("a level");
    assert!(
        (shown - level_m).abs() < 0.003,
        "{shown} m, not {level_m} m"
    );
}

#[test]
fn each_choice_takes_its_own() {
    for (choice, level_m) in [
        ("higher", 2.3),
        ("lower", 2.0),
        ("middle", 2.0),
        ("mean", 2.15),
        ("south", 2.3),
    ] {
        let mut rig = pair(&format!("{{ level = \"{choice}\" }}"));
        rig.poll(3, &levels(2.0, 2.3));
        near(&rig, level_m);
        assert_eq!(rig.reading("day").quality, Quality::Good, "{choice}");
        assert_eq!(rig.tank("day").hookups.len(), 2);
    }
}

#[test]
fn another_one_stands_in_for_a_chosen_one_that_is_bad() {
    let mut rig = pair(r#"{ level = "north", instead = "south" }"#);
    rig.poll(3, &levels(2.0, 2.1));
    near(&rig, 2.0);
    for _ in 0..30 {
        rig.pass(1.0);
        rig.fail("LT", Fault::NoAnswer);
        rig.read(&levels(2.0, 2.1)[1..]);
    }
    near(&rig, 2.1);
    let reading = rig.reading("day");
    assert_eq!(reading.quality, Quality::Uncertain);
    assert!(reading.reasons.has(Reason::InsteadTaken));
    let chosen = rig.tank("day").hookups;
    assert!(!chosen[0].chosen && chosen[1].chosen);
    rig.poll(3, &levels(2.0, 2.1));
    near(&rig, 2.0);
    assert_eq!(rig.reading("day").quality, Quality::Good);
}

#[test]
fn a_difference_that_lasts_is_told_once_and_when_it_is_over() {
    let mut rig = pair(r#"{ level = "north", disagree = { by = "40 mm", for = "10 s" } }"#);
    rig.poll(3, &levels(2.0, 2.02));
    rig.poll(9, &levels(2.0, 2.06));
    assert!(!rig.has("day", Reason::HookupsDisagree), "not for 10 s yet");
    rig.poll(20, &levels(2.0, 2.06));
    assert!(rig.has("day", Reason::HookupsDisagree));
    near(&rig, 2.0);
    rig.poll(3, &levels(2.0, 2.01));
    assert!(!rig.has("day", Reason::HookupsDisagree));
    let told = rig.of_kind(EventKind::Hookup);
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[0].text.contains("north 2.0") && told[0].text.contains("south 2.0"));
}

const THREE: &str = r#"{ kind = "three-transmitter", bottom = { transmitter = "LT", at = "0.20 m" }, middle = { transmitter = "LT-2", at = "1.20 m" }, headspace = { transmitter = "LT-3", at = "4.10 m" } }"#;

/// What three absolute transmitters show of a liquid under 1 bar of a gas without weight.
fn three(density_kg_m3: f64, level_m: f64) -> [(&'static str, f64); 3] {
    let at = |elevation_m: f64| 1e5 + pascals(density_kg_m3, (level_m - elevation_m).max(0.0));
    [("LT", at(0.2)), ("LT-2", at(1.2)), ("LT-3", at(4.1))]
}

#[test]
fn the_last_trusted_density_stands_in_below_the_middle_transmitter() {
    let site = head("absolute", "")
        + &transmitter("LT-2", 4, "absolute")
        + &transmitter("LT-3", 8, "absolute")
        + &tank(HEAVY, THREE)
        + "gas = { density = \"0 kg/m3\" }\n";
    let mut rig = Rig::start(&site);
    // From the start below the middle one: the stated density, and it says so.
    rig.poll(3, &three(850.0, 0.9));
    assert!(rig.has("day", Reason::DensityAsStated));
    // Over it: measured.
    rig.poll(3, &three(850.0, 3.0));
    let reading = rig.reading("day");
    assert_eq!(reading.quality, Quality::Good);
    let density = |rig: &Rig| rig.reading("day").density.expect("a density").value;
    assert!((density(&rig) - 850.0).abs() < 0.01);
    near(&rig, 3.0);
    // Back below: the last trusted one.
    rig.poll(3, &three(850.0, 0.9));
    assert!(rig.has("day", Reason::DensityLastTrusted));
    assert!((density(&rig) - 850.0).abs() < 0.01);
    near(&rig, 0.9);
    // The middle transmitter lost over a full tank: the level goes on.
    rig.poll(3, &three(850.0, 3.0));
    for _ in 0..30 {
        rig.pass(1.0);
        let [bottom, _, headspace] = three(850.0, 3.0);
        rig.read(&[bottom, headspace]);
        rig.fail("LT-2", Fault::NoAnswer);
    }
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
    assert!(rig.has("day", Reason::DensityLastTrusted));
    near(&rig, 3.0);
}

const LAYERS: &str = r#"[
  { name = "total", kind = "vented", transmitter = "LT", at = "0.10 m" },
  { name = "boundary", kind = "interface", transmitter = "LT-2", at = "0.0 m", high = { tap = "0.30 m" }, low = { tap = "2.30 m", leg = { kind = "constant", density = "800 kg/m3" } }, lower = { kind = "constant", density = "1000 kg/m3" }, upper = { kind = "constant", density = "800 kg/m3" } },
]"#;

#[test]
fn a_boundary_holds_while_the_level_is_over_its_upper_tap() {
    let site = head("gauge", "") + &transmitter("LT-2", 4, "differential") + &tank(HEAVY, LAYERS);
    let mut rig = Rig::start(&site);
    // The lower leg is full of the lower liquid: 0.3 m of it more than the upper leg's, and 200 kg/m³ of 0.7 m.
    let boundary_pa = pascals(200.0, 0.3 + 0.7);
    rig.poll(3, &[("LT", pascals(1000.0, 2.9)), ("LT-2", boundary_pa)]);
    let reading = rig.reading("day");
    assert_eq!(reading.quality, Quality::Good);
    let boundary = reading.interface.expect("a boundary").value;
    assert!((boundary - 1.0).abs() < 1e-6, "{boundary}");
    // The level falls below the upper tap: the boundary is no more, the level stays good.
    rig.poll(3, &[("LT", pascals(1000.0, 1.9)), ("LT-2", boundary_pa)]);
    let reading = rig.reading("day");
    assert_eq!((reading.quality, reading.interface), (Quality::Good, None));
    let hookups = rig.tank("day").hookups;
    assert!(hookups[1].reasons.has(Reason::UpperTapNotFlooded));
}
