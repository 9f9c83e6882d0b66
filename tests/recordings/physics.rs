//! Real recordings through the physics alone: levels that others worked out from the same pressures.

use crate::folder::{expected, recording};
use standpipe::physics::balance::{Balance, Leg};
use standpipe::physics::gravity;
use standpipe::physics::liquid::{Conditions, Liquid};
use standpipe::quantity::{
    AbsolutePressure, DifferentialPressure, MassDensity, Temperature, celsius,
    kilograms_per_cubic_metre, metres,
};

/// The columns named, of every row that has them all.
fn columns<const N: usize>(folder: &std::path::Path, names: [&str; N]) -> Vec<(String, [f64; N])> {
    let mut rows = csv::Reader::from_path(folder.join("data.csv")).expect("the data");
    let header = rows.headers().expect("a header").clone();
    let place = |name: &str| {
        header
            .iter()
            .position(|column| column == name)
            .expect("the column")
    };
    let places = names.map(place);
    let read = rows.records().filter_map(|row| {
        let row = row.expect("a row");
        let numbers = places.map(|place| row[place].parse::<f64>().ok());
        let whole = numbers.iter().all(Option::is_some);
        whole.then(|| (row[0].to_owned(), numbers.map(Option::unwrap_or_default)))
    });
    read.collect()
}

fn water(temperature: Temperature) -> MassDensity {
    let pressure = AbsolutePressure::pascals(101_325.0);
    Liquid::Water { uncertainty: None }
        .density(Conditions {
            temperature,
            pressure,
        })
        .value
}

/// The reference neglects the air above the water; so does this balance.
fn level_m(difference_pa: f64, rho: MassDensity) -> f64 {
    let nothing = kilograms_per_cubic_metre(0.0);
    let leg = |fill: MassDensity| Leg {
        tap: metres(0.0),
        diaphragm: metres(0.0),
        fill,
    };
    let balance = Balance {
        gravity: gravity::standard(),
        liquid: rho,
        gas: nothing,
        high: leg(rho),
        low: leg(nothing),
    };
    balance
        .solve(DifferentialPressure::pascals(difference_pa))
        .value
}

/// 401 days of a vented transmitter with its water temperature: the mean and the root of the mean square
/// of our levels' difference from the published ones.
#[test]
fn a_year_of_a_vented_transmitter() {
    let Some(folder) = recording("vented-15min") else {
        return;
    };
    let reference = expected(&folder);
    let zero_m = reference["offset_m"].as_f64().expect("the offset");
    let rows = columns(&folder, ["p_gauge_pa", "temp_c", "level_ref_m"]);
    let differences: Vec<f64> = rows
        .iter()
        .map(|(_, [p, t, level])| level_m(*p, water(celsius(*t))) + zero_m - level)
        .collect();
    let count = differences.len() as f64;
    let bias = differences.iter().sum::<f64>() / count;
    let rms = (differences
        .iter()
        .map(|difference| difference * difference)
        .sum::<f64>()
        / count)
        .sqrt();
    let said = &reference["with_rho_T_and_g_9.80665"];
    assert_eq!(said["n"].as_f64(), Some(count));
    // Our density is another formula: 0.006 kg/m³ in 2 m are 12 µm.
    assert!(
        (bias - said["bias"].as_f64().expect("bias")).abs() < 2e-5,
        "bias {bias}"
    );
    assert!(
        (rms - said["rms"].as_f64().expect("rms")).abs() < 2e-5,
        "rms {rms}"
    );
}

/// 51 days of an absolute transmitter and a barometer: the second pressure is the low side.
#[test]
fn a_well_compensated_by_its_barometer() {
    let Some(folder) = recording("baro-well-2min") else {
        return;
    };
    let reference = expected(&folder);
    let rho = water(celsius(
        reference["basis"]["assumed_temp_c"]
            .as_f64()
            .expect("a temperature"),
    ));
    let rows = columns(&folder, ["p_abs_pa", "p_baro_pa"]);
    let level = |[absolute, barometer]: [f64; 2]| {
        let difference = AbsolutePressure::pascals(absolute) - AbsolutePressure::pascals(barometer);
        level_m(difference.0.value, rho)
    };
    let mut compared = 0;
    for (time, said_m) in reference["level_m_at"].as_object().expect("levels by time") {
        let row = rows
            .iter()
            .find(|(at, _)| at == time)
            .expect("that time is recorded");
        let ours_m = level(row.1);
        assert!(
            (ours_m - said_m.as_f64().expect("a level")).abs() < 2e-5,
            "{time}: {ours_m}"
        );
        compared += 1;
    }
    assert!(compared >= 5, "{compared} levels were compared");
    let mean_m = rows
        .iter()
        .map(|(_, pressures)| level(*pressures))
        .sum::<f64>()
        / rows.len() as f64;
    assert!(
        (mean_m - reference["level_m"]["mean"].as_f64().expect("a mean")).abs() < 2e-5,
        "mean {mean_m}"
    );
}
