//! Glycols, sea water, and liquids under their own vapour.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::{Row, rows};
use standpipe::physics::liquid::{
    Conditions, Gas, Glycol, GlycolKind, Liquid, SaturatedRow, SaturatedTable, SeaWater,
};
use standpipe::quantity::{AbsolutePressure, celsius, kilograms_per_cubic_metre};

fn conditions(row: &Row) -> Conditions {
    Conditions {
        temperature: celsius(row.number("t_c")),
        pressure: AbsolutePressure::pascals(row.number("p_pa_abs")),
    }
}

fn check(row: &Row, liquid: &Liquid) {
    let density = liquid.density(conditions(row));
    assert!(density.in_range, "{}", row.place());
    let (ours, published) = (density.value.value, row.number("rho_kg_m3"));
    row.check_relative("density", ours, published, row.number("rel_tolerance"));
    row.check_absolute("density", ours, published, density.uncertainty.value);
}

#[test]
pub fn glycols() {
    let rows = rows("glycols.csv");
    assert_eq!(rows.len(), 124);
    for row in &rows {
        let kind = match row.text("kind") {
            "ethylene" => GlycolKind::Ethylene,
            "propylene" => GlycolKind::Propylene,
            other => panic!("{}: {other:?}", row.place()),
        };
        let mixture = Glycol::new(kind, row.number("mass_share"), None).expect("within the range");
        check(row, &Liquid::Glycol(mixture));
    }
}

#[test]
pub fn sea_water() {
    let rows = rows("sea-water.csv");
    assert_eq!(rows.len(), 32);
    for row in &rows {
        let salinity = row.number("absolute_salinity_g_kg") / 1e3;
        let sea = SeaWater::new(salinity, None).expect("within the range");
        check(row, &Liquid::SeaWater(sea));
    }
}

fn saturated_rows(rows: &[&Row]) -> Vec<SaturatedRow> {
    rows.iter()
        .map(|row| {
            (
                celsius(row.number("t_c")),
                kilograms_per_cubic_metre(row.number("rho_liquid_kg_m3")),
                kilograms_per_cubic_metre(row.number("rho_vapour_kg_m3")),
            )
        })
        .collect()
}

/// The fluids whose rows lie close enough for one to be left out.
const CLOSE: [&str; 3] = ["propane", "ammonia", "n-butane"];

/// A table of the other rows of each fluid, and the row that was left out. Linear between rows 10 to 25 K apart the
/// liquid is met within what the rows are good for, its vapour, which rises steeply, to 10 %: half the distance
/// makes that a quarter.
#[test]
pub fn liquids_under_their_own_vapour() {
    let rows = rows("saturated-fluids.csv");
    assert_eq!(rows.len(), 35);
    let mut held_out = 0;
    for fluid in [
        "propane",
        "ammonia",
        "n-butane",
        "carbon dioxide",
        "nitrogen",
        "methane",
    ] {
        let own: Vec<&Row> = rows
            .iter()
            .filter(|row| row.text("fluid") == fluid)
            .collect();
        let all = SaturatedTable::new(&saturated_rows(&own), None).expect("a table");
        for row in &own {
            let (liquid, vapour) = both(&all, row);
            row.check_relative("liquid", liquid, row.number("rho_liquid_kg_m3"), 1e-12);
            row.check_relative("vapour", vapour, row.number("rho_vapour_kg_m3"), 1e-12);
        }
        for (index, row) in own.iter().enumerate().take(own.len() - 1).skip(1) {
            let neighbours = [own[index - 1], own[index + 1]];
            let gap_k = neighbours[1].number("t_c") - neighbours[0].number("t_c");
            if gap_k > 25.0 || !CLOSE.contains(&fluid) {
                continue;
            }
            let others: Vec<&Row> = own
                .iter()
                .copied()
                .filter(|other| !std::ptr::eq(*other, *row))
                .collect();
            let table = SaturatedTable::new(&saturated_rows(&others), None).expect("a table");
            let (liquid, vapour) = both(&table, row);
            let tolerance = row.number("rel_tolerance");
            row.check_relative("liquid", liquid, row.number("rho_liquid_kg_m3"), tolerance);
            row.check_relative("vapour", vapour, row.number("rho_vapour_kg_m3"), 0.1);
            held_out += 1;
        }
    }
    assert_eq!(held_out, 16);
}

fn both(table: &SaturatedTable, row: &Row) -> (f64, f64) {
    let liquid = Liquid::SaturatedTable(table.clone()).density(conditions(row));
    let vapour = Gas::Vapour(table.clone()).density(conditions(row));
    assert!(liquid.in_range && vapour.in_range, "{}", row.place());
    (liquid.value.value, vapour.value.value)
}
