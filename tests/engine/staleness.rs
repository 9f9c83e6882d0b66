//! Old values: uncertain after three missed polls with the last level kept, then bad; what alarms do then.

use crate::rig::Rig;
use crate::sites::{high, low, vented};
use standpipe::engine::alarm::AlarmState::{
    Acknowledged, Normal, ReturnedUnacknowledged, Suppressed, Unacknowledged,
};
use standpipe::engine::{Fault, Quality, Reason};

const FAILED: &str = "[tank.measurement_failed]\non_delay = \"5 s\"\n";

fn rig(on_bad: &str) -> Rig {
    let keys = format!("on_bad = \"{on_bad}\"");
    Rig::start(&vented(&(low(&keys) + &high(&keys) + FAILED)))
}

#[test]
fn three_missed_polls_then_the_stale_rule() {
    let mut rig = rig("hold");
    let two_metres = rig.pressure_pa("day", 2.0);
    rig.poll(5, &[("LT", two_metres)]);
    rig.miss(3, "LT");
    assert_eq!(rig.reading("day").quality, Quality::Good);
    rig.miss(1, "LT");
    let kept = rig.reading("day");
    assert_eq!(kept.quality, Quality::Uncertain);
    assert!(kept.reasons.has(Reason::LastValueKept));
    assert!((kept.level.expect("the last level").value - 2.0).abs() < 1e-9);
    // Without a time to respond it is bad after 10 s.
    rig.miss(5, "LT");
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
    rig.miss(1, "LT");
    let bad = rig.reading("day");
    assert_eq!(
        (bad.quality, bad.level, bad.volume, bad.mass),
        (Quality::Bad, None, None, None)
    );
    assert!(bad.reasons.has(Reason::NoAnswer));
    assert_eq!(rig.state("day", "MEASUREMENT"), Normal);
    rig.miss(5, "LT");
    assert_eq!(rig.state("day", "MEASUREMENT"), Unacknowledged);
    rig.poll(1, &[("LT", two_metres)]);
    assert_eq!(rig.state("day", "MEASUREMENT"), ReturnedUnacknowledged);
    assert_eq!(rig.reading("day").quality, Quality::Good);
}

/// A tenth of the shortest time to respond: here 60 s.
#[test]
fn a_longer_time_to_respond_lets_a_value_be_older() {
    let mut rig = Rig::start(&vented(&high("respond_within = \"10 min\"")));
    rig.poll(5, &[("LT", rig.pressure_pa("day", 2.0))]);
    rig.pass(59.9);
    rig.tick();
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
    rig.pass(0.1);
    rig.tick();
    assert_eq!(rig.reading("day").quality, Quality::Bad);
}

#[test]
fn an_exception_is_told_as_one() {
    let mut rig = rig("hold");
    rig.poll(5, &[("LT", 9000.0)]);
    for _ in 0..11 {
        rig.pass(1.0);
        rig.fail("LT", Fault::Exception(4));
    }
    assert!(rig.has("day", Reason::DeviceException));
}

#[test]
fn hold_keeps_each_alarm_as_it_is() {
    for (level_m, active) in [(3.6, "LAH"), (0.4, "LAL"), (2.0, "")] {
        let mut rig = rig("hold");
        rig.poll(5, &[("LT", rig.pressure_pa("day", level_m))]);
        rig.miss(600, "LT");
        for code in ["LAH", "LAL"] {
            let alarm = rig.alarm("day", code);
            assert_eq!(alarm.active, code == active, "{code} at {level_m} m");
            assert!(alarm.questionable, "{code}");
        }
    }
}

#[test]
fn annunciate_tells_and_clear_clears() {
    let mut told = rig("annunciate");
    told.poll(5, &[("LT", told.pressure_pa("day", 2.0))]);
    told.miss(9, "LT");
    assert_eq!(
        told.state("day", "LAH"),
        Normal,
        "the kept value still decides"
    );
    told.miss(1, "LT");
    // Both come about, and one tells it.
    assert_eq!(told.state("day", "LAL"), Unacknowledged);
    assert_eq!(told.state("day", "LAH"), Suppressed);
    assert!(told.alarm("day", "LAH").active);

    let mut cleared = rig("clear");
    cleared.poll(5, &[("LT", cleared.pressure_pa("day", 3.6))]);
    assert_eq!(cleared.state("day", "LAH"), Unacknowledged);
    cleared.miss(10, "LT");
    assert_eq!(cleared.state("day", "LAH"), ReturnedUnacknowledged);
}

#[test]
fn bad_data_count_towards_an_on_delay_and_restart_an_off_delay() {
    let mut rig = Rig::start(&vented(&high("on_delay = \"30 s\"\noff_delay = \"30 s\"")));
    let (over, under) = (rig.pressure_pa("day", 3.6), rig.pressure_pa("day", 3.0));
    rig.poll(2, &[("LT", over)]);
    rig.miss(28, "LT");
    assert_eq!(rig.reading("day").quality, Quality::Bad);
    assert_eq!(rig.state("day", "LAH"), Normal);
    rig.miss(1, "LT");
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);

    rig.poll(20, &[("LT", under)]);
    rig.miss(15, "LT");
    rig.poll(30, &[("LT", under)]);
    assert_eq!(
        rig.state("day", "LAH"),
        Unacknowledged,
        "the bad time broke the off-delay"
    );
    rig.poll(1, &[("LT", under)]);
    assert_eq!(rig.state("day", "LAH"), ReturnedUnacknowledged);
}

#[test]
fn an_answered_alarm_stays_answered_over_bad_data() {
    let mut rig = rig("hold");
    rig.poll(5, &[("LT", rig.pressure_pa("day", 3.6))]);
    let answer = rig.command(standpipe::engine::Command::Acknowledge {
        tank: "day".into(),
        code: "LAH".into(),
        by: "Ada".into(),
        activation: None,
    });
    assert!(answer.is_ok());
    rig.miss(100, "LT");
    rig.poll(5, &[("LT", rig.pressure_pa("day", 3.6))]);
    assert_eq!(rig.state("day", "LAH"), Acknowledged);
    assert_eq!(rig.history("day", "LAH").len(), 2);
}

/// The temperature is slow: its last value stands in for it, and the reading says so.
#[test]
fn a_lost_temperature_leaves_its_last_value_and_doubt() {
    let thermometer = r#"
[[transmitter]]
tag      = "TT"
link     = "skid-a"
reads    = "temperature"
register = "input 10"
type     = "f64"
unit     = "degC"
"#;
    let site = crate::sites::head("gauge", thermometer)
        + &crate::sites::tank(
            r#"{ kind = "water", temperature = "TT" }"#,
            crate::sites::VENTED,
        )
        + &low("");
    let mut rig = Rig::start(&site);
    rig.poll(3, &[("LT", 20_000.0), ("TT", 60.0)]);
    let good = rig.reading("day");
    assert_eq!(good.quality, Quality::Good);
    // Water at 60 °C: 983.2 kg/m³ (any table of water's density, from memory).
    assert!((good.density.expect("a density").value - 983.2).abs() < 0.1);
    rig.poll(20, &[("LT", 20_000.0)]);
    let doubtful = rig.reading("day");
    assert_eq!(doubtful.quality, Quality::Uncertain);
    assert!(doubtful.reasons.has(Reason::ConditionAssumed));
    assert_eq!(doubtful.density, good.density);
    assert_eq!(doubtful.level, good.level);
    rig.poll(1, &[("LT", 20_000.0), ("TT", 60.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Good);
}
