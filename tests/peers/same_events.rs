//! One script twice: rehearsed in virtual time, and served over real Modbus TCP by `standpipe simulate` to
//! `standpipe run`, by the clock on the wall. The same must happen, within a poll period.

use crate::daemon::Daemon;
use crate::simulated::Simulated;
use crate::works::{Works, free_port};
use standpipe::daemon::clock;
use standpipe::engine::{Event, EventKind};
use standpipe::journal::{Filter, Reader};
use standpipe::rehearsal::{Script, play};
use std::time::Duration;

const POLL_EVERY: Duration = Duration::from_secs(1);
/// What a busy machine may add to it: processes that start, and a plant that is served late.
const BUSY: Duration = Duration::from_millis(600);
/// A link that is down waits before it asks again: 2 s after three failures, less a random part. When it is back
/// hangs on where in that wait the silence ends.
const WAITS: Duration = Duration::from_secs(2);
const COME_BACK: [&str; 3] = [
    "link - gallery -→- up",
    "alarm system LINK-GALLERY UNACK→RTNUN ",
    "quality clearwell - -→- good again",
];
/// When Ada answers, by the script.
const ANSWERED: Duration = Duration::from_secs(22);
const LAST: Duration = Duration::from_secs(48);

const SITE: &str = r#"
[site]
name = "Alder Rise"
gravity = "9.8116 m/s2"
ambient = { temperature = "20 degC", pressure = "101.325 kPa(a)" }

[system]
link = { priority = "high", on_delay = "1 s" }

[[link]]
name = "gallery"
tcp = "FIELD"
poll_every = "1 s"
timeout = "300 ms"

[[transmitter]]
tag = "LT-101"
link = "gallery"
register = "input 0"
type = "f32"
unit = "kPa"
span = ["0 kPa", "60 kPa"]

