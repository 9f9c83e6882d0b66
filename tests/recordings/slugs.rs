//! Six fast steps of an absolute transmitter at 8 Hz, in air at both ends.

use crate::folder::{expected, number, recording};
use crate::run::{Bench, Replayed, mean, median, near, replayed, shows_at_most};
use serde_json::Value;

fn replayed_slugs(folder: &std::path::Path, reference: &Value) -> Replayed {
    // The air of the first stretch is the barometer; there is no other.
    let air_pa = number(reference, &["in_air_start_pa"]);
    let site = Bench {
        poll_every: "125 ms",
        ambient: &format!(r#"{{ temperature = "20 degC", pressure = "{air_pa} Pa", at = "0 m" }}"#),
        transmitters: &[
            ("PT-1", "measures = \"absolute\"", "kPa"),
            ("TT-1", "reads = \"temperature\"", "degC"),
        ],
        temperature: "TT-1",
        hookup: r#"{ kind = "barometer", transmitter = "PT-1", at = "0 m", vent = "1 mm" }"#,
        alarms: "",
    }
    .site();
    let columns = ["p_abs_pa=PT-1:Pa", "temp_c=TT-1:degC"];
    replayed(&site, &folder.join("data.csv"), &columns)
}

#[test]
fn six_steps_come_when_and_as_large_as_they_were() {
    let Some(folder) = recording("slug-8hz") else {
        return;
    };
    let reference = expected(&folder);
    let replayed = replayed_slugs(&folder, &reference);
    near(
        "rows",
        replayed.form.rows as f64,
        number(&reference, &["rows"]),
        0.5,
    );
    near(
        "span",
        replayed.form.span_s,
        number(&reference, &["span_s"]),
        1e-9,
    );
    let readings: Vec<(f64, f64)> = replayed
        .readings
        .iter()
        .filter_map(|reading| Some((reading.seconds(), reading.level_m?)))
        .collect();
    let quiet = |from: f64, to: f64| {
        let within = readings.iter().filter(|(at, _)| (from..to).contains(at));
        mean(&within.map(|(_, level)| *level).collect::<Vec<f64>>())
    };
    let said = number(&reference, &["level_m_quiet_1000_1300s", "mean"]);
    near("quiet", quiet(1000.0, 1300.0), said, 2e-5);
    let said = number(&reference, &["level_m_quiet_late_2750_3200s"]);
    near("late", quiet(2750.0, 3200.0), said, 2e-5);

    let steps = reference["transients_over_1_kpa_from_30s_median"]
        .as_array()
        .expect("six steps");
    assert_eq!(steps.len(), 6);
    // Here the reference turns pascals into metres with 1000 kg/m³ and standard gravity.
    let heads = replayed.readings.iter();
    let heads = heads.filter(|reading| reading.level_m.is_some());
    let head: Vec<f64> = heads
        .filter_map(|reading| Some(reading.difference_pa? / 9806.65))
        .collect();
    assert_eq!(head.len(), readings.len());
    let from_median = |at: usize| head[at] - median(&head[at - 120..=at + 120]);
    for step in steps {
        let (from_s, peak_m) = (number(step, &["from_s"]), number(step, &["peak_m"]));
        let start = readings.partition_point(|(at, _)| *at < from_s);
        let peak = (start..start + 80)
            .map(from_median)
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
            .expect("80 readings");
        near("peak", peak, peak_m, 2e-5);
        // 1 kPa away for the first time: not before, and not a reading later.
        assert!(from_median(start).abs() > 0.102, "{from_s} s");
        assert!(from_median(start - 1).abs() < 0.102, "{from_s} s");
    }
}

#[test]
fn in_air_nothing_is_above_the_sensor() {
    let Some(folder) = recording("slug-8hz") else {
        return;
    };
    let reference = expected(&folder);
    let replayed = replayed_slugs(&folder, &reference);
    let quantity = |from: f64, to: f64| {
        let within = replayed.readings.iter();
        let within = within.filter(move |reading| (from..to).contains(&reading.seconds()));
        within.copied().collect::<Vec<_>>()
    };
    let all = quantity(0.0, 40.0);
    assert!(all.len() >= 300);
    for reading in all {
        assert!(shows_at_most(&reading, 0.01), "{reading:?}");
    }
    let end = number(&reference, &["span_s"]);
    let differences = quantity(end - 60.0, end + 1.0);
    let differences: Vec<f64> = differences.iter().filter_map(|r| r.difference_pa).collect();
    near(
        "zero shift",
        mean(&differences),
        number(&reference, &["zero_shift_pa"]),
        0.5,
    );
}
