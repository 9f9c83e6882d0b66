//! Pressure units against NIST SP 811 and what follows from it; conversions go through the text.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::{Row, rows};
use standpipe::quantity::{Dimension, Unit, find, parse};

/// The tables' ids and the symbols here.
const SYMBOLS: [(&str, &str); 22] = [
    ("Pa", "Pa"),
    ("hPa", "hPa"),
    ("kPa", "kPa"),
    ("MPa", "MPa"),
    ("mbar", "mbar"),
    ("bar", "bar"),
    ("psi", "psi"),
    ("kgf/cm2", "kgf/cm2"),
    ("atm", "atm"),
    ("torr", "torr"),
    ("mmHg", "mmHg"),
    ("inHg", "inHg"),
    ("mmH2O", "mmH2O"),
    ("inH2O", "inH2O@conventional"),
    ("inH2O@4C", "inH2O@4degC"),
    ("inH2O@60F", "inH2O@60degF"),
    ("inH2O@68F", "inH2O@68degF"),
    ("inH2O@4C/iapws", "inH2O@4degC"),
    ("ftH2O", "ftH2O@conventional"),
    ("ftH2O@4C", "ftH2O@4degC"),
    ("inH2O@4C/pint", "inH2O@4degC"),
    ("inH2O@60F/pint", "inH2O@60degF"),
];

/// Rows of units that are not understood here.
const NOT_UNDERSTOOD: [&str; 7] = [
    "inHg@32F",
    "inHg@60F",
    "cmH2O",
    "cmH2O@4C",
    "mH2O",
    "mmH2O@20C",
    "mmH2O@4C",
];

/// A second value for a unit whose value here is the printed one: see its own test.
const FINER_THAN_PRINTED: &str = "inH2O@60F/iapws";

fn symbol(id: &str) -> Option<&'static str> {
    SYMBOLS
        .iter()
        .find(|(theirs, _)| *theirs == id)
        .map(|(_, ours)| *ours)
}

fn unit(symbol: &str) -> &'static Unit {
    find(symbol, Dimension::Pressure).expect(symbol)
}

#[test]
pub fn factors_are_the_published_ones() {
    let mut compared = 0;
    for row in rows("pressure-units.csv") {
        let id = row.text("id");
        let Some(symbol) = symbol(id) else {
            let named = NOT_UNDERSTOOD.contains(&id) || id == FINER_THAN_PRINTED;
            assert!(
                named,
                "{}: {id} is neither compared nor named as left out",
                row.place()
            );
            continue;
        };
        // A tolerance of 0 marks an exact unit; a few last digits of an f64 are left to it.
        let tolerance = row.number("rel_tolerance").max(1e-12);
        row.check_relative(
            symbol,
            unit(symbol).to_si(1.0),
            row.number("pa_per_unit"),
            tolerance,
        );
        compared += 1;
    }
    assert_eq!(compared, SYMBOLS.len());
}

#[test]
pub fn factors_round_to_what_sp_811_prints() {
    let mut compared = 0;
    for row in rows("pressure-units.csv") {
        let printed = row.number_if_given("sp811_printed");
        let (Some(symbol), Some(published)) = (symbol(row.text("id")), printed) else {
            continue;
        };
        let half_a_digit = half_a_digit(row.text("sp811_printed"));
        row.check_absolute(symbol, unit(symbol).factor, published, half_a_digit);
        compared += 1;
    }
    // All but the inch at 68 degF and the three that a library gives.
    assert_eq!(compared, SYMBOLS.len() - 4);
}

/// Half a unit of the last digit of a number printed as 1.234E+05.
fn half_a_digit(printed: &str) -> f64 {
    let (digits, exponent) = printed.split_once('E').unwrap_or((printed, "0"));
    let decimals = digits
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.len());
    let exponent: i32 = exponent.parse().expect("an exponent");
    // Slightly more, for the f64 nearest to a tie.
    0.500_001 * 10_f64.powi(exponent - i32::try_from(decimals).expect("a short number"))
}

