//! A vented transmitter of thirteen months, and one that falls dry.

use crate::folder::{expected, number, recording};
use crate::run::{Bench, mean, near, replayed, shows_at_most};
use standpipe::engine::alarm::AlarmState;
use standpipe::engine::{EventKind, Quality};
use standpipe::quantity::Timestamp;
use std::collections::BTreeSet;

/// The levels of 401 days against the published ones: mean and root of the mean square of the difference.
#[test]
fn thirteen_months_of_a_vented_transmitter() {
    let Some(folder) = recording("vented-15min") else {
        return;
    };
    let reference = expected(&folder);
    let site = Bench {
        poll_every: "15 min",
        ambient: r#"{ temperature = "10 degC" }"#,
        transmitters: &[("PT-1", "", "Pa"), ("TT-1", "reads = \"temperature\"", "degC")],
        temperature: "TT-1",
        hookup: r#"{ kind = "vented", transmitter = "PT-1", at = "0 m", vent = "1 mm", high = { tap = "0 m" } }"#,
        alarms: "",
    }
    .site();
    let columns = ["p_gauge_pa=PT-1", "temp_c=TT-1"];
    let replayed = replayed(&site, &folder.join("data.csv"), &columns);
    let mut table = csv::Reader::from_path(folder.join("data.csv")).expect("the data");
    let published = table.records().map(|row| {
        let row = row.expect("a row");
        let time: Timestamp = row[0].parse().expect("a time");
        (time, row[4].parse::<f64>().expect("a level"))
    });
    let published: Vec<(Timestamp, f64)> = published.collect();
    // One gap of 75 minutes: what grew old in it is a reading of its own, and no row.
    assert_eq!(replayed.form.rows, published.len() as u64);
    assert_eq!(replayed.form.rows_after_a_gap, 1);
    let rows = replayed
        .readings
        .iter()
        .filter(|reading| reading.quality == Quality::Good);
    let zero_m = number(&reference, &["offset_m"]);
    let differences = rows.zip(&published).map(|(ours, (time, published_m))| {
        assert_eq!(ours.time, *time);
        ours.level_m.expect("a level") + zero_m - published_m
    });
    let differences: Vec<f64> = differences.collect();
    assert_eq!(differences.len(), published.len());
    let said = |key| number(&reference, &["with_rho_T_and_g_9.80665", key]);
    let squares: Vec<f64> = differences.iter().map(|d| d * d).collect();
    // Our density is another formula: 0.006 kg/m³ in 2 m are 12 µm.
    near("bias", mean(&differences), said("bias"), 2e-5);
    near("rms", mean(&squares).sqrt(), said("rms"), 2e-5);
}

/// Eight months, the last three weeks of them in air, as its keeper labelled them. The air pressure is not in
/// the source; the reference assumes the standard one, and its numbers swing with the weather.
#[test]
fn a_sensor_that_fell_dry_shows_no_water() {
    let Some(folder) = recording("dry-hourly") else {
        return;
    };
    let reference = expected(&folder);
    let apparent = |key| number(&reference, &["apparent_level_m", key]);
    // Between the least of the water and the most of the air.
    let limit_m = (apparent("valid_min") + apparent("invalid_max")) / 2.0;
    let site = Bench {
        poll_every: "1 h",
        ambient: r#"{ temperature = "10 degC", pressure = "101325 Pa", at = "0 m" }"#,
        transmitters: &[
            ("PT-1", "measures = \"absolute\"", "hPa"),
            ("TT-1", "reads = \"temperature\"", "degC"),
        ],
        temperature: "TT-1",
        hookup: r#"{ kind = "barometer", transmitter = "PT-1", at = "0 m", vent = "1 mm" }"#,
        alarms: &format!(
            "[[tank.alarm]]\ncode = \"LAL\"\nwatch = \"level\"\nbelow = \"{limit_m} m\"\n"
        ),
    }
    .site();
    let columns = ["p_abs_pa=PT-1:Pa", "temp_c=TT-1"];
    let replayed = replayed(&site, &folder.join("data.csv"), &columns);
    near(
        "rows",
        replayed.form.rows as f64,
        number(&reference, &["rows"]),
        0.5,
    );
    let mut labels = csv::Reader::from_path(folder.join("labels.csv")).expect("the labels");
    let dry = labels
        .records()
        .map(|row| row.expect("a row")[0].parse().expect("a time"));
    let dry: BTreeSet<Timestamp> = dry.collect();
    let (mut in_air, mut wet) = (0, Vec::new());
    for reading in &replayed.readings {
        if dry.contains(&reading.time) {
            in_air += 1;
            let highest_m = apparent("invalid_max") + 1e-5;
            assert!(shows_at_most(reading, highest_m), "{reading:?}");
        } else {
            wet.push(reading.level_m.expect("water has a level"));
        }
    }
    assert_eq!(in_air, dry.len());
    near(
        "least",
        wet.iter().copied().fold(f64::MAX, f64::min),
        apparent("valid_min"),
        2e-5,
    );
    near(
        "most",
        wet.iter().copied().fold(f64::MIN, f64::max),
        apparent("valid_max"),
        2e-5,
    );
    near(
        "median",
        crate::run::median(&wet),
        apparent("valid_median"),
        2e-5,
    );
    // It comes with the first sample in air and does not clear any more.
    let alarms = replayed
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Alarm && event.code.as_deref() == Some("LAL"));
    let alarms: Vec<_> = alarms.map(|event| (event.time, event.to)).collect();
    let first = *dry.first().expect("labels");
    assert_eq!(alarms, [(first, Some(AlarmState::Unacknowledged))]);
}
