//! Uncertainty budgets by JCGM 100 equation 10, and Theil–Sen slopes of another library.

use crate::arrangements::{site, transmitter};
use crate::program::{SiteFile, number};
use crate::rows::{Row, rows};
use serde_json::Value;
use standpipe::engine::rate::theil_sen;
use standpipe::physics::balance::{Balance, Leg};
use standpipe::physics::budget::{Budget, COVERAGE, Sensitivity};
use standpipe::quantity::{
    DifferentialPressure, kilograms_per_cubic_metre, metres, metres_per_second_squared,
};

/// Of what the rows give to nine digits.
const RELATIVE_TOLERANCE: f64 = 1e-8;
/// Sensitivities by central differences, of steps of a ten-thousandth: (10⁻⁴)² of the curvature.
const DIFFERENCE_TOLERANCE: f64 = 2e-8;

/// h = Δp/(ρ g) + offset is a balance without gas, its tap and diaphragm at the offset.
#[derive(Clone, Copy)]
struct Inputs {
    dp_pa: f64,
    rho_kg_m3: f64,
    g_m_s2: f64,
    offset_m: f64,
}

impl Inputs {
    fn of(row: &Row) -> Self {
        Self {
            dp_pa: row.number("dp_pa"),
            rho_kg_m3: row.number("rho_kg_m3"),
            g_m_s2: row.number("g_m_s2"),
            offset_m: row.number("offset_m"),
        }
    }

    fn level_m(self) -> f64 {
        let leg = |fill_kg_m3: f64| Leg {
            tap: metres(self.offset_m),
            diaphragm: metres(self.offset_m),
            fill: kilograms_per_cubic_metre(fill_kg_m3),
        };
        let balance = Balance {
            gravity: metres_per_second_squared(self.g_m_s2),
            liquid: kilograms_per_cubic_metre(self.rho_kg_m3),
            gas: kilograms_per_cubic_metre(0.0),
            high: leg(self.rho_kg_m3),
            low: leg(0.0),
        };
        balance
            .solve(DifferentialPressure::pascals(self.dp_pa))
            .value
    }

    /// ∂h/∂x of the input that `moved` moves.
    fn sensitivity(self, step: f64, moved: impl Fn(&mut Self, f64)) -> f64 {
        let at = |step: f64| {
            let mut inputs = self;
            moved(&mut inputs, step);
            inputs.level_m()
        };
        (at(step) - at(-step)) / (2.0 * step)
    }
}

fn level(level_m: f64) -> Sensitivity {
    Sensitivity {
        level_m,
        ..Sensitivity::default()
    }
}

#[test]
pub fn budgets_of_the_balance_by_the_guide_s_equation() {
    let rows = rows("level-budgets.csv");
    assert_eq!(rows.len(), 3);
    for row in &rows {
        let inputs = Inputs::of(row);
        row.check_relative(
            "level",
            inputs.level_m(),
            row.number("level_m"),
            RELATIVE_TOLERANCE,
        );
        let parts = [
            (
                "dp",
                "u_dp_pa",
                inputs.sensitivity(inputs.dp_pa * 1e-4, |i, s| i.dp_pa += s),
            ),
            (
                "rho",
                "u_rho_kg_m3",
                inputs.sensitivity(inputs.rho_kg_m3 * 1e-4, |i, s| i.rho_kg_m3 += s),
            ),
            (
                "g",
                "u_g_m_s2",
                inputs.sensitivity(inputs.g_m_s2 * 1e-4, |i, s| i.g_m_s2 += s),
            ),
            (
                "offset",
                "u_offset_m",
                inputs.sensitivity(1e-3, |i, s| i.offset_m += s),
            ),
        ];
        let mut budget = Budget::default();
        for (input, uncertainty, sensitivity) in parts {
            budget.add(input, row.number(uncertainty), level(sensitivity));
        }
        budget.sort();
        assert_eq!(budget.lines().len(), 4, "{}", row.place());
        for line in budget.lines() {
            let published = row.number(&format!("part_{}_m", line.input));
            row.check_relative(
                line.input,
                line.level.value / COVERAGE,
                published,
                DIFFERENCE_TOLERANCE,
            );
        }
        let sorted = budget
            .lines()
            .windows(2)
            .all(|pair| pair[0].level >= pair[1].level);
        assert!(sorted, "{}: largest first", row.place());
        let expanded = row.number("expanded_level_m");
        row.check_relative(
            "U",
            budget.expanded().level.value,
            expanded,
            DIFFERENCE_TOLERANCE,
        );
    }
}

/// The same through a site file. Stated gravity is taken as exact there, so its part is left out of the sum.
#[test]
pub fn budgets_of_convert() {
    for row in &rows("level-budgets.csv") {
        // An accuracy is a limit: its standard uncertainty is a/√3.
        let accuracy = row.number("u_dp_pa") * 3.0_f64.sqrt();
        let tank = format!(
            r#"[tank.liquid]
kind = "constant"
density = "{} kg/m3"
uncertainty = "{} kg/m3"

[tank.gas]
density = "0 kg/m3"

[tank.hookup]
kind = "differential"
transmitter = "LT-1"
at = "{} m"
high = {{ tap = "{} m" }}
low = {{ tap = "20 m", leg = "gas" }}
elevations = {{ uncertainty = "{} m" }}
"#,
            row.number("rho_kg_m3"),
            COVERAGE * row.number("u_rho_kg_m3"),
            row.number("offset_m"),
            row.number("offset_m"),
            COVERAGE * row.number("u_offset_m"),
        );
        let transmitters = transmitter("LT-1", 0, "").replace("0.1 Pa", &format!("{accuracy} Pa"));
        let file = SiteFile::new(&site(row.number("g_m_s2"), &transmitters, 20.0, &tank));
        let reading = file.reading("vessel", &[&format!("LT-1={} Pa", row.number("dp_pa"))]);
        row.check_absolute(
            "level",
            number(&reading, "level_m"),
            row.number("level_m"),
            1e-9,
        );
        matches_the_budget(row, &reading["uncertainty"]);
    }
}

