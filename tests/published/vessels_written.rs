//! The same vessels written as in a site file, by the real program: `strap` and `convert`.

use crate::rows::{Row, rows};
use serde_json::Value;
use std::process::Command;

/// The files give 10 digits.
const RELATIVE_TOLERANCE: f64 = 1e-8;

/// Vessels of `vessels.csv`, each with every row that it has there.
const WRITTEN: &[(&str, &str)] = &[
    (
        "PV006",
        r#"shape = "upright-cylinder"
diameter = "2.5 m"
height = "4.0 m"
bottom = { head = "torisphere", standard = "asme-fd" }
top = { head = "torisphere", dish_radius = "2.5 m", knuckle_radius = "150 mm" }"#,
    ),
    (
        "PV013",
        r#"shape = "upright-cylinder"
diameter = "6.0 m"
height = "12.0 m"
bottom = { head = "torisphere", standard = "din-28011" }
top = { head = "cone", depth = "1.0 m" }"#,
    ),
    // a cone below a cylinder, as a stack
    (
        "PV016",
        r#"shape = "frusta"
sections = [{ height = "0.15 m", lower = "0 m", upper = "0.35 m" }, { height = "0.8 m", lower = "0.35 m", upper = "0.35 m" }]"#,
    ),
    (
        "PC001",
        r#"shape = "upright-cylinder"
diameter = "2.87 m"
height = "4.0 m"
bottom = { head = "ellipsoid", depth = "0.84 m", inward = true }"#,
    ),
    (
        "PH007",
        r#"shape = "horizontal-cylinder"
diameter = "2.0 m"
length = "6.0 m"
heads = { head = "torisphere", standard = "din-28013" }"#,
    ),
    (
        "PH008",
        r#"shape = "horizontal-cylinder"
diameter = "2.0 m"
length = "6.0 m"
heads = { head = "guppy", depth = "0.7 m" }"#,
    ),
    (
        "PH017",
        r#"shape = "horizontal-cylinder"
diameter = "1.6 m"
length = "4.4 m"
heads = { left = { head = "dish", depth = "0.2 m" }, right = { head = "ellipsoid" } }"#,
    ),
];

#[test]
pub fn vessels_of_every_kind_of_end() {
    for (case, vessel) in WRITTEN {
        let rows: Vec<Row> = rows("vessels.csv")
            .into_iter()
            .filter(|row| row.text("case") == *case)
            .collect();
        assert!(rows.len() >= 11, "{case}: {} rows", rows.len());
        check(&site(vessel, ""), &rows.iter().collect::<Vec<_>>());
    }
}

#[test]
pub fn sloped_vessels_and_elliptical_sections() {
    let sloped = rows("vessels-sloped.csv");
    for slope in ["0.0", "0.5", "1.0", "3.0", "10.0"] {
        let rows: Vec<&Row> = sloped
            .iter()
            .filter(|row| row.text("slope_deg") == slope)
            .collect();
        assert_eq!(rows.len(), 5);
        check(&site(&sloped_by(slope), ""), &rows);
    }
    let elliptical = rows("vessels-elliptical.csv");
    for (width, height, length, count) in [("2.4", "1.6", "7.0", 6), ("1.2", "1.9", "3.0", 3)] {
        let rows: Vec<&Row> = elliptical
            .iter()
            .filter(|row| row.text("width_m") == width)
            .collect();
        assert_eq!(rows.len(), count);
        let vessel = format!(
            "shape = \"horizontal-cylinder\"\nwidth = \"{width} m\"\nheight = \"{height} m\"\nlength = \"{length} m\""
        );
        check(&site(&vessel, ""), &rows);
    }
}

/// A pressure tells how high the surface stands, plumb; the level of a sloped vessel is perpendicular to its
/// axis and in the ratio of the file's two columns larger.
#[test]
pub fn a_pressure_on_a_sloped_vessel_is_the_published_level() {
    for row in rows("vessels-sloped.csv") {
        let slope = row.text("slope_deg");
        let (level_m, elevation_m) = (row.number("level_m"), row.number("elevation_m"));
        let pressure = format!("LT-1={} kPa", 9.80665 * elevation_m);
        let convert = |slope: &str| {
            let site = site(&sloped_by(slope), "gas = { density = \"0 kg/m3\" }\n");
            let reading = ask(&site, &["convert", "vessel", "--set", &pressure, "--json"]);
            number(&reading, "level_m")
        };
        let plumb_m = convert("0");
        // the air outside has a weight, up to the vent
        row.check_absolute("level", plumb_m, elevation_m, 0.004);
        let ours_m = convert(slope) * elevation_m / level_m;
        row.check_relative("level / elevation", ours_m, plumb_m, RELATIVE_TOLERANCE);
    }
}

