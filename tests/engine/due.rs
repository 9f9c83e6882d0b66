//! `due()`: a tick then is all that time needs; whatever else comes in between cannot lose it.

use crate::rig::Rig;
use crate::sites::{self, high};
use standpipe::engine::alarm::AlarmState::{Normal, Unacknowledged};
use standpipe::engine::{Quality, Reason};
use std::time::Duration;

/// The tank on a slow link, and a thermometer on a fast one.
fn slow_site() -> String {
    let fast = r#"
[[link]]
name       = "skid-b"
tcp        = "127.0.0.1:1503"
poll_every = "1 s"

[[transmitter]]
tag      = "TT"
link     = "skid-b"
reads    = "temperature"
register = "input 0"
type     = "f64"
unit     = "degC"
"#;
    let head =
        sites::head("gauge", "").replacen("poll_every = \"1 s\"", "poll_every = \"60 s\"", 1);
    head + fast
        + &sites::tank(sites::HEAVY, sites::VENTED)
        + &high("on_delay = \"7 s\"\noff_delay = \"11 s\"")
}

fn always_ahead(rig: &Rig) -> Option<Duration> {
    let due = rig.engine.due();
    assert!(
        due.is_none_or(|due| due > rig.now.up),
        "{due:?} at {:?}",
        rig.now.up
    );
    due
}

/// Ticks whenever it is due, until a moment.
fn tick_until(rig: &mut Rig, end_s: f64) {
    let end = Duration::from_secs_f64(end_s);
    while let Some(due) = always_ahead(rig).filter(|due| *due <= end) {
        rig.pass((due - rig.now.up).as_secs_f64());
        rig.tick();
    }
    rig.pass((end - rig.now.up).as_secs_f64());
}

#[test]
fn ticks_when_due_are_enough_between_polls() {
    let mut rig = Rig::start(&slow_site());
    rig.read(&[("LT", rig.pressure_pa("day", 3.6))]);
    // The thermometer's silence is due before the on-delay.
    assert!(always_ahead(&rig).is_some_and(|due| due <= Duration::from_secs(7)));
    tick_until(&mut rig, 6.9);
    assert_eq!(rig.state("day", "LAH"), Normal);
    tick_until(&mut rig, 7.0);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    tick_until(&mut rig, 60.0);
    rig.read(&[("LT", rig.pressure_pa("day", 3.0))]);
    tick_until(&mut rig, 71.0);
    assert!(!rig.state("day", "LAH").is_active());
    // Silence: uncertain after three missed polls, bad at once after, each without a poll.
    tick_until(&mut rig, 60.0 + 209.0);
    assert_eq!(rig.reading("day").quality, Quality::Bad);
}

/// The fast link's reads move the engine's time over what was due for the slow one.
#[test]
fn another_links_reads_lose_nothing() {
    let mut rig = Rig::start(&slow_site());
    rig.read(&[("LT", rig.pressure_pa("day", 3.6)), ("TT", 15.0)]);
    rig.pass(0.5);
    for second in 1..=7 {
        rig.read(&[("TT", 15.0)]);
        always_ahead(&rig);
        assert_eq!(rig.state("day", "LAH"), Normal, "before 7 s, at {second}");
        rig.pass(1.0);
    }
    rig.read(&[("TT", 15.0)]);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    for _ in 0..240 {
        rig.pass(1.0);
        rig.read(&[("TT", 15.0)]);
        always_ahead(&rig);
    }
    let reading = rig.reading("day");
    assert_eq!((reading.quality, reading.level), (Quality::Bad, None));
    assert!(
        reading.reasons.has(Reason::NoAnswer),
        "nobody has read it for four minutes"
    );
}
