//! Worked examples of the hookups beyond vented and differential, the whole way through `convert`: dip tubes
//! (D11, D12), interfaces (D13, D14), hydrostatic tank gauging and its trap (D15 to D17), gauge against
//! absolute (D23), and the traps of the trade around them.
//!
//! Sources stand with the examples in `data/hydrostatic-examples.json`.

use crate::arrangements::{site, transmitter};
use crate::examples::{Example, example};
use crate::program::{SiteFile, has_reason, number};
use crate::rows::{Row, rows};
use serde_json::Value;

/// 0.1 mm: what `convert` is asked to agree to.
const TOLERANCE_M: f64 = 1e-4;

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

/// An open tank of a constant liquid, without air above it where the example has none.
fn dip_tube(example: &Example, friction: &str) -> String {
    let at = |name: &str| example.input(name);
    let tank = format!(
        r#"[tank.liquid]
kind = "constant"
density = "{} kg/m3"

[tank.hookup]
kind = "dip-tube"
transmitter = "LT-1"
at = "{} m"
tube_end = "0 m"
purge = {{ density = "{} kg/m3" }}
{friction}
"#,
        at("rho_liq"),
        at("gas_column_height_m"),
        at("rho_gas")
    );
    let height = at("depth_of_tip_m") + 1.0;
    site(at("g"), &transmitter("LT-1", 0, ""), height, &tank)
}

#[test]
pub fn the_gas_column_of_a_dip_tube_counts() {
    for id in ["D11", "D12"] {
        let example = example(id);
        let (shown, _) = example.expected("reading");
        let file = SiteFile::new(&dip_tube(&example, ""));
        let reading = file.reading("vessel", &[&pascals("LT-1", shown)]);
        assert_eq!(reading["quality"], "good", "{}", example.place());
        let (level, _) = example.expected("level_above_tip_with_gas_column");
        // h (ρl − ρair) = R/g + ρpurge L − ρair L: the example's with ρair = 0.
        let expected = level + air_m(&example, level);
        close(
            &example.place(),
            number(&reading, "level_m"),
            expected,
            TOLERANCE_M,
        );
        // Ignored, the column would be missing: not what convert shows.
        let (ignoring, _) = example.expected("level_above_tip_ignoring_gas_column");
        assert!((number(&reading, "level_m") - ignoring).abs() > 10.0 * TOLERANCE_M);
    }
}

/// What air of 1.2 kg/m³ outside and above the liquid adds to an example without air.
fn air_m(example: &Example, level_m: f64) -> f64 {
    let column_m = example.input("gas_column_height_m");
    1.2 * (level_m - column_m) / (example.input("rho_liq") - 1.2)
}

#[test]
pub fn friction_of_the_purge_reads_high() {
    let example = example("D11");
    let (shown, _) = example.expected("reading");
    let rubbing = "friction = { pressure = \"250 Pa\", uncertainty = \"40 Pa\" }";
    let without = SiteFile::new(&dip_tube(&example, ""));
    let with = SiteFile::new(&dip_tube(&example, rubbing));
    let expected = without.reading("vessel", &[&pascals("LT-1", shown)]);
    let reading = with.reading("vessel", &[&pascals("LT-1", shown + 250.0)]);
    close(
        "level",
        number(&reading, "level_m"),
        number(&expected, "level_m"),
        1e-9,
    );
    let line = line(&reading, "purge friction");
    // U = 40 Pa / (g (ρl − ρair)), both k = 2
    let per_pascal = 1.0 / (example.input("g") * (example.input("rho_liq") - 1.2));
    close(
        "friction",
        number(&line, "level_m"),
        40.0 * per_pascal,
        1e-6,
    );
}

fn line(reading: &Value, input: &str) -> Value {
    let lines = reading["uncertainty"]["budget"]
        .as_array()
        .expect("a budget");
    let found = lines.iter().find(|line| line["input"] == input);
    found
        .unwrap_or_else(|| panic!("no line {input} in {lines:?}"))
        .clone()
}

