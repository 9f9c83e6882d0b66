//! The worked tanks of a paper in inches and US gallons: every head, outward and inward.

use crate::rows::{Row, rows};
use standpipe::physics::vessel::{Head, Shape, Vessel};
use standpipe::quantity::{Length, metres};

/// Inch, exact: NIST SP 811 (2008) appendix B.8.
const INCH_M: f64 = 0.0254;
/// Gallon (US) of 231 in³: NIST Handbook 44 appendix C (from memory).
const US_GALLON_M3: f64 = 231.0 * INCH_M * INCH_M * INCH_M;

#[test]
pub fn vessels_in_inches_and_gallons() {
    let mut checked = 0;
    for row in rows("vessels-inches.csv") {
        let level = inches(&row, "level_in");
        let ours_usgal = vessel(&row).volume(level).value / US_GALLON_M3;
        let (published, tolerance) = (
            row.number("volume_usgal"),
            row.number("abs_tolerance_usgal"),
        );
        row.check_absolute("volume_usgal", ours_usgal, published, tolerance);
        checked += 1;
    }
    assert_eq!(checked, 30);
}

fn vessel(row: &Row) -> Vessel {
    let head = head(row);
    let diameter = inches(row, "diameter_in");
    // no side is given for an upright vessel: any that ends above the level holds the same below it
    let height = diameter;
    let shape = match (row.text("shape"), row.text("inward")) {
        ("horizontal-cylinder", "") => Shape::HorizontalCylinder {
            diameter,
            length: inches(row, "length_in"),
            left: head,
            right: head,
        },
        ("upright-cylinder", "") => Shape::UprightCylinder {
            diameter,
            height,
            bottom: head,
            top: Head::Flat,
        },
        ("upright-cylinder", "bottom") => Shape::RaisedBottomCylinder {
            diameter,
            height,
            bottom: head,
            top: Head::Flat,
        },
        other => panic!("{}: no shape {other:?}", row.place()),
    };
    Vessel::new(shape).unwrap_or_else(|error| panic!("{}: {error}", row.place()))
}

fn head(row: &Row) -> Head {
    let depth = || inches(row, "depth_in");
    match row.text("head") {
        "cone" => Head::Cone { depth: depth() },
        "ellipsoid" => Head::Ellipsoid { depth: depth() },
        "dish" => Head::Dish { depth: depth() },
        "guppy" => Head::Guppy { depth: depth() },
        "torisphere" => Head::Torisphere {
            dish_radius: inches(row, "dish_radius_in"),
            knuckle_radius: inches(row, "knuckle_radius_in"),
        },
        other => panic!("{}: no head {other}", row.place()),
    }
}

fn inches(row: &Row, column: &str) -> Length {
    metres(row.number(column) * INCH_M)
}