[[tank]]
name = "clearwell"
vessel = { shape = "upright-cylinder", diameter = "2 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "vented", transmitter = "LT-101", at = "0.25 m" }

[[tank.alarm]]
code = "LAH"
watch = "level"
above = "4.00 m"
deadband = "0.05 m"
on_delay = "2 s"
priority = "high"
response = "Close the inlet valve"

[[tank.alarm]]
code = "LAL"
watch = "level"
below = "1.00 m"
priority = "medium"
response = "Stop the pump"

[http]
listen = "127.0.0.1:PAGE"
"#;

/// Rises by 1 mm/s through the limit at 15 s, is answered at 22 s, falls by 10 mm/s through the deadband's end at
/// 31 s, which is seen at 33 s: until then first words are torn off. At 35 s the link keeps silent for 5 s, at 43 s
/// it swaps words for 3 s, which makes an almost empty tank of 3.93 m.
const SCRIPT: &str = r#"
site = "site.toml"
last = "00:00:48"

[[tank]]
name = "clearwell"
level = "3.985 m"
inflow = "11.31 m3/h"

[[at]]
time = "00:00:22"
command = { ack = "clearwell LAH", by = "Ada" }

[[at]]
time = "00:00:25"
tank = "clearwell"
inflow = "0 m3/h"
outflow = "113.1 m3/h"

[[at]]
time = "00:00:33"
tank = "clearwell"
outflow = "0 m3/h"

[[at]]
time = "00:00:26"
link = "gallery"
fault = { torn = "7 s", apart = "10 s" }

[[at]]
time = "00:00:35"
link = "gallery"
fault = { silent = "5 s" }

[[at]]
time = "00:00:43"
link = "gallery"
fault = { swapped = "3 s" }
"#;

/// What happened when: kind, tank, code, states before and after.
type Happened = (Duration, String);

fn happened(at: Duration, event: &Event) -> Option<Happened> {
    let of_the_run = [
        EventKind::Start,
        EventKind::Stop,
        EventKind::Notice,
        EventKind::Journal,
        EventKind::Clock,
    ];
    let name = |part: &Option<std::sync::Arc<str>>| part.as_deref().unwrap_or("-").to_owned();
    let states = [event.from, event.to].map(|state| state.map_or("-", |state| state.code()));
    let (tank, code) = (name(&event.tank), name(&event.code));
    // A link's event has no states: whether it is up stands in its text.
    let up = match event.kind {
        EventKind::Link if event.text == "link is up" => "up",
        EventKind::Link => "down",
        EventKind::Quality => event.text.split(',').next().unwrap_or_default(),
        _ => "",
    };
    let what = format!(
        "{} {tank} {code} {}→{} {up}",
        event.kind.name(),
        states[0],
        states[1]
    );
    (!of_the_run.contains(&event.kind)).then_some((at, what))
}

/// By the wall's clock, from the plant's start.
fn run() -> Vec<Happened> {
    let port = free_port();
    let works = Works::written(SITE, &format!("127.0.0.1:{port}"));
    let site = std::fs::read_to_string(works.site()).expect("readable");
    let _plant = Simulated::start(&site, SCRIPT, port);
    let (begun, began) = (clock::up(), clock::moment().utc);
    let mut daemon = Daemon::start(&works);
    std::thread::sleep((begun + ANSWERED).saturating_sub(clock::up()));
    let told = works.standpipe("ack", &["clearwell", "LAH", "--by", "Ada"]);
    assert_eq!(told.code, Some(0), "{told:?}");
    std::thread::sleep((begun + LAST).saturating_sub(clock::up()));
    assert!(daemon.terminate().success());
    let reader = Reader::open(&works.file("site.db")).expect("a journal");
    let events = reader.first(&Filter::default(), 1000).expect("readable");
    let events = events.iter().filter_map(|event| {
        let at = event.time.duration_since(began);
        happened(Duration::try_from(at).unwrap_or_default(), event)
    });
    // Then the plant ends as well, and its link with it.
    let events = events.filter(|(at, _)| *at < LAST);
    events.collect()
}

/// In virtual time.
fn rehearsed() -> Vec<Happened> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let text = SITE
        .replace("FIELD", "127.0.0.1:1502")
        .replace("PAGE", "8080");
    let path = folder.path().join("site.toml");
    let site = standpipe::site::parse(&text, &path).unwrap_or_else(|problems| panic!("{problems}"));
    let script = Script::parse(SCRIPT, &folder.path().join("script.toml"));
    let script = script.unwrap_or_else(|problems| panic!("{problems}"));
    let trace = play(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
    let told = trace.events.iter();
    told.filter_map(|told| happened(told.at, &told.event))
        .collect()
}

#[test]
fn a_script_brings_the_same_rehearsed_and_run() {
    let (rehearsed, run) = (rehearsed(), run());
    let lines = |all: &[Happened]| {
        let lines = all
            .iter()
            .map(|(at, what)| format!("{:6.2} s  {what}", at.as_secs_f64()));
        lines.collect::<Vec<_>>().join("\n")
    };
    let both = format!("rehearsed:\n{}\nrun:\n{}", lines(&rehearsed), lines(&run));
    // Something of everything must have happened, else the comparison holds nothing.
    for wanted in [
        "alarm clearwell LAH NORM→UNACK",
        "alarm clearwell LAH UNACK→ACKED",
        "alarm clearwell LAH ACKED→NORM",
        "alarm system LINK-GALLERY NORM→UNACK",
        "link - gallery -→- down",
        "quality clearwell - -→- uncertain",
        "alarm clearwell LAL NORM→UNACK",
        "alarm clearwell LAL UNACK→RTNUN",
    ] {
        let is_there = rehearsed.iter().any(|(_, what)| what.starts_with(wanted));
        assert!(is_there, "{wanted} is not in\n{both}");
    }
    // A number with a stale first word hides the fall below the deadband, which ends at 31 s.
    let cleared = rehearsed.iter().find(|(_, what)| what.contains("→NORM"));
    let torn_until = Duration::from_secs(33);
    assert!(cleared.is_some_and(|(at, _)| *at >= torn_until), "{both}");
    assert_eq!(rehearsed.len(), run.len(), "{both}");
    let mut left = run.clone();
    for (at, what) in &rehearsed {
        // In the order of each; what comes within one poll has no order (both are one moment).
        let place = left.iter().position(|(_, other)| other == what);
        let place = place.unwrap_or_else(|| panic!("{what} is missing or too late in\n{both}"));
        let (other, _) = left.remove(place);
        let waits = match COME_BACK.contains(&what.as_str()) {
            true => WAITS,
            false => Duration::ZERO,
        };
        assert!(
            at.abs_diff(other) <= POLL_EVERY + BUSY + waits,
            "{what}: {at:?}, {other:?}\n{both}"
        );
    }
}
