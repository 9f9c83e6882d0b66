//! Normal gravity against published values.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::rows;
use standpipe::physics::gravity::normal;
use standpipe::quantity::{metres, radians};

#[test]
pub fn normal_gravity_of_places_from_pole_to_pole() {
    let rows = rows("gravity.csv");
    assert_eq!(rows.len(), 39);
    for row in &rows {
        let latitude = radians(row.number("latitude_deg").to_radians());
        let found = normal(latitude, metres(row.number("height_m"))).value;
        let published = row.number("g_second_order");
        // 1e-6 m/s²: the rows carry ten digits; real gravity departs by a hundred times as much.
        row.check_absolute("normal gravity", found, published, 1e-6);
    }
}

/// The same at sea level against another ellipsoid's constants, from an independent library.
#[test]
pub fn normal_gravity_agrees_with_the_seawater_equation_s_own() {
    for row in &rows("gravity.csv") {
        let latitude = radians(row.number("latitude_deg").to_radians());
        let found = normal(latitude, metres(0.0)).value;
        let published = row.number("g_teos10_h0");
        // Its GRS 80 constants differ from WGS 84 by up to 2.1e-6 m/s² (the largest in the file).
        row.check_absolute("normal gravity", found, published, 2.5e-6);
    }
}
