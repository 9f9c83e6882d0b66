//! A laboratory tank of two hours, and its sight tube: gain and zero, and the crossings of a limit.

use crate::folder::{expected, number, recording};
use crate::run::{Bench, median, near, of, replayed};
use standpipe::engine::EventKind;
use standpipe::engine::alarm::AlarmState;
use standpipe::site::Site;

const COLUMN: &[&str] = &["p_gauge_pa=PT-1:Pa"];

/// The vent just above the tap leaves the air out of the balance, as the reference does: 0.1 mm of it is 0.1 µm.
fn site(correction: &str, alarms: &str) -> Site {
    let hookup = format!(
        r#"{{ kind = "vented", transmitter = "PT-1", at = "0 m", vent = "0.1 mm", high = {{ tap = "0 m" }}{correction} }}"#
    );
    Bench {
        poll_every: "1 s",
        ambient: r#"{ temperature = "20 degC" }"#,
        transmitters: &[("PT-1", "", "kPa")],
        temperature: "20 degC",
        hookup: &hookup,
        alarms,
    }
    .site()
}

/// The correction of the reference, as the site file takes it: metres of water at 20 °C for pascals.
fn corrected(reference: &serde_json::Value) -> String {
    let per_pa = number(reference, &["least_squares_correction", "m_per_pa"]);
    let offset_m = number(reference, &["least_squares_correction", "offset_m"]);
    // Water at 20 °C: 998.2067 kg/m³ (Tanaka et al. 2001), standard gravity.
    let gain = per_pa * 998.2067 * 9.80665;
    format!(r#", correction = {{ gain = {gain}, offset = "{offset_m} m" }}"#)
}

/// The eighteen points, a second apart, as a recording and as manual readings.
#[test]
fn the_sight_tube_finds_gain_and_zero() {
    let Some(folder) = recording("pilot-tank") else {
        return;
    };
    let reference = expected(&folder);
    let mut points = csv::Reader::from_path(folder.join("manual.csv")).expect("the points");
    let mut data = String::from("seconds,p_gauge_pa\n");
    let mut manual = String::from("seconds,tank,level,unit,by\n");
    let mut count = 0;
    for (second, point) in points.records().enumerate() {
        let point = point.expect("a point");
        data += &format!("{second},{}\n", &point[2]);
        manual += &format!("{second},tank,{},m,Ada\n", &point[1]);
        count += 1;
    }
    let replayed = of(&site("", ""), data.as_bytes(), COLUMN, Some(&manual));
    let [manual] = &replayed.form.manual[..] else {
        panic!("one tank");
    };
    assert_eq!(manual.readings.len(), count);
    // Another density of water (0.006 kg/m³ of 998) is 5 µm here; the reference has seven digits.
    let bias = manual.mean_difference_m.expect("a mean");
    near(
        "bias",
        bias,
        number(&reference, &["sight_tube_vs_uncalibrated_m", "bias"]),
        1e-5,
    );
    let correction = manual.correction.as_ref().expect("a line");
    let per_pa = correction.gain / (998.2067 * 9.80665);
    let said = |key| number(&reference, &["least_squares_correction", key]);
    near("m/Pa", per_pa, said("m_per_pa"), 1e-5 * said("m_per_pa"));
    near("offset", correction.offset_m, said("offset_m"), 1e-6);
    // The reference's root of the mean square divides by n, ours by n − 2.
    let rms = number(
        &reference,
        &["least_squares_correction", "residual_m", "rms"],
    );
    let residual = rms * (count as f64 / (count as f64 - 2.0)).sqrt();
    near("residual", correction.residual_m, residual, 1e-7);
    // Both are told apart from chance.
    assert!((correction.gain - 1.0).abs() > 20.0 * correction.gain_standard_error);
    assert!(correction.offset_m.abs() > 20.0 * correction.offset_standard_error_m);
}

/// With what it suggests in the site file the eighteen points leave what the reference leaves.
#[test]
fn a_two_point_correction_leaves_what_the_reference_leaves() {
    let Some(folder) = recording("pilot-tank") else {
        return;
    };
    let reference = expected(&folder);
    let mut points = csv::Reader::from_path(folder.join("manual.csv")).expect("the points");
    let (mut data, mut levels) = (String::from("seconds,PT-1 [Pa]\n"), Vec::new());
    for (second, point) in points.records().enumerate() {
        let point = point.expect("a point");
        data += &format!("{second},{}\n", &point[2]);
        levels.push(point[1].parse::<f64>().expect("a level"));
    }
    let replayed = of(
        &site(&corrected(&reference), ""),
        data.as_bytes(),
        &[],
        None,
    );
    let left = replayed.levels().into_iter().zip(&levels);
    let left: Vec<f64> = left.map(|(ours, level)| ours - level).collect();
    let squares: f64 = left.iter().map(|left| left * left).sum();
    let said = |key| number(&reference, &["least_squares_correction", "residual_m", key]);
    near(
        "rms",
        (squares / left.len() as f64).sqrt(),
        said("rms"),
        5e-6,
    );
    let most = left.iter().fold(0.0_f64, |most, left| most.max(left.abs()));
    near("most", most, said("max_abs"), 1e-5);
}

#[test]
fn two_hours_cross_half_a_metre_six_times() {
    let Some(folder) = recording("pilot-tank") else {
        return;
    };
    let reference = expected(&folder);
    let series = |key| number(&reference, &["series_after_least_squares_correction", key]);
    // The noise is 8.5 mm; six times that keeps an alarm from coming and going with it.
    let alarm = "[[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"0.5 m\"\ndeadband = \"50 mm\"\n";
    let site = site(&corrected(&reference), alarm);
    let replayed = replayed(&site, &folder.join("data.csv"), COLUMN);
    near("rows", replayed.form.rows as f64, series("rows"), 0.5);
    assert_eq!(replayed.form.columns_ignored, ["signal_v", "pump_v"]);
    let levels = replayed.levels();
    let [tank] = &replayed.form.tanks[..] else {
        panic!("one tank");
    };
    near(
        "least",
        tank.level_min_m.expect("a level"),
        series("min_m"),
        1e-5,
    );
    near(
        "most",
        tank.level_max_m.expect("a level"),
        series("max_m"),
        1e-5,
    );
    near("mean", crate::run::mean(&levels), series("mean_m"), 1e-5);
    let medians = &reference["series_after_least_squares_correction"]["median_level_pm30s_m"];
    for (second, said) in medians.as_object().expect("medians by second") {
        let second: usize = second.parse().expect("a second");
        let ours = median(&levels[second - 30..=second + 30]);
        near("median", ours, said.as_f64().expect("a level"), 2e-5);
    }
    let told = replayed.events.iter().filter(|event| {
        event.kind == EventKind::Alarm && event.to == Some(AlarmState::Unacknowledged)
    });
    let seconds: Vec<i64> = told.map(|event| event.time.as_second()).collect();
    let crossings = series("crossings_of_0.5_m_up");
    near("crossings", seconds.len() as f64, crossings, 0.5);
    let [alarm] = &replayed.form.alarms[..] else {
        panic!("one alarm, not {:?}", replayed.form.alarms);
    };
    assert_eq!((alarm.code.as_str(), alarm.annunciated), ("LAH", 6));
    // Each within half a minute of where the running median of a minute crosses.
    let crossings = (31..levels.len() - 31).filter(|at| {
        let median_at = |at: usize| median(&levels[at - 30..=at + 30]);
        median_at(at - 1) <= 0.5 && median_at(*at) > 0.5
    });
    let crossings: Vec<i64> = crossings.map(|at| at as i64).collect();
    assert_eq!(crossings.len(), 6, "{crossings:?}");
    for (ours, crossing) in seconds.iter().zip(&crossings) {
        assert!((ours - crossing).abs() <= 30, "{ours} s, {crossing} s");
    }
}
