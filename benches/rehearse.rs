//! How fast a script is rehearsed: nine tanks, fifteen transmitters, six hours of an overfill at Alder Rise.
//!
//! Prints the ratio to real time, and to the plant alone (no engine, nothing read) in the same run; it judges nothing.

#![expect(clippy::print_stdout, reason = "a benchmark prints its result")]
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use standpipe::plant::Plant;
use standpipe::rehearsal::{Script, play, scenario};
use std::path::Path;
use std::time::{Duration, Instant};

const LAST: Duration = Duration::from_secs(6 * 3600);

fn main() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/scripts/high.toml");
    let mut script = Script::read(&path).unwrap_or_else(|problems| panic!("{problems}"));
    script.last = Some(LAST);
    let site = standpipe::site::read(&script.site).unwrap_or_else(|problems| panic!("{problems}"));

    let scene = scenario::plant(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    let (mut plant, mut timeline) = (Plant::new(scene.plant, script.seed), scene.timeline);
    let begun = Instant::now();
    plant.advance_under(LAST, |plant| drop(timeline.apply(plant)));
    let plant_s = begun.elapsed().as_secs_f64();

    let begun = Instant::now();
    let trace = play(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    let whole_s = begun.elapsed().as_secs_f64();
    assert!(!trace.moments.iter().all(Vec::is_empty) && !trace.events.is_empty());
    println!(
        "rehearse: {:.0} times real time ({whole_s:.2} s for 6 h); the plant alone {:.0}; ratio {:.2}",
        LAST.as_secs_f64() / whole_s,
        LAST.as_secs_f64() / plant_s,
        whole_s / plant_s
    );
}
