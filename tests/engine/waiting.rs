//! After a start nothing is decided before the first good sample.

use crate::rig::Rig;
use crate::sites::{high, low, vented};
use standpipe::engine::alarm::AlarmState::{Normal, Suppressed, Unacknowledged};
use standpipe::engine::{EventKind, Fault, Quality, Reason};

fn rig() -> Rig {
    let alarms = low("on_bad = \"annunciate\"") + &high("on_bad = \"clear\"");
    Rig::start(&vented(&alarms))
}

#[test]
fn waiting_decides_nothing_and_ends_as_bad() {
    let mut rig = rig();
    assert!(rig.has("day", Reason::WaitingForData));
    rig.miss(9, "LT");
    assert!(rig.has("day", Reason::WaitingForData));
    for code in ["LAL", "LAH", "MEASUREMENT"] {
        assert_eq!(rig.state("day", code), Normal, "{code}");
    }
    assert_eq!(rig.of_kind(EventKind::Alarm).len(), 0);
    rig.miss(1, "LT");
    assert!(rig.has("day", Reason::NoAnswer));
    assert_eq!(rig.state("day", "MEASUREMENT"), Suppressed, "LAL tells it");
    assert_eq!(
        rig.state("day", "LAL"),
        Unacknowledged,
        "its choice on bad data"
    );
    assert_eq!(rig.state("day", "LAH"), Normal);
}

#[test]
fn waiting_ends_by_time_alone() {
    let mut rig = rig();
    rig.pass(10.0);
    rig.tick();
    assert_eq!(rig.reading("day").quality, Quality::Bad);
    assert_eq!(rig.state("day", "MEASUREMENT"), Suppressed, "LAL tells it");
}

#[test]
fn the_first_sample_decides() {
    let mut rig = rig();
    rig.miss(5, "LT");
    rig.poll(1, &[("LT", rig.pressure_pa("day", 3.7))]);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    assert_eq!(rig.state("day", "LAL"), Normal);
    assert_eq!(rig.state("day", "MEASUREMENT"), Normal);
}

#[test]
fn a_first_sample_that_is_no_number_is_a_failed_measurement() {
    let mut rig = rig();
    rig.poll(1, &[("LT", f64::NAN)]);
    assert!(rig.has("day", Reason::NotFinite));
    assert_eq!(rig.state("day", "MEASUREMENT"), Suppressed, "LAL tells it");
}

#[test]
fn a_device_that_only_answers_exceptions_says_so() {
    let mut rig = rig();
    for _ in 0..10 {
        rig.pass(1.0);
        rig.fail("LT", Fault::Exception(2));
    }
    assert!(rig.has("day", Reason::DeviceException));
}