#[test]
pub fn the_printed_inch_at_60_degf_is_water_within_its_rounding() {
    let all = rows("pressure-units.csv");
    let with_id = |id: &str| -> &Row {
        all.iter()
            .find(|row| row.text("id") == id)
            .unwrap_or_else(|| panic!("no row {id}"))
    };
    let printed = with_id("inH2O@60F");
    let water = with_id(FINER_THAN_PRINTED);
    let ours = unit("inH2O@60degF").factor;
    let rounding = printed.number("rel_tolerance");
    water.check_relative("inH2O@60degF", ours, water.number("pa_per_unit"), rounding);
    // It is no misprint of that value: its own tolerance is finer than the print.
    assert!(water.number("rel_tolerance") < rounding);
}

#[test]
pub fn what_is_left_out_is_not_understood() {
    let all = rows("pressure-units.csv");
    for id in NOT_UNDERSTOOD {
        let row = all.iter().find(|row| row.text("id") == id);
        row.unwrap_or_else(|| panic!("no row {id}")).mark_met();
        let ours = id
            .replace("@32F", "@32degF")
            .replace("@60F", "@60degF")
            .replace('C', "degC");
        for spelling in [id, ours.as_str()] {
            assert!(
                find(spelling, Dimension::Pressure).is_none(),
                "{spelling} can be compared now"
            );
        }
    }
}

#[test]
pub fn conversions_are_the_published_ones() {
    let (mut compared, mut left_out) = (0, 0);
    for row in rows("pressure-conversions.csv") {
        let (from, to) = (row.text("from_unit"), row.text("to_unit"));
        let (Some(from_symbol), Some(to_symbol)) = (symbol(from), symbol(to)) else {
            row.mark_met();
            assert_eq!(from, "mH2O", "{}: not understood", row.place());
            left_out += 1;
            continue;
        };
        let text = format!("{} {from_symbol}", row.text("value"));
        let written = parse(&text, Dimension::Pressure).expect(&text);
        let ours = unit(to_symbol).from_si(written.si);
        let what = format!("{text} in {to_symbol}");
        row.check_relative(
            &what,
            ours,
            row.number("expected"),
            row.number("rel_tolerance"),
        );
        compared += 1;
    }
    assert_eq!((compared, left_out), (48, 3));
}

#[test]
pub fn the_four_inches_of_water_are_as_far_apart_as_published() {
    // The table prints five digits of each difference (a trailing zero left out).
    const FIFTH_DIGIT: f64 = 5.1e-5;
    let table = rows("inh2o-trap.csv");
    assert_eq!(table.len(), 4);
    let conventional = unit("inH2O@conventional").factor;
    let at_68 = unit("inH2O@68degF").factor;
    for row in table {
        let id = row.text("convention");
        let ours = unit(symbol(id).expect("one of the four")).factor;
        let near = |what: &str, ours: f64, column: &str| {
            row.check_relative(
                &format!("{id}: {what}"),
                ours,
                row.number(column),
                FIFTH_DIGIT,
            );
        };
        row.check_relative(id, ours, row.number("pa_per_inH2O"), 1e-12);
        row.check_absolute(
            id,
            unit("psi").factor / ours,
            row.number("inH2O_per_psi"),
            5.1e-7,
        );
        near(
            "ppm",
            1e6 * (ours / conventional - 1.0),
            "ppm_vs_conventional",
        );
        let apart = ours / at_68 - 1.0;
        near("percent", 100.0 * apart, "percent_vs_68F");
        near(
            "Pa",
            400.0 * (ours - at_68),
            "error_pa_if_400inH2O_misread_as_68F",
        );
        near(
            "mm",
            10_000.0 * apart,
            "error_mm_in_10m_water_level_if_misread_as_68F",
        );
    }
}

#[test]
pub fn an_inch_of_water_alone_is_refused_with_the_published_spread() {
    let worst = rows("inh2o-trap.csv")
        .iter()
        .map(|row| row.number("percent_vs_68F"))
        .fold(0.0, f64::max);
    let error = parse("1 inH2O", Dimension::Pressure).expect_err("ambiguous");
    assert!(
        error.cure().contains(&format!("up to {worst:.2} % apart")),
        "{}",
        error.cure()
    );
}
