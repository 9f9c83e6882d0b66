//! What a recording may look like, and what is refused with its line and column.

use crate::run::{Bench, near, of};
use standpipe::engine::plan::TransmitterPlan;
use standpipe::engine::{EventKind, Quality, signal};
use standpipe::quantity::{Timestamp, units};
use standpipe::rehearsal::recording::{Manual, Mapping, Rows, Told, Window, replay};
use standpipe::site::Site;
use std::sync::Arc;

fn site() -> Site {
    let text = r#"
[site]
name = "Alder Rise"
[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"
[[transmitter]]
tag = "PT-1"
link = "skid-a"
register = "input 0"
type = "i16"
unit = "kPa"
scale = { raw = [4000, 20000], value = [0.0, 40.0], signal = "4-20 mA" }
zero = "0.5 kPa"
[[transmitter]]
tag = "TT-1"
link = "skid-a"
reads = "temperature"
register = "input 1"
type = "f32"
unit = "degC"
[[contact]]
tag = "HS-1"
link = "skid-a"
bit = "discrete 3"
invert = true
[[tank]]
name = "clearwell"
vessel = { shape = "upright-cylinder", diameter = "4.2 m", height = "6.0 m" }
liquid = { kind = "water", temperature = "TT-1" }
hookup = { kind = "vented", transmitter = "PT-1", at = "0 m", high = { tap = "0 m" } }
[[tank.alarm]]
code = "HSH"
watch = "HS-1"
is = "on"
"#;
    standpipe::site::parse(text, std::path::Path::new("alder-rise.toml"))
        .unwrap_or_else(|problems| panic!("{problems}"))
}

/// What a recording is told that can't be replayed.
fn refusal(data: &str, mapping: &Mapping) -> String {
    let plan = Arc::new(site().plan);
    let zero = Timestamp::UNIX_EPOCH;
    let rows = match Rows::open(
        data.as_bytes(),
        "data.csv",
        Arc::clone(&plan),
        mapping,
        zero,
    ) {
        Ok(rows) => rows,
        Err(error) => return error.to_string(),
    };
    let replayed = replay(&plan, rows, None, Window::default(), &mut |_| Ok(()));
    replayed.expect_err(data).to_string()
}

fn manual_refusal(text: &str) -> String {
    let plan = Arc::new(site().plan);
    let source = Box::new(std::io::Cursor::new(text.to_owned()));
    let zero = Timestamp::UNIX_EPOCH;
    let manual = match Manual::open(source, "manual.csv", Arc::clone(&plan), zero) {
        Ok(manual) => manual,
        Err(error) => return error.to_string(),
    };
    let data = b"seconds,PT-1\n0,20\n9,20\n";
    let mapping = Mapping::default();
    let rows = Rows::open(&data[..], "data.csv", Arc::clone(&plan), &mapping, zero);
    let rows = rows.unwrap_or_else(|error| panic!("{error}"));
    let window = Window::default();
    let told = replay(&plan, rows, Some(manual), window, &mut |_| Ok(()));
    told.expect_err("it is wrong").to_string()
}

#[test]
fn headers_units_and_states_are_understood() {
    // 20 kPa of water, told in four ways; the zero of 0.5 kPa is subtracted from each.
    for data in [
        "time,PT-1,TT-1,HS-1\n2026-03-04T05:06:07Z,20,12,on\n",
        "timestamp, PT-1 [hPa] ,TT-1 [K],HS-1\n2026-03-04T06:06:07+01:00,200,285.15,1\n",
        "\u{feff}seconds,PT-1 [Pa],TT-1,HS-1,note\n0.5,20000, 12 ,1,\"a, b\"\n",
    ] {
        let replayed = of(&site(), data.as_bytes(), &[], None);
        let [reading] = &replayed.readings[..] else {
            panic!("one reading of {data}");
        };
        assert_eq!(reading.quality, Quality::Good, "{data}");
        near(
            "pressure",
            reading.difference_pa.expect("a pressure"),
            19_500.0,
            1e-6,
        );
        let alarms = replayed.form.alarms.iter();
        assert_eq!(
            alarms.map(|alarm| alarm.code.as_str()).collect::<Vec<_>>(),
            ["HSH"]
        );
    }
}

#[test]
fn an_empty_cell_grows_old_and_nan_is_bad_at_once() {
    let data = "seconds,PT-1,TT-1,HS-1\n0,20,12,0\n1,,12,0\n2,nan,12,0\n3,20,12,\n";
    let replayed = of(&site(), data.as_bytes(), &[], None);
    let qualities = replayed.readings.iter().map(|reading| reading.quality);
    let qualities: Vec<Quality> = qualities.collect();
    assert_eq!(
        qualities,
        [Quality::Good, Quality::Good, Quality::Bad, Quality::Good]
    );
}

/// A gap is a gap: the reading is uncertain after three missed polls, bad after ten seconds, good again after.
#[test]
fn a_gap_makes_a_reading_stale_at_its_moment() {
    let data = "seconds,PT-1,TT-1,HS-1\n0,20,12,0\n60,20,12,0\n";
    let replayed = of(&site(), data.as_bytes(), &[], None);
    let told = replayed
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Quality);
    let told: Vec<(i64, bool)> = told
        .map(|event| (event.time.as_millisecond(), event.text.starts_with("bad")))
        .collect();
    let moments: Vec<i64> = told.iter().map(|(at, _)| *at).collect();
    assert!(
        moments.contains(&3500) && moments.contains(&10_000) && moments.contains(&60_000),
        "{told:?}"
    );
    assert!(told.contains(&(10_000, true)), "{told:?}");
    assert_eq!(replayed.form.rows_after_a_gap, 1);
}

