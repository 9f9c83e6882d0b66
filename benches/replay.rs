//! How fast a recording is replayed, beside the plain parsing of the same CSV in the same run.
//!
//! Prints rows a second and the ratio; it judges nothing.

#![expect(clippy::print_stdout, reason = "a benchmark prints its result")]
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use standpipe::quantity::Timestamp;
use standpipe::rehearsal::recording::{Mapping, Rows, Window, replay};
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

const ROWS: usize = 1_000_000;

const SITE: &str = r#"
[site]
name = "Alder Rise"
[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"
[[transmitter]]
tag = "PT-1"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"
span = ["0 kPa", "60 kPa"]
accuracy = "0.1 %"
[[transmitter]]
tag = "TT-1"
link = "skid-a"
reads = "temperature"
register = "input 2"
type = "f32"
unit = "degC"
[[tank]]
name = "clearwell"
vessel = { shape = "upright-cylinder", diameter = "4.2 m", height = "6.0 m" }
liquid = { kind = "water", temperature = "TT-1" }
hookup = { kind = "vented", transmitter = "PT-1", at = "0 m", high = { tap = "0 m" } }
[[tank.alarm]]
code = "LAH"
watch = "level"
above = "5.4 m"
deadband = "0.05 m"
"#;

fn main() {
    let mut text = String::from("time,PT-1,TT-1\n");
    let start: Timestamp = "2026-03-04T05:06:07Z".parse().expect("a time");
    for row in 0..ROWS {
        let time = start + jiff::SignedDuration::from_secs(row as i64);
        let kpa = 40.0 + 15.0 * (row as f64 / 3000.0).sin();
        text += &format!("{time},{kpa:.4},12.{:02}\n", row % 100);
    }

    let begun = Instant::now();
    let mut record = csv::ByteRecord::new();
    let mut plain = csv::Reader::from_reader(text.as_bytes());
    let mut sum = 0.0;
    while plain.read_byte_record(&mut record).expect("it is CSV") {
        for cell in record.iter().skip(1) {
            let cell = std::str::from_utf8(cell).expect("it is text");
            sum += cell.parse::<f64>().expect("it is a number");
        }
    }
    let plain_s = begun.elapsed().as_secs_f64();
    assert!(sum > 0.0);

    let site = standpipe::site::parse(SITE, Path::new("bench.toml"));
    let plan = Arc::new(site.unwrap_or_else(|problems| panic!("{problems}")).plan);
    let begun = Instant::now();
    let (mapping, zero) = (Mapping::default(), Timestamp::UNIX_EPOCH);
    let rows = Rows::open(
        text.as_bytes(),
        "made-up",
        Arc::clone(&plan),
        &mapping,
        zero,
    );
    let rows = rows.unwrap_or_else(|error| panic!("{error}"));
    let form = replay(&plan, rows, None, Window::default(), &mut |_| Ok(()));
    let form = form.unwrap_or_else(|error| panic!("{error}"));
    let replay_s = begun.elapsed().as_secs_f64();
    assert_eq!(form.rows, ROWS as u64);
    println!(
        "replay: {:.0} rows a second, one tank, two transmitters; plain parsing of the same CSV {:.0}; ratio {:.1}",
        ROWS as f64 / replay_s,
        ROWS as f64 / plain_s,
        replay_s / plain_s
    );
}
