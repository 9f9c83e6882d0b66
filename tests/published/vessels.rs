//! What vessels hold at a level, against another library's closed forms and a numerical integration.
//!
//! The rows of both files carry their source. Heads in the order bottom, top or left, right; levels from
//! the lowest inside point. Not covered by a row: strapping tables, whose only formula is the straight line.

use crate::rows::{Row, rows};
use standpipe::physics::vessel::{Head, Shape, Vessel};
use standpipe::quantity::{Length, cubic_metres, metres};

/// The files give 10 digits.
const RELATIVE_TOLERANCE: f64 = 1e-8;

/// Inch, exact: NIST SP 811 (2008) appendix B.8.
const INCH_M: f64 = 0.0254;
/// Gallon (US) of 231 in³: NIST Handbook 44 appendix C (from memory).
const US_GALLON_M3: f64 = 231.0 * INCH_M * INCH_M * INCH_M;

#[test]
fn vessels_hold_what_the_published_forms_say() {
    let mut shapes = std::collections::BTreeMap::new();
    for row in rows("vessels.csv") {
        let vessel = vessel(&row);
        let level = metres(row.number("level_m"));
        matches(&row, "volume_m3", vessel.volume(level).value);
        matches(&row, "integrated_volume_m3", vessel.volume(level).value);
        matches(&row, "capacity_m3", vessel.capacity().value);
        matches(&row, "height_m", vessel.top().value);
        *shapes.entry(row.text("shape").to_owned()).or_insert(0) += 1;
    }
    let counts: Vec<(&str, i32)> = shapes
        .iter()
        .map(|(shape, n)| (shape.as_str(), *n))
        .collect();
    assert_eq!(
        counts,
        [
            ("horizontal-cylinder", 99),
            ("rectangular", 33),
            ("sphere", 33),
            ("upright-cylinder", 134),
        ]
    );
}

/// As close as the volume's digits tell: near a vanishing surface that is less than the level's own.
#[test]
fn published_volumes_lead_back_to_their_levels() {
    for row in rows("vessels.csv") {
        let vessel = vessel(&row);
        let (level_m, volume_m3) = (row.number("level_m"), row.number("volume_m3"));
        let height_m = |volume_m3: f64| vessel.height(cubic_metres(volume_m3)).value;
        let least_m = height_m(volume_m3 * (1.0 - RELATIVE_TOLERANCE));
        let most_m = height_m(volume_m3 * (1.0 + RELATIVE_TOLERANCE));
        assert!(
            least_m <= level_m && level_m <= most_m * (1.0 + f64::EPSILON),
            "{}: level {level_m} m is not within {least_m} m and {most_m} m",
            row.place()
        );
    }
}

#[test]
fn vessels_in_inches_and_gallons() {
    let mut checked = 0;
    for row in rows("vessels-inches.csv") {
        let vessel = vessel_in_inches(&row);
        let level = inches(&row, "level_in");
        let ours_usgal = vessel.volume(level).value / US_GALLON_M3;
        let (published, tolerance) = (
            row.number("volume_usgal"),
            row.number("abs_tolerance_usgal"),
        );
        row.check_absolute("volume_usgal", ours_usgal, published, tolerance);
        checked += 1;
    }
    assert_eq!(checked, 8);
}

fn matches(row: &Row, column: &str, ours: f64) {
    row.check_relative(column, ours, row.number(column), RELATIVE_TOLERANCE);
}

fn vessel(row: &Row) -> Vessel {
    let size = |column| metres(row.number(column));
    let shape = match row.text("shape") {
        "upright-cylinder" => Shape::UprightCylinder {
            diameter: size("diameter_m"),
            height: size("straight_m"),
            bottom: head(row, "first_head", "first_depth_m"),
            top: head(row, "second_head", "second_depth_m"),
        },
        "horizontal-cylinder" => Shape::HorizontalCylinder {
            diameter: size("diameter_m"),
            length: size("straight_m"),
            left: head(row, "first_head", "first_depth_m"),
            right: head(row, "second_head", "second_depth_m"),
        },
        "sphere" => Shape::Sphere {
            diameter: size("diameter_m"),
        },
        "rectangular" => Shape::Rectangular {
            length: size("length_m"),
            width: size("width_m"),
            height: size("height_m"),
        },
        other => panic!("{}: no shape {other}", row.place()),
    };
    Vessel::new(shape).unwrap_or_else(|error| panic!("{}: {error}", row.place()))
}

fn head(row: &Row, family: &str, depth: &str) -> Head {
    match row.text(family) {
        "flat" => Head::Flat,
        "hemisphere" => Head::Hemisphere,
        "cone" => Head::Cone {
            depth: metres(row.number(depth)),
        },
        "ellipsoid" => Head::Ellipsoid {
            depth: metres(row.number(depth)),
        },
        other => panic!("{}: no head {other}", row.place()),
    }
}

fn vessel_in_inches(row: &Row) -> Vessel {
    let depth = inches(row, "depth_in");
    let head = match row.text("head") {
        "cone" => Head::Cone { depth },
        "ellipsoid" => Head::Ellipsoid { depth },
        other => panic!("{}: no head {other}", row.place()),
    };
    let diameter = inches(row, "diameter_in");
    let shape = match row.text("shape") {
        "horizontal-cylinder" => Shape::HorizontalCylinder {
            diameter,
            length: inches(row, "length_in"),
            left: head,
            right: head,
        },
        // no side is given: any that ends above the level holds the same below it
        "upright-cylinder" => Shape::UprightCylinder {
            diameter,
            height: inches(row, "level_in"),
            bottom: head,
            top: Head::Flat,
        },
        other => panic!("{}: no shape {other}", row.place()),
    };
    Vessel::new(shape).unwrap_or_else(|error| panic!("{}: {error}", row.place()))
}

fn inches(row: &Row, column: &str) -> Length {
    metres(row.number(column) * INCH_M)
}