#[test]
fn what_is_wrong_is_told_with_its_line_and_column() {
    let plain = Mapping::default();
    for (data, parts) in [
        (
            "seconds,PT-1\n0,20\n1,abc\n",
            &["line 3", "\"PT-1\"", "\"abc\" is no number"][..],
        ),
        (
            "seconds,PT-1\n0,20\n1,\"3,4\"\n",
            &["line 3", "with a point"],
        ),
        (
            "seconds,PT-1\r\n0,20\r\n1,abc\r\n",
            &["line 3", "\"abc\" is no number"],
        ),
        (
            "seconds,PT-1\r\n\r\n0,20\n\n\n1,abc",
            &["line 6", "\"abc\" is no number"],
        ),
        ("", &["data.csv", "it is empty"]),
        ("seconds,HS-1\n0,2\n", &["line 2", "\"HS-1\"", "1 or on"]),
        (
            "time,PT-1\n2026-03-04 05:06:07,20\n",
            &["line 2", "\"time\"", "with its zone"],
        ),
        (
            "seconds,PT-1\n5,20\n4,20\n",
            &["line 3", "\"seconds\"", "before the row above"],
        ),
        (
            "seconds,PT-1\n0,20,7\n",
            &["line 2", "3 cells, the header has 2"],
        ),
        ("seconds;PT-1\n0;20\n", &["separate the cells with commas"]),
        ("when,PT-1\n0,20\n", &["no column for the time", "when"]),
        (
            "seconds,pressure\n0,20\n",
            &["no column stands for a tag", "PT-1", "pressure=TAG"],
        ),
        (
            "seconds,PT-1,PT-1 [Pa]\n0,20,1\n",
            &["PT-1 [Pa]", "is column \"PT-1\" already"],
        ),
        ("seconds,PT-1 [degC]\n0,20\n", &["PT-1 [degC]"]),
        (
            "seconds,PT-1 [kPa(a)]\n0,20\n",
            &["does not measure kPa(a)"],
        ),
        ("seconds,HS-1 [V]\n0,20\n", &["is a contact"]),
    ] {
        let told = refusal(data, &plain);
        for part in parts {
            assert!(told.contains(part), "{data}: {told}");
        }
    }
}

