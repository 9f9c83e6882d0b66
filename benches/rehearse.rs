//! How fast a site of ten tanks, read once a second, is rehearsed on one core: Alder Rise with one tank more.
//!
//! Twice: one tank fills while the others stand, as in most scripts; and all ten fill and drain, each with noise.
//! Prints the ratio to real time by the time that the core was busy (the machine may have other work), beside the
//! plant alone (no engine, each second all that transmitters tell) in the same run; it judges nothing.
//! `-- NAME…`: only what has one of these in its name.

#![expect(clippy::print_stdout, reason = "a benchmark prints its result")]

use standpipe::plant::Plant;
use standpipe::rehearsal::{Script, play, scenario};
use standpipe::site::Site;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

const LAST: Duration = Duration::from_secs(6 * 3600);
const POLL: Duration = Duration::from_secs(1);

/// The tenth.
const SETTLING: &str = r#"
[[transmitter]]
tag      = "LT-110"
link     = "skid-b"
register = "holding 900"
type     = "f32"
unit     = "kPa"
span     = ["0 kPa", "60 kPa"]
accuracy = "0.1 %"

[[tank]]
name   = "settling"
vessel = { shape = "rectangular", length = "12 m", width = "4 m", height = "4 m" }
liquid = { kind = "water", temperature = "12 degC" }
hookup = { kind = "vented", transmitter = "LT-110", at = "0.20 m" }

[[tank.alarm]]
code     = "LAH"
watch    = "level"
above    = "3.6 m"
deadband = "0.05 m"
on_delay = "10 s"
priority = "high"
response = "Close the inlet valve"
"#;

fn main() {
    let site = site();
    let high = std::fs::read_to_string(path("config/scripts/high.toml")).expect("it is there");
    let all = [
        ("one of ten tanks fills", high),
        ("all ten move, with noise", all_move(&site)),
    ];
    let asked: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with('-'))
        .collect();
    for (what, script) in all {
        if asked.is_empty() || asked.iter().any(|word| what.contains(word)) {
            measure(what, &site, &script);
        }
    }
}

fn path(relative: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(relative)
}

fn site() -> Site {
    let path = path("config/alder-rise.toml");
    let text = std::fs::read_to_string(&path).expect("it is there");
    let site = standpipe::site::parse(&format!("{text}{SETTLING}"), &path);
    let site = site.unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(site.plan.tanks.len(), 10);
    site
}

/// Ten minutes in, ten minutes out, again and again.
fn all_move(site: &Site) -> String {
    let mut text = "site = \"../alder-rise.toml\"\nlast = \"06:00:00\"\n".to_owned();
    for tank in &site.plan.tanks {
        let name = &tank.name;
        // Writing to a text does not fail.
        let _ = write!(
            text,
            "[[tank]]\nname = \"{name}\"\ninflow = \"1 m3/h\"\ntrue = {{ noise = \"0.01 kPa\" }}\n\
             [[at]]\ntime = \"00:10:00\"\nevery = \"20 min\"\ntank = \"{name}\"\ninflow = \"0 m3/h\"\noutflow = \"1 m3/h\"\n\
             [[at]]\ntime = \"00:20:00\"\nevery = \"20 min\"\ntank = \"{name}\"\ninflow = \"1 m3/h\"\noutflow = \"0 m3/h\"\n"
        );
    }
    text
}

fn measure(what: &str, site: &Site, script: &str) {
    let script = Script::parse(script, &path("config/scripts/measured.toml"));
    let mut script = script.unwrap_or_else(|problems| panic!("{problems}"));
    script.last = Some(LAST);

    let scene = scenario::plant(site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    let (mut plant, mut timeline) = (Plant::new(scene.plant, script.seed), scene.timeline);
    let begun = busy();
    while plant.time() < LAST {
        plant.advance_under(POLL, |plant| drop(timeline.apply(plant)));
    }
    let alone_s = (busy() - begun).as_secs_f64();

    let begun = busy();
    let trace = play(site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    let whole_s = (busy() - begun).as_secs_f64();
    assert!(!trace.events.is_empty());
    println!(
        "rehearse, {what}: {:.0} times real time ({whole_s:.3} s for 6 h); the plant alone {:.0}; ratio {:.2}",
        LAST.as_secs_f64() / whole_s,
        LAST.as_secs_f64() / alone_s,
        whole_s / alone_s
    );
}

/// How long this thread has had a core: Linux, Documentation/scheduler/sched-stats.rst.
fn busy() -> Duration {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat");
    let text = text.expect("a Linux that counts its threads' time (CONFIG_SCHED_INFO)");
    let nanoseconds = text.split(' ').next().and_then(|first| first.parse().ok());
    Duration::from_nanos(nanoseconds.expect("nanoseconds come first"))
}
