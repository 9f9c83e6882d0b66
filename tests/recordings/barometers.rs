//! An absolute transmitter against a barometer; and three sensors against the median of a network.

use crate::folder::{expected, number, recording};
use crate::run::{Bench, mean, median, near, replayed};
use standpipe::site::Site;

const ABSOLUTE: &str = "measures = \"absolute\"";

/// The hookup with the site's barometer, and the one with a second transmitter in the headspace.
fn wells(temperature: &str) -> [Site; 2] {
    let transmitters = [("PT-1", ABSOLUTE, "kPa"), ("PT-2", ABSOLUTE, "hPa")];
    let with_barometer = Bench {
        poll_every: "2 min",
        ambient: r#"{ temperature = "10 degC", pressure = "PT-2", at = "0 m" }"#,
        transmitters: &transmitters,
        temperature,
        hookup: r#"{ kind = "barometer", transmitter = "PT-1", at = "0 m", vent = "1 mm" }"#,
        alarms: "",
    };
    let with_headspace = Bench {
        ambient: r#"{ temperature = "10 degC" }"#,
        hookup: r#"{ kind = "two-transmitter", bottom = { transmitter = "PT-1", at = "0 m" }, headspace = { transmitter = "PT-2", at = "8 m" } }"#,
        ..with_barometer
    };
    [with_barometer.site(), with_headspace.site()]
}

#[test]
fn a_well_of_51_days_by_two_hookups() {
    let Some(folder) = recording("baro-well-2min") else {
        return;
    };
    let reference = expected(&folder);
    let temperature = number(&reference, &["basis", "assumed_temp_c"]);
    for site in wells(&format!("{temperature} degC")) {
        let columns = ["p_abs_pa=PT-1:Pa", "p_baro_pa=PT-2:Pa"];
        let replayed = replayed(&site, &folder.join("data.csv"), &columns);
        near(
            "rows",
            replayed.form.rows as f64,
            number(&reference, &["rows"]),
            0.5,
        );
        let levels = replayed.levels();
        let by_time = reference["level_m_at"].as_object().expect("levels by time");
        assert!(by_time.len() >= 5);
        for (time, said_m) in by_time {
            let at = time.parse().expect("a time");
            let reading = replayed.readings.iter().find(|reading| reading.time == at);
            let ours_m = reading
                .and_then(|reading| reading.level_m)
                .expect("a level");
            near(time, ours_m, said_m.as_f64().expect("a level"), 2e-5);
        }
        let said = |key| number(&reference, &["level_m", key]);
        let mean_m = mean(&levels);
        let squares: Vec<f64> = levels
            .iter()
            .map(|level| (level - mean_m).powi(2))
            .collect();
        near("mean", mean_m, said("mean"), 2e-5);
        near(
            "standard deviation",
            mean(&squares).sqrt(),
            said("std"),
            2e-6,
        );
        near(
            "least",
            levels.iter().copied().fold(f64::MAX, f64::min),
            said("min"),
            2e-5,
        );
        near(
            "most",
            levels.iter().copied().fold(f64::MIN, f64::max),
            said("max"),
            2e-5,
        );
    }
}

/// Each sensor's difference from the reference, zeroed on its first 60 days, at its end.
#[test]
fn three_sensors_of_up_to_sixteen_years() {
    let Some(folder) = recording("baro-drift") else {
        return;
    };
    let reference = expected(&folder);
    for sensor in ["a", "c", "d"] {
        let [_, site] = wells("10 degC");
        let mut site = site;
        let day = std::time::Duration::from_secs(86_400);
        standpipe::rehearsal::recording::polled_every(&mut site.plan, day);
        let columns = [
            format!("p_{sensor}_pa=PT-1:Pa"),
            "p_ref_pa=PT-2:Pa".to_owned(),
        ];
        let columns: Vec<&str> = columns.iter().map(String::as_str).collect();
        let replayed = replayed(&site, &folder.join("data.csv"), &columns);
        assert_eq!(replayed.form.rows, 6061);
        let said = |key| number(&reference, &["sensors", sensor, key]);
        // A row counts where the sensor was running; in between its last value grows old.
        let mut table = csv::Reader::from_path(folder.join("data.csv")).expect("the data");
        let place = table.headers().expect("a header").iter();
        let place = place
            .clone()
            .position(|header| header == format!("p_{sensor}_pa"));
        let place = place.expect("its column");
        let running = table.records().filter_map(|row| {
            let row = row.expect("a row");
            let time: standpipe::quantity::Timestamp = row[0].parse().expect("a time");
            (!row[place].is_empty()).then_some(time)
        });
        let running: std::collections::BTreeSet<_> = running.collect();
        let differences = replayed.readings.iter();
        let differences = differences.filter(|reading| running.contains(&reading.time));
        let differences: Vec<f64> = differences
            .filter_map(|reading| reading.difference_pa)
            .collect();
        near(sensor, differences.len() as f64, said("days"), 0.5);
        let zero = median(&differences[..60]);
        let end = median(&differences[differences.len() - 60..]) - zero;
        near(sensor, end, said("last_60_samples_median_pa"), 0.06);
    }
}