#[test]
fn a_mapping_names_columns_and_is_refused_in_good_words() {
    let text = "seconds = \"t\"\n[column]\np_gauge_pa = { tag = \"PT-1\", unit = \"Pa\" }\n";
    let mapping = Mapping::parse(text, "map.toml").expect("a mapping");
    let told = refusal("t,p_gauge_pa\n0,x\n", &mapping);
    assert!(told.contains("line 2, column \"p_gauge_pa\""), "{told}");
    let told = refusal("t,p\n0,1\n", &mapping);
    assert!(told.contains("names a column \"p_gauge_pa\""), "{told}");
    let mut lost = Mapping::default();
    lost.add("p=PT-9:Pa").expect("in form");
    let told = refusal("seconds,p\n0,1\n", &lost);
    assert!(
        told.contains("no transmitter or contact \"PT-9\"") && told.contains("PT-1, TT-1, HS-1"),
        "{told}"
    );
    assert!(lost.add("p").is_err());
    let told = Mapping::parse("[column]\np = 3\n", "map.toml").expect_err("no table");
    assert!(
        told.to_string().contains("map.toml") && told.to_string().contains("line 2"),
        "{told}"
    );
}

#[test]
fn what_is_left_out_and_what_is_missing_is_listed() {
    let data = "seconds,PT-1,pump_v\n0,20,3\n";
    let form = of(&site(), data.as_bytes(), &[], None).form;
    assert_eq!(form.columns_ignored, ["pump_v"]);
    assert_eq!(form.tags_missing, ["TT-1", "HS-1"]);
}

#[test]
fn manual_readings_outside_of_the_recording_are_kept_and_not_compared() {
    let data = "seconds,PT-1,TT-1,HS-1\n10,20,12,0\n11,20,12,0\n";
    let manual = "seconds,tank,level,unit,by\n5,clearwell,2,m,Ada\n10.5,clearwell,199,,\n11,clearwell,1990,mm,Ben\n12,clearwell,2,m,Cleo\n"
        .replace("199,,", "1.99,,");
    let form = of(&site(), data.as_bytes(), &[], Some(&manual)).form;
    let [tank] = &form.manual[..] else {
        panic!("one tank")
    };
    let compared: Vec<bool> = tank.readings.iter().map(|r| r.level_m.is_some()).collect();
    assert_eq!(compared, [false, true, true, false]);
    assert_eq!(tank.correction, None);
    let difference_m = tank.mean_difference_m.expect("two were compared");
    near(
        "mean",
        difference_m,
        tank.readings[1].difference_m.expect("one"),
        1e-12,
    );
}

#[test]
fn a_manual_reading_that_no_tank_can_show_is_told_with_its_line() {
    for (manual, parts) in [
        (
            "seconds,tank,level\r\n\r\n5,clearwell,3000\r\n",
            &["line 3", "\"level\"", "outside of the vessel"][..],
        ),
        (
            "seconds,tank,level\n5,clearwell,-3\n",
            &["line 2", "outside of the vessel"],
        ),
        (
            "seconds,tank,level\n5,clearwell,1e308\n",
            &["line 2", "outside of the vessel"],
        ),
        (
            "seconds,tank,level\n5,clearwell,nan\n",
            &["line 2", "no level"],
        ),
        (
            "seconds,tank,level\n5,clearwell,3 m\n",
            &["line 2", "\"3 m\" is no number", "\"unit\""],
        ),
        (
            "seconds,tank,level\n5,clearwel,3\n",
            &["no tank \"clearwel\"", "clearwell"],
        ),
        (
            "seconds,tank,level\n5,clearwell\n",
            &["line 2", "2 cells, the header has 3"],
        ),
        ("seconds,level\n5,3\n", &["manual.csv", "headed \"tank\""]),
        (
            "when,tank,level\n5,clearwell,3\n",
            &["\"time\" (RFC 3339) or \"seconds\""],
        ),
    ] {
        let told = manual_refusal(manual);
        for part in parts {
            assert!(told.contains(part), "{manual}: {told}");
        }
    }
}

#[test]
fn a_last_line_without_an_end_is_told() {
    for (data, is_cut) in [
        ("seconds,PT-1\n0,20\n1,2", true),
        ("seconds,PT-1\r\n0,20\r\n1,2\r\n", false),
    ] {
        let form = of(&site(), data.as_bytes(), &[], None).form;
        assert_eq!((form.rows, form.last_line_cut), (2, is_cut));
    }
}

