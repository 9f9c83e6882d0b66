//! Worked examples the whole way: site file, `convert` and `sheet`; the traps of the trade; exit statuses.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::arrangements::{differential, site, transmitter, vented};
use crate::examples::{Example, example};
use crate::program::{SiteFile, has_reason, number};

/// 0.1 mm: what `convert` is asked to agree to.
const TOLERANCE_M: f64 = 1e-4;

const OPEN: &[&str] = &["D01", "D02", "D03", "D10"];
const CLOSED: &[&str] = &["D04", "D05", "D06", "D07", "D08", "D09"];

fn close(what: &str, ours: f64, expected: f64, tolerance: f64) {
    // Written so that a value that is not a number fails.
    assert!(
        (ours - expected).abs() <= tolerance,
        "{what} is {ours}, expected {expected}, tolerance {tolerance:e}"
    );
}

fn pascals(tag: &str, value: f64) -> String {
    format!("{tag}={value} Pa")
}

/// Level at the check point, and the ends of the range; `sign` −1 where the ports are the other way round.
fn comes_out(example: &Example, text: &str, sign: f64) {
    let file = SiteFile::new(text);
    let (difference, _) = example.expected("dp_at_check_level");
    let reading = file.reading("vessel", &[&pascals("LT-1", sign * difference)]);
    assert_eq!(reading["quality"], "good", "{}", example.place());
    let what = format!("{}: level", example.place());
    close(
        &what,
        number(&reading, "level_m"),
        example.input("check_level_m"),
        TOLERANCE_M,
    );

    let (zero, full) = (
        format!("{} m", example.input("level_0_percent_m")),
        format!("{} m", example.input("level_100_percent_m")),
    );
    let sheet = file.json("sheet", &["vessel", "--zero", &zero, "--full", &full]);
    example.check("lrv", sign * number(&sheet, "lrv_pa"));
    example.check("urv", sign * number(&sheet, "urv_pa"));
    let points = sheet["points"].as_array().expect("calibration points");
    assert_eq!(points.len(), 5, "{}", example.place());
    close("0 %", number(&points[0], "current_ma"), 4.0, 0.0);
    close("100 %", number(&points[4], "current_ma"), 20.0, 0.0);
    example.check("urv", sign * number(&points[4], "differential_pressure_pa"));
}

#[test]
fn open_tanks_come_out() {
    for id in OPEN {
        let example = example(id);
        comes_out(&example, &vented(&example), 1.0);
    }
}

#[test]
fn closed_vessels_come_out() {
    for id in CLOSED {
        let example = example(id);
        comes_out(&example, &differential(&example, false), 1.0);
    }
}

#[test]
fn reversed_ports_come_out() {
    for id in CLOSED {
        let example = example(id);
        comes_out(&example, &differential(&example, true), -1.0);
    }
}

