//! Saturated water and steam, and water under pressure, against IF97 and IAPWS-95.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::{Row, rows};
use standpipe::physics::balance::{Balance, Leg};
use standpipe::physics::liquid::{Conditions, Density, Gas, Liquid};
use standpipe::quantity::{
    AbsolutePressure, DifferentialPressure, celsius, kelvin, metres, metres_per_second_squared,
};

const SATURATED: Liquid = Liquid::SaturatedWater { uncertainty: None };
const COMPRESSED: Liquid = Liquid::CompressedWater { uncertainty: None };

/// Where the saturation line leaves regions 1 and 2, MPa (IAPWS R7-97(2012), section 3).
const REGION_3_MPA: f64 = 16.5292;
/// What the tables print, and what another implementation rounds to.
const IF97: f64 = 1e-6;
/// Above it the tables are made with the release's backward equations of region 3, which keep to 1e-5.
const IF97_REGION_3: f64 = 1e-5;
/// How far IF97 and IAPWS-95 are apart: saturated liquid, saturated vapour, compressed water.
const IAPWS_95: [f64; 3] = [2e-4, 5e-4, 2e-5];

fn at_pressure(p_mpa: f64) -> Conditions {
    Conditions {
        temperature: celsius(0.0),
        pressure: AbsolutePressure::pascals(p_mpa * 1e6),
    }
}

fn in_range(row: &Row, density: Density) -> f64 {
    assert!(density.in_range, "{}", row.place());
    density.value.value
}

#[test]
pub fn saturated_water_and_steam() {
    let rows = rows("saturated-water-steam.csv");
    assert_eq!(rows.len(), 31);
    for row in &rows {
        let p_mpa = row.number("p_mpa_abs");
        let state = at_pressure(p_mpa);
        let tolerance = if p_mpa > REGION_3_MPA {
            IF97_REGION_3
        } else {
            IF97
        };
        let (water, steam) = (SATURATED.density(state), Gas::Steam.density(state));
        let (liquid, vapour) = (in_range(row, water), in_range(row, steam));
        row.check_relative("liquid", liquid, row.number("rho_liq_if97"), tolerance);
        row.check_relative("vapour", vapour, row.number("rho_vap_if97"), tolerance);
        row.check_relative("liquid", liquid, row.number("rho_liq_iapws95"), IAPWS_95[0]);
        row.check_relative("vapour", vapour, row.number("rho_vap_iapws95"), IAPWS_95[1]);
        // Each stated uncertainty covers the other formula.
        let uncertainty = (water.uncertainty.value, steam.uncertainty.value);
        row.check_absolute(
            "liquid",
            liquid,
            row.number("rho_liq_iapws95"),
            uncertainty.0,
        );
        row.check_absolute(
            "vapour",
            vapour,
            row.number("rho_vap_iapws95"),
            uncertainty.1,
        );
        let boiling = SATURATED.boiling_point(state).expect("it boils");
        let published = celsius(row.number("t_sat_c_if97")).value;
        row.check_absolute("boiling point, K", boiling.value, published, 1e-5);
    }
}

#[test]
pub fn water_under_pressure() {
    let rows = rows("compressed-water.csv");
    assert_eq!(rows.len(), 42);
    for row in &rows {
        let state = Conditions {
            temperature: celsius(row.number("t_c")),
            ..at_pressure(row.number("p_mpa_abs"))
        };
        let density = in_range(row, COMPRESSED.density(state));
        row.check_relative("density", density, row.number("rho_if97"), IF97);
        row.check_relative("density", density, row.number("rho_iapws95"), IAPWS_95[2]);
    }
}

/// The number after "name=" in the column `input`.
fn input(row: &Row, name: &str) -> f64 {
    let text = row.text("input");
    let parts = text.split("; ").find_map(|part| part.strip_prefix(name));
    let number = parts.and_then(|part| part.split(' ').next());
    number
        .and_then(|number| number.parse().ok())
        .unwrap_or_else(|| panic!("{}: {name} in {text:?}", row.place()))
}

fn at(t_k: f64, p_mpa: f64) -> Conditions {
    Conditions {
        temperature: kelvin(t_k),
        ..at_pressure(p_mpa)
    }
}