fn matches_the_budget(row: &Row, uncertainty: &Value) {
    assert_eq!(uncertainty["coverage"], 2, "{}", row.place());
    let lines = uncertainty["budget"].as_array().expect("a budget");
    let names: Vec<&str> = lines
        .iter()
        .filter_map(|line| line["input"].as_str())
        .collect();
    assert_eq!(names.len(), 3, "{}: {names:?}", row.place());
    let mut squares = 0.0;
    for (input, part) in [
        ("transmitter accuracy", "part_dp_m"),
        ("liquid density", "part_rho_m"),
        ("transmitter elevation", "part_offset_m"),
    ] {
        let line = lines.iter().find(|line| line["input"] == input);
        let line = line.unwrap_or_else(|| panic!("{}: no {input} in {names:?}", row.place()));
        let published = row.number(part);
        // The program's density step of 0.1 kg/m³ bends the sensitivity by (0.1/ρ)².
        row.check_relative(input, number(line, "level_m") / COVERAGE, published, 1e-7);
        squares += (COVERAGE * published).powi(2);
    }
    row.check_relative("U", number(uncertainty, "level_m"), squares.sqrt(), 1e-7);
}

/// The end-gauge example of the guide's annex: parts in nm, printed to a whole nm.
#[test]
pub fn parts_add_up_as_in_the_guide_s_end_gauge() {
    let rows = rows("gum-h1.csv");
    assert_eq!(rows.len(), 4);
    let mut budget = Budget::default();
    for row in &rows {
        row.mark_met();
        budget.add("part", row.number("part_nm"), level(1.0));
    }
    let combined_nm = budget.expanded().level.value / COVERAGE;
    rows[0].check_relative("uc", combined_nm, rows[0].number("uc_nm"), 1e-10);
    rows[0].check_absolute("uc", combined_nm, rows[0].number("printed_uc_nm"), 0.5);
}

/// The thermometer of the guide's annex H.3: a straight line through eleven corrections, taken at 30 °C. Intercept
/// and slope go against each other (r = −0.93); as in every budget here each observation is one input that moves
/// both at once, so the correlation is in the lines. Left out, the guide's 0.0041 °C would be 0.0073 °C.
#[test]
pub fn correlated_inputs_as_in_the_guide_s_thermometer() {
    let rows = rows("gum-h3.csv");
    assert_eq!(rows.len(), 11);
    let at_c = |row: &Row| row.number("t_c") - row.number("t_0_c");
    let first = &rows[0];
    let (count, wanted_c) = (rows.len() as f64, 30.0 - first.number("t_0_c"));
    let mean_c = rows.iter().map(at_c).sum::<f64>() / count;
    let squares = rows
        .iter()
        .map(|row| (at_c(row) - mean_c).powi(2))
        .sum::<f64>();
    // b = Σ w_k b_k with w_k = 1/n + (t − t̄)(t_k − t̄)/Σ(t_k − t̄)²
    let weight = |row: &Row| 1.0 / count + (wanted_c - mean_c) * (at_c(row) - mean_c) / squares;
    let mut budget = Budget::default();
    let mut correction_c = 0.0;
    for row in &rows {
        row.mark_met();
        correction_c += weight(row) * row.number("correction_c");
        budget.add("observation", row.number("s_c"), level(weight(row)));
    }
    let combined_c = budget.expanded().level.value / COVERAGE;
    first.check_relative("b", correction_c, first.number("b_30_c"), 1e-9);
    first.check_absolute("b", correction_c, first.number("printed_b_30_c"), 5e-5);
    first.check_relative("u", combined_c, first.number("u_b_30_c"), 1e-9);
    first.check_absolute("u", combined_c, first.number("printed_u_b_30_c"), 5e-5);
    let apart_c = (first.number("u_b_30_without_correlation_c") - combined_c).abs();
    assert!(apart_c > 0.003, "the correlation is in it");
}

#[test]
pub fn theil_sen_slopes_of_another_library() {
    let text = include_str!("data/trends.json");
    let cases: Value = serde_json::from_str(text).expect("the trends are JSON");
    let cases = cases.as_array().expect("a list of trends");
    assert_eq!(cases.len(), 5);
    let mut scratch = Vec::new();
    for case in cases {
        let numbers = |name: &str| -> Vec<f64> {
            let list = case[name].as_array().expect("a list of numbers");
            list.iter()
                .map(|number| number.as_f64().expect("a number"))
                .collect()
        };
        let points: Vec<(f64, f64)> = numbers("x").into_iter().zip(numbers("y")).collect();
        let slope = theil_sen(&points, &mut scratch).expect("points apart");
        let published = number(&case["theil_sen"], "slope");
        // The file gives twelve digits.
        assert!(
            (slope - published).abs() <= 1e-11 * published.abs(),
            "{} ({}): {slope}, published {published}",
            case["name"],
            case["source"]
        );
    }
    assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)], &mut scratch), None);
}