#[test]
fn an_inch_of_water_without_its_temperature_is_refused() {
    let text = vented(&example("D01")).replace(r#"unit = "Pa""#, r#"unit = "inH2O""#);
    let answer = SiteFile::new(&text).ask("check", &[]);
    assert_eq!(answer.status, 1, "{}", answer.err);
    for inch in ["inH2O@4degC", "inH2O@60degF", "inH2O@68degF"] {
        assert!(answer.out.contains(inch), "{}", answer.out);
    }
}

/// 49 033.25 Pa of 5 m of conventional water, stated above vacuum: the air is taken off again.
#[test]
fn an_absolute_pressure_on_a_gauge_transmitter_is_turned_over_by_the_air() {
    let tank = r#"[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.gas]
density = "0 kg/m3"

[tank.hookup]
kind = "vented"
transmitter = "LT-1"
at = "0 m"
vent = "8 m"
"#;
    let text = site(9.80665, &transmitter("LT-1", 0, ""), 8.0, tank);
    let file = SiteFile::new(&text.replace("100977.6 Pa", "99 kPa"));
    let level = |setting: &str| number(&file.reading("vessel", &[setting]), "level_m");
    let gauge = level("LT-1=49.03325 kPa(g)");
    close("absolute", level("LT-1=148.03325 kPa(a)"), gauge, 1e-9);
    close("plain is gauge", level("LT-1=49.03325 kPa"), gauge, 1e-9);
    // With nothing above the liquid the outside air of the vent's height weighs on it.
    let air_kg_m3 = 99e3 * 28.965_46e-3 / (8.314_462_6 * 293.15);
    close("level", gauge, 5.0 + air_kg_m3 * 8.0 / 1000.0, TOLERANCE_M);
}

#[test]
fn two_absolute_transmitters_or_a_gauge_with_an_old_barometer() {
    let example = example("D23");
    let (bottom, top) = (example.input("p_bottom_abs"), example.input("p_top_abs"));
    let of = |measures: &str| {
        let transmitters = transmitter("PT-1", 0, &format!("measures = \"{measures}\""))
            + &transmitter("PT-2", 2, "measures = \"absolute\"");
        let tank = r#"[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.gas]
density = "0 kg/m3"

[tank.hookup]
kind = "two-transmitter"
bottom = { transmitter = "PT-1", at = "0 m" }
headspace = { transmitter = "PT-2", at = "8 m" }
"#;
        let text = site(example.input("g"), &transmitters, 8.0, tank);
        SiteFile::new(&text.replace("100977.6 Pa", "101325 Pa"))
    };
    let read = |file: &SiteFile, first: f64| {
        let settings = [pascals("PT-1", first), pascals("PT-2", top)];
        let reading = file.reading("vessel", &[&settings[0], &settings[1]]);
        number(&reading, "level_m")
    };
    let level = read(&of("absolute"), bottom);
    close(
        &example.place(),
        level,
        example.expected("level").0,
        TOLERANCE_M,
    );
    let barometer = 101_325.0 + example.input("barometer_change_pa");
    let off = read(&of("gauge"), bottom - barometer) - level;
    let (expected, _) = example.expected("level_error_if_bottom_is_gauge_with_fixed_101325");
    close(&example.place(), off, expected, TOLERANCE_M);
}

#[test]
fn the_weight_of_propane_vapour_counts() {
    let example = example("D09");
    let (difference, _) = example.expected("dp_at_check_level");
    let setting = pascals("LT-1", difference);
    let text = differential(&example, false);
    let level = |text: &str| {
        number(
            &SiteFile::new(text).reading("vessel", &[&setting]),
            "level_m",
        )
    };
    close(&example.place(), level(&text), 3.7, TOLERANCE_M);
    // Left out: Δp / (g ρl)
    let weightless = level(&text.replace("18.1 kg/m3", "0 kg/m3"));
    close(
        &example.place(),
        weightless,
        difference / (9.80665 * 500.1),
        TOLERANCE_M,
    );
    assert!(weightless < 3.57, "{weightless}");
}

/// The leg is water by its formula, not by the example's two densities.
#[test]
fn a_leg_is_taken_at_its_own_temperature() {
    let example = example("D22");
    let level = |temperature: &str| {
        let tank = format!(
            r#"[tank.liquid]
kind = "constant"
density = "{} kg/m3"

[tank.gas]
density = "{} kg/m3"

[tank.hookup]
kind = "differential"
transmitter = "LT-1"
at = "0 m"
high = {{ tap = "0 m" }}
low = {{ tap = "{} m", leg = {{ kind = "water", temperature = "{temperature}" }} }}
"#,
            example.input("rho_liq"),
            example.input("rho_gas"),
            example.input("leg_m")
        );
        let text = site(example.input("g"), &transmitter("LT-1", 0, ""), 4.0, &tank);
        let reading = SiteFile::new(&text).reading("vessel", &["LT-1=-20 kPa"]);
        number(&reading, "level_m")
    };
    // What is filled with warm water and taken for cold reads high by this.
    let off = level("20 degC") - level("50 degC");
    let (expected, _) = example.expected("level_error");
    close(&example.place(), off, expected, TOLERANCE_M);
}

/// D05, the wet leg, at any pressure.
fn wet_leg(difference_pa: f64) -> serde_json::Value {
    let example = example("D05");
    let file = SiteFile::new(&differential(&example, false));
    file.reading("vessel", &[&pascals("LT-1", difference_pa)])
}

#[test]
fn an_empty_wet_leg_says_at_most_the_tap() {
    let (lower, _) = example("D05").expected("lrv");
    let reading = wet_leg(lower);
    assert!(reading["level_m"].is_null(), "{reading}");
    assert!(reading["level_at_least_m"].is_null(), "{reading}");
    close(
        "at most",
        number(&reading, "level_at_most_m"),
        0.0,
        TOLERANCE_M,
    );
    assert_eq!(reading["quality"], "uncertain");
    assert!(has_reason(&reading, "at or below the tap"), "{reading}");
}

#[test]
fn a_flooded_upper_tap_says_at_least_the_tap() {
    let example = example("D05");
    let (lower, _) = example.expected("lrv");
    // Δp rises by g·(ρl − ρv) a metre, up to the upper tap.
    let rise = example.input("g") * (example.input("rho_liq") - example.input("rho_gas"));
    let reading = wet_leg(lower + rise * example.input("z_hi"));
    assert!(reading["level_m"].is_null(), "{reading}");
    assert!(reading["level_at_most_m"].is_null(), "{reading}");
    close(
        "at least",
        number(&reading, "level_at_least_m"),
        4.4,
        TOLERANCE_M,
    );
    assert!(
        has_reason(&reading, "at or above the upper tap"),
        "{reading}"
    );
}

#[test]
fn what_no_level_gives_is_bad() {
    let (lower, _) = example("D05").expected("lrv");
    for difference in [lower - 5e3, 5e3] {
        let reading = wet_leg(difference);
        assert_eq!(reading["quality"], "bad", "{reading}");
        assert!(
            has_reason(&reading, "outside what intact lines give"),
            "{reading}"
        );
        for level in [
            "level_m",
            "level_at_most_m",
            "level_at_least_m",
            "volume_m3",
        ] {
            assert!(reading[level].is_null(), "{level}: {reading}");
        }
    }
}

#[test]
fn an_empty_dry_leg_may_be_a_flooded_one() {
    let example = example("D04");
    let (lower, _) = example.expected("lrv");
    let file = SiteFile::new(&differential(&example, false));
    let reading = file.reading("vessel", &[&pascals("LT-1", lower)]);
    assert!(reading["level_m"].is_null(), "{reading}");
    close(
        "at most",
        number(&reading, "level_at_most_m"),
        0.2,
        TOLERANCE_M,
    );
    assert_eq!(reading["quality"], "uncertain");
    assert!(
        has_reason(&reading, "empty, or low leg flooded"),
        "{reading}"
    );
}

#[test]
fn check_answers_yes_or_no() {
    let right = vented(&example("D01"));
    assert_eq!(SiteFile::new(&right).ask("check", &[]).status, 0);
    let answer = SiteFile::new(&right.replace("vented", "vanted")).ask("check", &[]);
    assert_eq!(answer.status, 1, "{}", answer.err);
    assert!(answer.out.contains("vented"), "{}", answer.out);
    let strange = right.replace(r#"transmitter = "LT-1""#, r#"transmitter = "LT-7""#);
    let answer = SiteFile::new(&strange).ask("check", &[]);
    assert_eq!(answer.status, 1, "{}", answer.err);
    assert!(answer.out.contains("LT-7"), "{}", answer.out);
}

/// A bad reading is an answer: status 0. What cannot be answered is 2, and names what is wrong.
#[test]
fn convert_says_why_it_could_not() {
    let right = vented(&example("D01"));
    let file = SiteFile::new(&right);
    let cases: &[(&[&str], &str)] = &[
        (&["vessel"], "LT-1"),
        (&["bottle", "--set", "LT-1=20 kPa"], "\"bottle\""),
        (&["vessel", "--set", "LT-7=20 kPa"], "\"LT-7\""),
        (&["vessel", "--set", "LT-1=20"], "LT-1=20"),
        (&["vessel", "--set", "LT-1=20 m"], "LT-1=20 m"),
        (&["vessel", "--set", "LT-1=20 inH2O"], "inH2O@68degF"),
        (&["vessel", "--set", "LT-1"], "LT-1"),
        (&["vessel", "--put", "LT-1=20 kPa"], "--put"),
    ];
    for (rest, named) in cases {
        let answer = file.ask("convert", rest);
        assert_eq!(answer.status, 2, "{rest:?}: {}{}", answer.out, answer.err);
        assert_eq!(answer.out, "", "{rest:?}");
        assert!(answer.err.contains(named), "{rest:?}: {}", answer.err);
    }
    let bad = file.ask("convert", &["vessel", "--set", "LT-1=-20 kPa"]);
    assert_eq!(bad.status, 0, "{}", bad.err);
    assert!(bad.out.contains("bad"), "{}", bad.out);
    let wrong = SiteFile::new(&right.replace("vented", "vanted"));
    let answer = wrong.ask("convert", &["vessel", "--set", "LT-1=20 kPa"]);
    assert_eq!(answer.status, 2, "{}", answer.err);
}

#[test]
fn a_missing_transmitter_is_named() {
    let transmitters = transmitter("PT-1", 0, "measures = \"gauge\"")
        + &transmitter("PT-2", 2, "measures = \"gauge\"");
    let tank = r#"[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.hookup]
kind = "two-transmitter"
bottom = { transmitter = "PT-1", at = "0 m" }
headspace = { transmitter = "PT-2", at = "8 m" }
"#;
    let file = SiteFile::new(&site(9.80665, &transmitters, 8.0, tank));
    let answer = file.ask("convert", &["vessel", "--set", "PT-1=30 kPa"]);
    assert_eq!(answer.status, 2, "{}", answer.out);
    assert!(answer.err.contains("--set PT-2="), "{}", answer.err);
    assert!(!answer.err.contains("PT-1="), "{}", answer.err);
}

/// Where a transmitter reads the air, what it is said to show turns the others over, in any order.
#[test]
fn the_barometer_that_is_stated_turns_pressures_over() {
    let tank = r#"[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.hookup]
kind = "vented"
transmitter = "LT-1"
at = "0 m"
"#;
    let transmitters =
        transmitter("LT-1", 0, "") + &transmitter("PT-9", 2, "measures = \"absolute\"");
    let text = site(9.80665, &transmitters, 8.0, tank);
    let file = SiteFile::new(&text.replace(r#""100977.6 Pa""#, r#""PT-9""#));
    let level = |settings: &[&str]| number(&file.reading("vessel", settings), "level_m");
    let gauge = level(&["LT-1=50 kPa", "PT-9=970 hPa(a)"]);
    for settings in [
        ["LT-1=147 kPa(a)", "PT-9=970 hPa(a)"],
        ["PT-9=97 kPa", "LT-1=147 kPa(a)"],
    ] {
        close("level", level(&settings), gauge, 1e-9);
    }
    for (settings, named) in [
        (vec!["LT-1=147 kPa(a)"], "--set PT-9="),
        (vec!["LT-1=147 kPa(a)", "PT-9=0 kPa(g)"], "PT-9"),
    ] {
        let mut rest = vec!["vessel"];
        for setting in &settings {
            rest.extend(["--set", setting]);
        }
        let answer = file.ask("convert", &rest);
        assert_eq!(answer.status, 2, "{settings:?}: {}", answer.out);
        assert!(answer.err.contains(named), "{settings:?}: {}", answer.err);
    }
}