/// 1 + 2 α ΔT + α² ΔT² for an upright shell: API MPMS 12.1.1, from memory. Deadwood is subtracted.
#[test]
pub fn a_warm_shell_with_deadwood_holds_more() {
    let tank = |rest: &str, temperature: &str| {
        let vessel = format!(
            "shape = \"upright-cylinder\"\ndiameter = \"4.2 m\"\nheight = \"6.0 m\"\n{rest}"
        );
        let liquid = format!(
            "liquid = {{ kind = \"constant\", density = \"998 kg/m3\", temperature = \"{temperature}\" }}\n"
        );
        let site = site_of(&vessel, &liquid);
        let reading = ask(
            &site,
            &["convert", "vessel", "--set", "LT-1=30 kPa", "--json"],
        );
        (number(&reading, "level_m"), number(&reading, "volume_m3"))
    };
    let shell = "shell = { expansion = \"12e-6 /K\", reference = \"20 degC\" }";
    let (cold_m, cold_m3) = tank("", "70 degC");
    let (warm_m, warm_m3) = tank(shell, "70 degC");
    let grown: f64 = 1.0 + 2.0 * 12e-6 * 50.0 + (12e-6 * 50.0_f64).powi(2);
    assert!((warm_m - cold_m).abs() < 1e-12, "{warm_m} {cold_m}");
    assert!((warm_m3 / cold_m3 - grown).abs() < 1e-12, "{warm_m3}");
    let (_, at_reference_m3) = tank(shell, "20 degC");
    assert!((at_reference_m3 - cold_m3).abs() < 1e-12 * cold_m3);
    let deadwood = "deadwood = [{ from = \"1.0 m\", to = \"2.0 m\", volume = \"0.20 m3\" }]";
    let (_, left_m3) = tank(deadwood, "70 degC");
    assert!((left_m3 - (cold_m3 - 0.2)).abs() < 1e-12, "{left_m3}");
}

fn sloped_by(slope_deg: &str) -> String {
    format!(
        "shape = \"horizontal-cylinder\"\ndiameter = \"2.0 m\"\nlength = \"6.0 m\"\nslope = \"{slope_deg} deg\""
    )
}

fn site(vessel: &str, more: &str) -> tempfile::TempDir {
    site_of(
        vessel,
        &format!("liquid = {{ kind = \"constant\", density = \"1000 kg/m3\" }}\n{more}"),
    )
}

fn site_of(vessel: &str, tank: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder for the site file");
    let text = format!(
        r#"[site]
name = "Alder Rise"
gravity = "9.80665 m/s2"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-1"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"

[[tank]]
name = "vessel"
hookup = {{ kind = "vented", transmitter = "LT-1", at = "0 m", vent = "2.5 m" }}
{tank}
[tank.vessel]
{vessel}
"#
    );
    std::fs::write(folder.path().join("site.toml"), text).expect("the site file is written");
    folder
}

/// `strap` at the rows' levels.
fn check(site: &tempfile::TempDir, rows: &[&Row]) {
    let levels: Vec<String> = rows
        .iter()
        .map(|row| format!("--at={} m", row.text("level_m")))
        .collect();
    let mut arguments = vec!["strap", "vessel", "--json"];
    arguments.extend(levels.iter().map(String::as_str));
    let table = ask(site, &arguments);
    let answers = table["rows"].as_array().expect("rows of a table");
    assert_eq!(answers.len(), rows.len());
    for (row, answer) in rows.iter().zip(answers) {
        let published = row.number("volume_m3");
        row.check_relative(
            "volume",
            number(answer, "volume_m3"),
            published,
            RELATIVE_TOLERANCE,
        );
    }
}

/// `standpipe COMMAND SITE …`, which answers JSON.
fn ask(site: &tempfile::TempDir, arguments: &[&str]) -> Value {
    let done = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .arg(arguments[0])
        .arg(site.path().join("site.toml"))
        .args(&arguments[1..])
        .output()
        .expect("the program runs");
    let complaint = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{arguments:?}: {complaint}");
    serde_json::from_slice(&done.stdout).expect("the answer is JSON")
}

fn number(answer: &Value, name: &str) -> f64 {
    answer[name]
        .as_f64()
        .unwrap_or_else(|| panic!("no number {name} in {answer}"))
}
