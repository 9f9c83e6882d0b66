//! Straight lines by least squares: the guide's thermometer (JCGM 100:2008, H.3) and NIST's certified line.
//!
//! Sources: those of the rows, in each table's own `source` column.

use crate::rows::{Row, rows};
use serde_json::Value;
use standpipe::physics::line::{Line, Points};

fn thermometer() -> Line {
    let mut points = Points::default();
    for row in rows("gum-h3.csv") {
        points.add(
            row.number("t_c") - row.number("t_0_c"),
            row.number("correction_c"),
        );
    }
    points.line().expect("eleven points")
}

fn norris() -> Line {
    let cases: Value =
        serde_json::from_str(include_str!("data/trends.json")).expect("the trends are JSON");
    let mut cases = cases.as_array().expect("a list").iter();
    let case = cases.find(|case| case["name"] == "Norris");
    let case = case.expect("it is there");
    let numbers = |name: &str| {
        let list = case[name].as_array().expect("a list of numbers");
        let numbers = list.iter().map(|number| number.as_f64().expect("a number"));
        numbers.collect::<Vec<f64>>()
    };
    let mut points = Points::default();
    for (x, y) in numbers("x").into_iter().zip(numbers("y")) {
        points.add(x, y);
    }
    points.line().expect("36 points")
}

#[test]
pub fn least_squares_as_in_the_guide_and_as_nist_certifies() {
    let number_of = |row: &Row| {
        let line = match row.text("data") {
            "gum-h3" => thermometer(),
            _ => norris(),
        };
        match row.text("quantity") {
            "gain" => line.gain,
            "gain_standard_error" => line.gain_standard_error,
            "offset" => line.offset,
            "offset_standard_error" => line.offset_standard_error,
            "correlation" => line.correlation,
            "residual" => line.residual,
            other => panic!("{}: {other}", row.place()),
        }
    };
    for row in rows("lines.csv") {
        let (what, ours) = (row.text("quantity"), number_of(&row));
        row.check_relative(what, ours, row.number("value"), row.number("rel_tolerance"));
        if let Some(printed) = row.number_if_given("printed") {
            row.check_absolute(what, ours, printed, row.number("print_tolerance"));
        }
    }
}