/// A value goes in through the transmitter's own scale and comes out as it was: to 1e-12 of its range.
#[test]
fn a_value_goes_past_the_scale_unchanged() {
    let plan = site().plan;
    let scaled: &TransmitterPlan = &plan.transmitters[0];
    assert!(scaled.scale.is_some());
    for unit in units(scaled.unit.dimension) {
        for share in [-0.0125, 0.0, 1e-9, 0.1, 1.0 / 3.0, 0.999_999, 1.0, 1.03] {
            let si = 40_000.0 * share;
            let own = scaled.unit.from_si(unit.to_si(unit.from_si(si)));
            let back = signal::in_si(scaled, signal::raw_of(scaled, own)) + scaled.zero;
            near(unit.symbol, back, si, 40_000.0 * 1e-12);
        }
    }
    let turned = TransmitterPlan {
        scale: scaled.scale.map(|_| standpipe::engine::plan::LinearScale {
            value: (-60.0, -5.0),
            raw: (20.0, 4.0),
        }),
        ..scaled.clone()
    };
    for own in [-60.0, -59.9, -30.123_456_789, -5.0] {
        let back = signal::in_si(&turned, signal::raw_of(&turned, own)) + turned.zero;
        near("turned", back, own * 1000.0, 55_000.0 * 1e-12);
    }
}

/// The reading's own table and lines, thinned, and at once where its quality changes.
#[test]
fn readings_are_thinned_but_a_change_of_quality_is_not() {
    use standpipe::rehearsal::recording::{Form, Readings};
    let site = Bench {
        poll_every: "1 s",
        ambient: r#"{ temperature = "10 degC" }"#,
        transmitters: &[("PT-1", "", "kPa")],
        temperature: "10 degC",
        hookup: r#"{ kind = "vented", transmitter = "PT-1", at = "0 m", vent = "9 m", high = { tap = "0 m" } }"#,
        alarms: "",
    }
    .site();
    let mut data = String::from("seconds,PT-1\n");
    for second in 0..150 {
        let value = if second == 75 { "nan" } else { "20" };
        data += &format!("{second},{value}\n");
    }
    let plan = Arc::new(site.plan);
    let written = |form: Form| {
        let (mut out, every) = (Vec::new(), std::time::Duration::from_secs(60));
        let names = plan.tanks.iter().map(|tank| tank.name.to_string());
        let mut readings = Readings::new(&mut out, form, Some(every), names);
        let (mapping, zero) = (Mapping::default(), Timestamp::UNIX_EPOCH);
        let rows = Rows::open(
            data.as_bytes(),
            "data.csv",
            Arc::clone(&plan),
            &mapping,
            zero,
        );
        let rows = rows.expect("a recording");
        replay(
            &plan,
            rows,
            None,
            Window::default(),
            &mut |told| match told {
                Told::Reading(tank, engine) => readings.write(tank, engine),
                _ => Ok(()),
            },
        )
        .expect("it goes through");
        readings.flush().expect("memory has room");
        drop(readings);
        String::from_utf8(out).expect("text")
    };
    let table = written(Form::Csv);
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let header = rows.headers().expect("a header").clone();
    let place = |name: &str| {
        header
            .iter()
            .position(|column| column == name)
            .expect("it is there")
    };
    let rows: Vec<csv::StringRecord> = rows.records().map(|row| row.expect("a row")).collect();
    let minutes: Vec<&str> = rows.iter().map(|row| &row[place("time")][14..19]).collect();
    assert_eq!(minutes, ["00:00", "01:00", "01:15", "01:16", "02:16"]);
    let qualities: Vec<&str> = rows.iter().map(|row| &row[place("quality")]).collect();
    assert_eq!(qualities, ["good", "good", "bad", "good", "good"]);
    assert_eq!(&rows[2][place("level_m")], "");
    let lines = written(Form::Jsonl);
    for (line, row) in lines.lines().zip(&rows) {
        let form: serde_json::Value = serde_json::from_str(line).expect("JSON");
        assert_eq!(form["time"], row[place("time")]);
        let level = row[place("level_m")].parse::<f64>().ok();
        assert_eq!(form["level_m"].as_f64(), level);
    }
    assert_eq!(lines.lines().count(), rows.len());
}
