//! One-sided readings: what cannot be seen still decides the alarms that its bound decides.

use crate::rig::Rig;
use crate::sites::{self, WET, closed, high, low, vented};
use standpipe::engine::alarm::AlarmState::{Normal, Unacknowledged};
use standpipe::engine::{Quality, Reason};

fn alarms(low_limit: &str) -> String {
    sites::alarm("LAL", &format!("below = \"{low_limit}\""), "") + &high("")
}

#[test]
fn an_empty_vented_tank_is_low_by_its_bound() {
    let mut rig = Rig::start(&vented(&alarms("0.15 m")));
    rig.poll(3, &[("LT", rig.pressure_pa("day", 1.0))]);
    assert_eq!(rig.state("day", "LAL"), Normal);
    // Below the tap nothing presses on the diaphragm.
    rig.poll(2, &[("LT", 0.0)]);
    let reading = rig.reading("day");
    assert_eq!(
        (reading.level, reading.volume, reading.mass),
        (None, None, None)
    );
    assert!((reading.level_at_most.expect("a bound").value - 0.10).abs() < 0.01);
    assert_eq!(reading.level_at_least, None);
    assert!(reading.reasons.has(Reason::AtOrBelowTap));
    assert_eq!(reading.quality, Quality::Uncertain);
    assert_eq!(rig.state("day", "LAL"), Unacknowledged);
    assert_eq!(rig.state("day", "LAH"), Normal);
}

/// Empty, the wet leg's transmitter reads g·(ρl·0.2 m + ρair·3.4 m − ρleg·3.6 m), by hand −36.14 kPa, with
/// air of 1.225 kg/m³ at 15 °C and 1013.25 hPa (ISO 2533).
#[test]
fn an_empty_tank_on_a_wet_leg_is_low_by_its_bound() {
    let mut rig = Rig::start(&closed(WET, &alarms("0.25 m")));
    let empty_pa = 9.81 * (1000.0 * 0.2 + 1.225 * 3.4 - 1080.0 * 3.6);
    rig.poll(3, &[("LT", rig.pressure_pa("day", 1.0))]);
    rig.poll(2, &[("LT", empty_pa)]);
    let reading = rig.reading("day");
    assert_eq!(reading.level, None);
    assert!((reading.level_at_most.expect("a bound").value - 0.20).abs() < 0.001);
    assert_eq!(rig.state("day", "LAL"), Unacknowledged);
    assert_eq!(rig.state("day", "LAH"), Normal);
}

/// Full to the upper tap and above, a wet leg's transmitter reads ρl·g·3.6 m − ρleg·g·3.6 m.
#[test]
fn a_tank_full_past_the_upper_tap_is_high_by_its_bound() {
    let mut rig = Rig::start(&closed(WET, &alarms("0.25 m")));
    rig.poll(3, &[("LT", rig.pressure_pa("day", 3.0))]);
    rig.poll(2, &[("LT", 9.81 * (1000.0 - 1080.0) * 3.6)]);
    let reading = rig.reading("day");
    assert_eq!((reading.level, reading.level_at_most), (None, None));
    assert!((reading.level_at_least.expect("a bound").value - 3.6).abs() < 1e-9);
    assert!(reading.reasons.has(Reason::AtOrAboveUpperTap));
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    assert_eq!(rig.state("day", "LAL"), Normal);
}

#[test]
fn above_the_vessel_is_bad_for_inventory_but_full_for_limits() {
    let fill = r#"
[[tank.alarm]]
code  = "VOLUME-HIGH"
watch = "volume"
above = "36 m3"
"#;
    let mut rig = Rig::start(&vented(&(high("") + fill)));
    rig.poll(3, &[("LT", rig.pressure_pa("day", 3.6))]);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    rig.poll(20, &[("LT", rig.pressure_pa("day", 4.2))]);
    let reading = rig.reading("day");
    assert_eq!(reading.quality, Quality::Bad);
    assert!(reading.reasons.has(Reason::AboveVessel));
    let inventory = (reading.level, reading.volume, reading.mass, reading.ullage);
    assert_eq!(inventory, (None, None, None, None));
    assert!((reading.level_at_least.expect("at least full").value - 4.0).abs() < 1e-9);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    assert!(
        !rig.alarm("day", "LAH").questionable,
        "its bound confirms it"
    );
    assert_eq!(rig.state("day", "VOLUME-HIGH"), Unacknowledged);
    assert_eq!(rig.state("day", "MEASUREMENT"), Unacknowledged);
}

#[test]
fn beyond_what_intact_lines_give_nothing_is_said() {
    for (hookup, impossible_pa) in [
        (sites::VENTED, -2000.0),
        (WET, 9.81 * (1000.0 - 1080.0) * 3.6 + 2000.0),
        (WET, 9.81 * (1000.0 * 0.2 - 1080.0 * 3.6) - 2000.0),
    ] {
        let measures = if hookup == WET {
            "differential"
        } else {
            "gauge"
        };
        let site =
            sites::head(measures, "") + &sites::tank(sites::HEAVY, hookup) + &low("") + &high("");
        let mut rig = Rig::start(&site);
        rig.poll(3, &[("LT", rig.pressure_pa("day", 2.0))]);
        rig.poll(3, &[("LT", impossible_pa)]);
        let reading = rig.reading("day");
        assert!(reading.reasons.has(Reason::OutsideIntactLines), "{hookup}");
        let known = (reading.level, reading.level_at_least, reading.level_at_most);
        assert_eq!(known, (None, None, None), "{hookup}");
        assert_eq!(rig.state("day", "LAL"), Normal);
        assert_eq!(rig.state("day", "LAH"), Normal);
        assert_eq!(rig.state("day", "MEASUREMENT"), Unacknowledged);
    }
}
