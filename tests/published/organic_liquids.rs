//! Liquids that have no formula of their own here: a table of their rows, as a site file would hold it.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::{Row, rows};
use standpipe::physics::liquid::{Conditions, DensityTable, Liquid};
use standpipe::quantity::{AbsolutePressure, celsius, kilograms_per_cubic_metre};

const FLUIDS: [&str; 5] = ["ethanol", "methanol", "toluene", "n-heptane", "acetone"];

fn table(rows: &[&Row]) -> Liquid {
    let rows = rows.iter().map(|row| {
        let density = kilograms_per_cubic_metre(row.number("rho_kg_m3"));
        (celsius(row.number("t_c")), density)
    });
    Liquid::Table(DensityTable::new(rows.collect(), None).expect("temperatures rise"))
}

fn check(liquid: &Liquid, row: &Row, tolerance: f64) {
    let density = liquid.density(Conditions {
        temperature: celsius(row.number("t_c")),
        pressure: AbsolutePressure::pascals(row.number("p_pa_abs")),
    });
    assert!(density.in_range, "{}", row.place());
    row.check_relative(
        "density",
        density.value.value,
        row.number("rho_kg_m3"),
        tolerance,
    );
}

/// Every row is met by the table of all; every second one, left out, by a straight line between its neighbours
/// within what the row is good for.
#[test]
pub fn tables_of_organic_liquids() {
    let all = rows("organic-liquids.csv");
    let (mut met, mut held_out) = (0, 0);
    for fluid in FLUIDS {
        let own: Vec<&Row> = all
            .iter()
            .filter(|row| row.text("fluid") == fluid)
            .collect();
        let whole = table(&own);
        for row in &own {
            check(&whole, row, 1e-12);
            met += 1;
        }
        let kept: Vec<&Row> = own.iter().copied().step_by(2).collect();
        let half = table(&kept);
        // A last row without a neighbour above it is out of the table's range.
        for pair in own.windows(3).step_by(2) {
            check(&half, pair[1], pair[1].number("rel_tolerance"));
            held_out += 1;
        }
    }
    assert_eq!((met, held_out), (59, 25));
}
