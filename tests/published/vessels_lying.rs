//! Horizontal cylinders that are sloped, or of elliptical section.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::{Row, rows};
use standpipe::physics::vessel::{Head, Shape, Vessel};
use standpipe::quantity::{cubic_metres, metres, radians};

/// The files give 10 digits.
const RELATIVE_TOLERANCE: f64 = 1e-8;

#[test]
pub fn sloped_cylinders() {
    let mut checked = 0;
    for row in rows("vessels-sloped.csv") {
        for side in [1.0, -1.0] {
            let vessel = sloped(&row, side);
            let level = metres(row.number("level_m"));
            let volume = vessel.volume(level);
            matches(&row, "volume_m3", volume.value);
            matches(&row, "level_m", vessel.height(volume).value);
            // what a pressure tap at mid-length sees of it
            matches(&row, "elevation_m", vessel.elevation(level).value);
            let elevation = metres(row.number("elevation_m"));
            matches(&row, "level_m", vessel.level(elevation).value);
            checked += 1;
        }
    }
    assert_eq!(checked, 50);
}

/// The lower end still holds liquid when mid-length is dry: down to −(L/2)·tan(slope).
#[test]
pub fn a_sloped_cylinder_empties_at_its_lower_end() {
    for row in rows("vessels-sloped.csv") {
        let vessel = sloped(&row, 1.0);
        let fall_m = 0.5 * row.number("length_m") * row.number("slope_deg").to_radians().tan();
        row.check_absolute("bottom", vessel.bottom().value, -fall_m, 1e-12);
        let top_m = row.number("diameter_m") + fall_m;
        row.check_absolute("top", vessel.top().value, top_m, 1e-12);
        assert!(vessel.volume(vessel.bottom()) <= cubic_metres(1e-15));
        if fall_m > 0.0 {
            assert!(vessel.volume(metres(0.0)) > cubic_metres(0.0));
        }
    }
}

#[test]
pub fn elliptical_sections() {
    let mut checked = 0;
    for row in rows("vessels-elliptical.csv") {
        let size = |column| metres(row.number(column));
        let vessel = Vessel::new(Shape::EllipticalCylinder {
            width: size("width_m"),
            height: size("height_m"),
            length: size("length_m"),
            slope: radians(0.0),
        });
        let vessel = vessel.unwrap_or_else(|error| panic!("{}: {error}", row.place()));
        let volume = vessel.volume(size("level_m"));
        matches(&row, "volume_m3", volume.value);
        matches(&row, "integrated_volume_m3", volume.value);
        matches(&row, "capacity_m3", vessel.capacity().value);
        matches(&row, "level_m", vessel.height(volume).value);
        checked += 1;
    }
    assert_eq!(checked, 9);
}

fn sloped(row: &Row, side: f64) -> Vessel {
    let vessel = Vessel::new(Shape::SlopedCylinder {
        diameter: metres(row.number("diameter_m")),
        length: metres(row.number("length_m")),
        left: Head::Flat,
        right: Head::Flat,
        slope: radians(side * row.number("slope_deg").to_radians()),
    });
    vessel.unwrap_or_else(|error| panic!("{}: {error}", row.place()))
}

fn matches(row: &Row, column: &str, ours: f64) {
    row.check_relative(column, ours, row.number(column), RELATIVE_TOLERANCE);
}