fn interface(example: &Example) -> String {
    let at = |name: &str| example.input(name);
    let constant =
        |density: f64| format!(r#"{{ kind = "constant", density = "{density} kg/m3" }}"#);
    let tank = format!(
        r#"[tank.liquid]
kind = "constant"
density = "{} kg/m3"

[tank.hookup]
kind = "interface"
transmitter = "LT-1"
at = "0 m"
high = {{ tap = "0 m" }}
low = {{ tap = "{} m", leg = {} }}
lower = {}
upper = {}
"#,
        at("rho_heavy"),
        at("tap_span_m"),
        constant(at("rho_leg")),
        constant(at("rho_heavy")),
        constant(at("rho_light")),
    );
    let height = at("tap_span_m") + 1.0;
    site(at("g"), &transmitter("LT-1", 0, ""), height, &tank)
}

#[test]
pub fn the_boundary_of_two_liquids_is_the_level() {
    for id in ["D13", "D14"] {
        let example = example(id);
        let file = SiteFile::new(&interface(&example));
        let (difference, _) = example.expected("dp_at_check");
        let reading = file.reading("vessel", &[&pascals("LT-1", difference)]);
        let boundary = example.input("check_interface_m");
        close(
            &example.place(),
            number(&reading, "level_m"),
            boundary,
            TOLERANCE_M,
        );
        assert_eq!(reading["quality"], "uncertain");
        assert!(has_reason(&reading, "flooding not verified"), "{reading}");

        let sheet = file.json("sheet", &["vessel"]);
        example.check("dp_interface_at_lower_tap", number(&sheet, "lrv_pa"));
        example.check("dp_interface_at_upper_tap", number(&sheet, "urv_pa"));
        example.check("span", number(&sheet, "span_pa"));
        example.is_done();
    }
}

/// Three gauges; the headspace one is read as the pressure at its own height.
fn gauging(example: &Example, otherwise_kg_m3: f64, more: &str) -> String {
    let at = |name: &str| example.input(name);
    let (bottom, x) = (at("z_bottom_sensor_m"), at("x_bottom_to_middle_m"));
    let diameter = 2.0 * (at("tank_area_m2") / std::f64::consts::PI).sqrt();
    let tank = format!(
        r#"[tank.liquid]
kind = "measured"
from = "hookup"
otherwise = {{ kind = "constant", density = "{otherwise_kg_m3} kg/m3" }}

[tank.gas]
density = "{} kg/m3"

[tank.hookup]
kind = "three-transmitter"
bottom = {{ transmitter = "PT-1", at = "{bottom} m" }}
middle = {{ transmitter = "PT-2", at = "{} m" }}
headspace = {{ transmitter = "PT-3", at = "{} m" }}
{more}
"#,
        at("rho_gas"),
        bottom + x,
        at("z_top_sensor_m")
    );
    let transmitters: String = (1..=3)
        .map(|place| {
            let register = (place - 1) * 2;
            transmitter(&format!("PT-{place}"), register, "measures = \"absolute\"")
        })
        .collect();
    site(at("g"), &transmitters, at("z_top_sensor_m"), &tank).replace(
        "diameter = \"2 m\"",
        &format!("diameter = \"{diameter} m\""),
    )
}

/// What the three show: the example's pressures above one and the same zero.
fn shown(example: &Example) -> [String; 3] {
    const ZERO_PA: f64 = 101_325.0;
    [
        ("PT-1", "p_bottom_pa"),
        ("PT-2", "p_middle_pa"),
        ("PT-3", "p_top_pa"),
    ]
    .map(|(tag, name)| format!("{tag}={} Pa(a)", ZERO_PA + example.input(name)))
}

fn gauged(example: &Example, otherwise_kg_m3: f64) -> Value {
    let file = SiteFile::new(&gauging(example, otherwise_kg_m3, ""));
    let shown = shown(example);
    file.reading("vessel", &[&shown[0], &shown[1], &shown[2]])
}

#[test]
pub fn density_level_and_mass_from_three_pressures() {
    for id in ["D15", "D16"] {
        let example = example(id);
        // Whatever the stated density: it is not what the reading is made from.
        for otherwise_kg_m3 in [700.0, 1400.0] {
            let reading = gauged(&example, otherwise_kg_m3);
            assert_eq!(reading["quality"], "good", "{}: {reading}", example.place());
            example.check("density", number(&reading, "density_kg_m3"));
            example.check("level_above_tank_bottom", number(&reading, "level_m"));
            example.check("volume", number(&reading, "volume_m3"));
            example.check("mass", number(&reading, "mass_kg"));
            // Without the weight of the gas the level would be off by more than the budget.
            let (ignoring, _) = example.expected("level_ignoring_gas");
            assert!((number(&reading, "level_m") - ignoring).abs() > 1e-3);
        }
        example.is_done();
    }
}

/// The mass hangs on the pressures, not on the density: its own budget is far smaller than that of the
/// volume times the density's. All parts by the guide's equation 10 on m = A (p1 − p3)/g + ρ A z1.
#[test]
pub fn the_mass_of_three_pressures_has_a_budget_of_its_own() {
    let example = example("D15");
    let reading = gauged(&example, 850.0);
    let (area, g) = (example.input("tank_area_m2"), example.input("g"));
    let (x, z_1) = (
        example.input("x_bottom_to_middle_m"),
        example.input("z_bottom_sensor_m"),
    );
    // ±0.1 Pa rectangular, k = 2.
    let expanded_pa = 2.0 * 0.1 / 3.0_f64.sqrt();
    // m = ρ A (z1 + h), h = (Δp − ρv g H)/(g (ρ − ρv)): with a = ρ/(ρ − ρv), b = z1 − h ρv/(ρ − ρv),
    // ∂m/∂p1 = A a/g + A b/(g x), ∂m/∂p2 = −A b/(g x), ∂m/∂p3 = −A a/g.
    let (rho, gas) = (number(&reading, "density_kg_m3"), example.input("rho_gas"));
    let h = number(&reading, "level_m") - z_1;
    let (a, b) = (rho / (rho - gas), z_1 - h * gas / (rho - gas));
    let own = |input: &str, slope: f64| {
        let part = number(&line(&reading, input), "mass_kg");
        let expected = (slope * expanded_pa).abs();
        close(input, part, expected, 1e-4 * expected);
    };
    own("transmitter accuracy", area / g * (a + b / x));
    own("middle transmitter accuracy", area / g * b / x);
    own("headspace transmitter accuracy", area / g * a);
    let mass_share = number(&reading["uncertainty"], "mass_kg") / number(&reading, "mass_kg");
    let level_share = number(&reading["uncertainty"], "level_m") / number(&reading, "level_m");
    assert!(
        mass_share < level_share,
        "{mass_share} against {level_share}"
    );
}

/// The trap: below the middle transmitter the formula still gives a density, and a wrong one.
#[test]
pub fn below_the_middle_transmitter_no_density_is_measured() {
    let example = example("D17");
    let reading = gauged(&example, example.input("true_density"));
    assert_eq!(reading["quality"], "uncertain", "{reading}");
    assert!(
        has_reason(
            &reading,
            "density not measured at this level, the stated one taken"
        ),
        "{reading}"
    );
    close(
        "density",
        number(&reading, "density_kg_m3"),
        example.input("true_density"),
        1e-9,
    );
    close(
        "level",
        number(&reading, "level_m"),
        example.input("true_level_m"),
        TOLERANCE_M,
    );
    let (wrong, _) = example.expected("density");
    assert!((number(&reading, "density_kg_m3") - wrong).abs() > 600.0);
}

/// A few pascals of error in the middle transmitter of a nearly empty tank make a level that the wrong
/// density itself would put above the middle; middle and headspace alone do not see it.
#[test]
pub fn an_error_of_the_middle_transmitter_does_not_pass_for_a_density() {
    let example = example("D17");
    let file = SiteFile::new(&gauging(&example, 998.2, ""));
    // 0.05 m of liquid over the bottom one, the middle one 60 Pa high.
    let bottom_pa = 101_325.0 + 998.2 * 9.80665 * 0.05;
    let settings = [
        format!("PT-1={bottom_pa} Pa(a)"),
        "PT-2=101385 Pa(a)".to_owned(),
        "PT-3=101325 Pa(a)".to_owned(),
    ];
    let reading = file.reading("vessel", &[&settings[0], &settings[1], &settings[2]]);
    close("density", number(&reading, "density_kg_m3"), 998.2, 1e-9);
}

/// Bottom and headspace of their own, each as it measures.
fn two(bottom: &str, headspace: &str, air: &str) -> String {
    let tank = r#"[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.gas]
density = "0 kg/m3"

[tank.hookup]
kind = "two-transmitter"
bottom = { transmitter = "PT-1", at = "0 m" }
headspace = { transmitter = "PT-2", at = "6 m" }
"#;
    let measures = |what: &str| format!("measures = \"{what}\"");
    let transmitters = transmitter("PT-1", 0, &measures(bottom))
        + &transmitter("PT-2", 2, &measures(headspace))
        + &transmitter("PT-0", 4, &measures("absolute"));
    site(9.80665, &transmitters, 6.0, tank).replace(
        r#"{ temperature = "20 degC", pressure = "100977.6 Pa" }"#,
        air,
    )
}

#[test]
pub fn gauge_against_absolute_needs_the_barometer() {
    let example = example("D23");
    let (bottom_pa, top_pa) = (example.input("p_bottom_abs"), example.input("p_top_abs"));
    let barometer_pa = 101_325.0 + example.input("barometer_change_pa");
    let both_absolute = SiteFile::new(&two("absolute", "absolute", r#"{ pressure = "PT-0" }"#));
    let reading = both_absolute.reading(
        "vessel",
        &[
            &format!("PT-1={bottom_pa} Pa(a)"),
            &format!("PT-2={top_pa} Pa(a)"),
            &format!("PT-0={barometer_pa} Pa(a)"),
        ],
    );
    example.check("level", number(&reading, "level_m"));

    // The gauge reads less by what the air rose: with the barometer read, nothing moves.
    let mixed = |air: &str, more: Option<f64>| {
        let file = SiteFile::new(&two("gauge", "absolute", air));
        let mut settings = vec![
            format!("PT-1={} Pa", bottom_pa - barometer_pa),
            format!("PT-2={top_pa} Pa(a)"),
        ];
        settings.extend(more.map(|pa| format!("PT-0={pa} Pa(a)")));
        let settings: Vec<&str> = settings.iter().map(String::as_str).collect();
        file.reading("vessel", &settings)
    };
    let read = mixed(r#"{ pressure = "PT-0" }"#, Some(barometer_pa));
    example.check("level", number(&read, "level_m"));
    assert!(number(&line(&read, "barometer accuracy"), "level_m") > 0.0);
    // With a fixed 101 325 Pa it is off by the change of the barometer.
    let fixed = mixed(r#"{ pressure = "101325 Pa" }"#, None);
    let error = number(&fixed, "level_m") - number(&read, "level_m");
    example.check("level_error_if_bottom_is_gauge_with_fixed_101325", error);
    example.is_done();

    // And without any word of the air the site is refused.
    let file = SiteFile::new(&two("gauge", "absolute", r#"{ temperature = "20 degC" }"#));
    let refused = file.ask("check", &[]);
    assert_eq!(refused.status, 1, "{}", refused.out);
    assert!(
        refused.out.contains("needs the pressure of the air"),
        "{}",
        refused.out
    );
}

/// A drum of saturated water, its reference leg full of cold water at the drum's pressure; the common piping
/// has that leg on the high port.
fn drum(row: &Row, reversed: bool) -> String {
    let pressure = format!("{} MPa(a)", row.number("p_mpa_abs"));
    let tank = format!(
        r#"[tank.liquid]
kind = "saturated-water"
pressure = "{pressure}"

[tank.gas]
kind = "steam"
pressure = "{pressure}"

[tank.hookup]
kind = "differential"
transmitter = "LT-1"
at = "0 m"
high = {{ tap = "0 m" }}
low = {{ tap = "{} m", leg = {{ kind = "compressed-water", temperature = "{} degC" }} }}
reversed = {reversed}
"#,
        row.number("tap_span_m"),
        row.number("t_leg_c")
    );
    let height = row.number("tap_span_m") + 0.2;
    site(row.number("g"), &transmitter("LT-1", 0, ""), height, &tank)
}

#[test]
pub fn the_drum_comes_out_either_way_round() {
    for (place, row) in rows("boiler-drum.csv").iter().enumerate() {
        let reversed = place % 2 == 0;
        let sign = if reversed { -1.0 } else { 1.0 };
        let file = SiteFile::new(&drum(row, reversed));
        let difference_pa = sign * row.number("dp_hp_minus_lp_pa");
        let reading = file.reading("vessel", &[&pascals("LT-1", difference_pa)]);
        let level_m = row.number("level_above_lower_tap_m");
        let [at_tap, at_upper] =
            [0.0, 1.0].map(|share| (row.number("level_fraction") - share).abs() < 1e-9);
        let known = match (at_tap, at_upper) {
            (true, _) => "level_at_most_m",
            (_, true) => "level_at_least_m",
            _ => "level_m",
        };
        row.check_absolute("level, m", number(&reading, known), level_m, TOLERANCE_M);
    }
}
