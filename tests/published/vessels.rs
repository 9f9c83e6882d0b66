//! What vessels hold at a level, against another library's closed forms and a numerical integration.
//!
//! The rows of the files carry their source. Heads in the order bottom, top or left, right; levels from the
//! lowest inside point (of a bottom that rises into the vessel: its rim). Not covered by a row: strapping
//! tables and frusta, whose formulas are the straight line and the textbook frustum; deadwood; the shell.

use crate::rows::{Row, rows};
use standpipe::physics::vessel::{Head, Shape, TorisphereStandard, Vessel};
use standpipe::quantity::{cubic_metres, metres};

/// The files give 10 digits.
const RELATIVE_TOLERANCE: f64 = 1e-8;
/// Half of the tenth digit, at the most.
const LAST_DIGIT: f64 = 5e-10;

#[test]
pub fn vessels_hold_what_the_published_forms_say() {
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
            ("horizontal-cylinder", 198),
            ("rectangular", 33),
            ("sphere", 33),
            ("upright-cylinder", 257),
        ]
    );
}

/// As close as the volume's digits tell: near a vanishing surface that is less than the level's own.
#[test]
pub fn published_volumes_lead_back_to_their_levels() {
    for row in rows("vessels.csv") {
        let vessel = vessel(&row);
        let (level_m, volume_m3) = (row.number("level_m"), row.number("volume_m3"));
        let height_m = |volume_m3: f64| vessel.height(cubic_metres(volume_m3)).value;
        let least_m = height_m(volume_m3 * (1.0 - RELATIVE_TOLERANCE));
        let most_m = height_m(volume_m3 * (1.0 + RELATIVE_TOLERANCE));
        assert!(
            least_m <= level_m && level_m <= most_m * (1.0 + LAST_DIGIT),
            "{}: level {level_m} m is not within {least_m} m and {most_m} m",
            row.place()
        );
    }
}

/// The depth of a torispherical head is not asked of anybody: it follows from its radii.
#[test]
pub fn torispheres_are_as_deep_as_published() {
    let mut checked = 0;
    for row in rows("vessels.csv") {
        if row.text("shape") == "upright-cylinder" && row.text("first_head") == "torisphere" {
            let size = |column| metres(row.number(column));
            let bare = Vessel::new(Shape::UprightCylinder {
                diameter: size("diameter_m"),
                height: size("straight_m"),
                bottom: first_head(&row),
                top: Head::Flat,
            });
            let bare = bare.unwrap_or_else(|error| panic!("{}: {error}", row.place()));
            let depth_m = bare.top().value - row.number("straight_m");
            matches(&row, "first_depth_m", depth_m);
            checked += 1;
        }
    }
    assert_eq!(checked, 64);
}

/// The rows' radii per diameter are those that the standards' names stand for.
#[test]
pub fn heads_by_the_name_of_their_standard() {
    let standards = [
        ("PV006", TorisphereStandard::AsmeFlangedAndDished),
        ("PV007", TorisphereStandard::Din28011),
        ("PV008", TorisphereStandard::Din28013),
    ];
    for (case, standard) in standards {
        let row = rows("vessels.csv")
            .into_iter()
            .find(|row| row.text("case") == case)
            .unwrap_or_else(|| panic!("no row {case}"));
        let Head::Torisphere {
            dish_radius,
            knuckle_radius,
        } = standard.of_diameter(metres(row.number("diameter_m")))
        else {
            panic!("{standard:?} is no torisphere")
        };
        matches(&row, "first_dish_radius_m", dish_radius.value);
        matches(&row, "first_knuckle_radius_m", knuckle_radius.value);
    }
}

fn matches(row: &Row, column: &str, ours: f64) {
    row.check_relative(column, ours, row.number(column), RELATIVE_TOLERANCE);
}

fn vessel(row: &Row) -> Vessel {
    let size = |column| metres(row.number(column));
    let shape = match (row.text("shape"), row.text("inward")) {
        ("upright-cylinder", "") => Shape::UprightCylinder {
            diameter: size("diameter_m"),
            height: size("straight_m"),
            bottom: first_head(row),
            top: second_head(row),
        },
        ("upright-cylinder", "bottom") => Shape::RaisedBottomCylinder {
            diameter: size("diameter_m"),
            height: size("straight_m"),
            bottom: first_head(row),
            top: second_head(row),
        },
        ("horizontal-cylinder", "") => Shape::HorizontalCylinder {
            diameter: size("diameter_m"),
            length: size("straight_m"),
            left: first_head(row),
            right: second_head(row),
        },
        ("sphere", "") => Shape::Sphere {
            diameter: size("diameter_m"),
        },
        ("rectangular", "") => Shape::Rectangular {
            length: size("length_m"),
            width: size("width_m"),
            height: size("height_m"),
        },
        other => panic!("{}: no shape {other:?}", row.place()),
    };
    Vessel::new(shape).unwrap_or_else(|error| panic!("{}: {error}", row.place()))
}

fn first_head(row: &Row) -> Head {
    head(
        row,
        "first_head",
        "first_depth_m",
        ("first_dish_radius_m", "first_knuckle_radius_m"),
    )
}

fn second_head(row: &Row) -> Head {
    head(
        row,
        "second_head",
        "second_depth_m",
        ("second_dish_radius_m", "second_knuckle_radius_m"),
    )
}

fn head(row: &Row, family: &str, depth: &str, radii: (&str, &str)) -> Head {
    let size = |column| metres(row.number(column));
    match row.text(family) {
        "flat" => Head::Flat,
        "hemisphere" => Head::Hemisphere,
        "cone" => Head::Cone { depth: size(depth) },
        "ellipsoid" => Head::Ellipsoid { depth: size(depth) },
        "dish" => Head::Dish { depth: size(depth) },
        "guppy" => Head::Guppy { depth: size(depth) },
        "torisphere" => Head::Torisphere {
            dish_radius: size(radii.0),
            knuckle_radius: size(radii.1),
        },
        other => panic!("{}: no head {other}", row.place()),
    }
}
