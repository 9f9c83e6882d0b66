//! The wall clock may be stepped: it is told, and no delay knows of it.

use crate::rig::Rig;
use crate::sites::{high, vented};
use standpipe::engine::EventKind;
use standpipe::engine::alarm::AlarmState::{Normal, Unacknowledged};
use std::time::Duration;

fn with_a_step(step: impl Fn(&mut Rig)) {
    let mut rig = Rig::start(&vented(&high("on_delay = \"20 s\"")));
    rig.poll(3, &[("LT", rig.pressure_pa("day", 2.0))]);
    let over = rig.pressure_pa("day", 3.6);
    rig.poll(10, &[("LT", over)]);
    assert_eq!(rig.of_kind(EventKind::Clock).len(), 0);
    step(&mut rig);
    rig.poll(10, &[("LT", over)]);
    assert_eq!(rig.of_kind(EventKind::Clock).len(), 1, "told once");
    assert_eq!(rig.state("day", "LAH"), Normal);
    rig.poll(1, &[("LT", over)]);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    // What follows is timed by the new clock.
    let [.., last] = &rig.events[..] else {
        panic!("there are events");
    };
    assert_eq!(last.time, rig.now.utc);
}

#[test]
fn hours_back() {
    with_a_step(|rig| rig.now.utc -= Duration::from_secs(5 * 3600));
}

#[test]
fn hours_forward() {
    with_a_step(|rig| rig.now.utc += Duration::from_secs(5 * 3600));
}

#[test]
fn the_clocks_may_drift_apart_slowly() {
    let mut rig = Rig::start(&vented(&high("")));
    for _ in 0..1000 {
        rig.now.utc += Duration::from_millis(5);
        rig.poll(1, &[("LT", 9000.0)]);
    }
    assert_eq!(rig.of_kind(EventKind::Clock).len(), 0);
}