/// The printed check values of R7-97 and R6-95. Superheated steam and water above 100 MPa are no liquid of
/// the site file: they must be flagged.
#[test]
pub fn the_check_values_of_the_releases() {
    let rows = rows("iapws-verification.csv");
    assert_eq!(rows.len(), 32);
    let (mut checked, mut flagged) = (0, 0);
    let mut saturation_mpa = 0.0;
    for row in &rows {
        let printed = row.number("printed");
        match (row.text("table"), row.text("quantity")) {
            ("Table 5 (region 1)", "v") => {
                let density = COMPRESSED.density(at(input(row, "T="), input(row, "p=")));
                row.check_relative("volume", 1.0 / in_range(row, density), printed, 1e-8);
            }
            ("Table 15 (region 2)", "v") => {
                let density = COMPRESSED.density(at(input(row, "T="), input(row, "p=")));
                row.mark_met();
                assert!(!density.in_range, "{}", row.place());
                flagged += 1;
                continue;
            }
            ("Table 35 (region 4)", "p_sat") => {
                let boiling = SATURATED.boiling_point(at_pressure(printed));
                let boiling_k = boiling.expect("it boils").value;
                row.check_relative("boiling point", boiling_k, input(row, "T="), 1e-8);
            }
            ("Table 36 (region 4)", "T_sat") => {
                let boiling = SATURATED.boiling_point(at_pressure(input(row, "p=")));
                let boiling_k = boiling.expect("it boils").value;
                row.check_relative("boiling point", boiling_k, printed, 1e-8);
            }
            ("Table 7", "p") => {
                let rho = input(row, "rho=");
                let density = COMPRESSED.density(at(input(row, "T="), printed));
                if rho < 800.0 || printed > 100.0 {
                    row.mark_met();
                    assert!(!density.in_range, "{}", row.place());
                    flagged += 1;
                    continue;
                }
                row.check_relative("density", in_range(row, density), rho, IAPWS_95[2]);
            }
            ("Table 8", "p_sat") => {
                saturation_mpa = printed;
                let boiling = SATURATED.boiling_point(at_pressure(printed));
                let boiling_k = boiling.expect("it boils").value;
                row.check_absolute("boiling point, K", boiling_k, input(row, "T="), 0.01);
            }
            ("Table 8", "rho_liq") => {
                let density = SATURATED.density(at_pressure(saturation_mpa));
                row.check_relative("liquid", in_range(row, density), printed, IAPWS_95[0]);
            }
            ("Table 8", "rho_vap") => {
                let density = Gas::Steam.density(at_pressure(saturation_mpa));
                row.check_relative("vapour", in_range(row, density), printed, IAPWS_95[1]);
            }
            (table, quantity) => panic!("{}: {table}, {quantity}", row.place()),
        }
        checked += 1;
    }
    assert_eq!((checked, flagged), (21, 11));
}

/// A drum between two taps, its reference leg full of cold water at the drum's pressure.
#[test]
pub fn the_level_of_a_boiler_drum() {
    let rows = rows("boiler-drum.csv");
    assert_eq!(rows.len(), 80);
    for row in &rows {
        let drum = at_pressure(row.number("p_mpa_abs"));
        let leg = Conditions {
            temperature: celsius(row.number("t_leg_c")),
            ..drum
        };
        let (lower, upper) = (metres(0.0), metres(row.number("tap_span_m")));
        let balance = Balance {
            gravity: metres_per_second_squared(row.number("g")),
            liquid: SATURATED.density(drum).value,
            gas: Gas::Steam.density(drum).value,
            high: Leg {
                tap: lower,
                diaphragm: lower,
                fill: SATURATED.density_in_leg(leg).value,
            },
            low: Leg {
                tap: upper,
                diaphragm: lower,
                fill: COMPRESSED.density(leg).value,
            },
        };
        let level_m = row.number("level_above_lower_tap_m");
        let published_pa = row.number("dp_hp_minus_lp_pa");
        let ours_pa = balance.differential_pressure(metres(level_m)).0.value;
        row.check_absolute("difference, Pa", ours_pa, published_pa, 0.5);
        let solved = balance.solve(DifferentialPressure::pascals(published_pa));
        row.check_absolute("level, m", solved.value, level_m, 1e-4);
    }
}
