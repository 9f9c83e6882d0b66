//! Alarms on the rate of level and on net flow, on a steady fill.

use crate::rig::Rig;
use crate::sites::{JUMP, vented};
use standpipe::engine::alarm::AlarmState::{Normal, Unacknowledged};

fn rig(on_bad: &str) -> Rig {
    Rig::start(&vented(&format!(
        r#"
[[tank.alarm]]
code     = "RATE"
watch    = "rate"
above    = "1.5 mm/s"
deadband = "0.2 mm/s"
on_bad   = "{on_bad}"

[[tank.alarm]]
code     = "FLOW"
watch    = "net_flow"
above    = "70 m3/h"
deadband = "2 m3/h"
on_bad   = "{on_bad}"
"#
    )))
}

/// Fills at a rate, with ±1 mm of alternating disturbance on it.
fn fill(rig: &mut Rig, from_m: f64, rate_m_s: f64, seconds: u32) {
    for second in 1..=seconds {
        let noise_m = if second % 2 == 0 { 0.001 } else { -0.001 };
        let level_m = from_m + rate_m_s * f64::from(second) + noise_m;
        rig.poll(1, &[("LT", rig.pressure_pa("day", level_m))]);
    }
}

#[test]
fn a_steady_fill_is_told_by_rate_and_by_flow() {
    let mut rig = rig("hold");
    fill(&mut rig, 1.0, 0.001, 200);
    let reading = rig.reading("day");
    // 1 mm/s over 10 m² is 36 m³/h.
    assert!((reading.rate.expect("a rate").value - 0.001).abs() < 2e-5);
    assert!((reading.net_flow.expect("a flow").value * 3600.0 - 36.0).abs() < 0.5);
    assert_eq!(rig.state("day", "RATE"), Normal);
    assert_eq!(rig.state("day", "FLOW"), Normal);
    fill(&mut rig, 1.2, 0.002, 200);
    assert_eq!(rig.state("day", "RATE"), Unacknowledged);
    assert_eq!(rig.state("day", "FLOW"), Unacknowledged);
    fill(&mut rig, 1.6, 0.0, 200);
    assert!(!rig.state("day", "RATE").is_active());
    assert!(!rig.state("day", "FLOW").is_active());
    assert_eq!(
        rig.history("day", "RATE").len(),
        2,
        "it comes once and goes once"
    );
}

const RATE: &str = r#"
[[tank.alarm]]
code     = "RATE"
watch    = "rate"
above    = "1.5 mm/s"
deadband = "0.2 mm/s"
"#;

/// The inlet brings four times what it is said to bring at most: an implausible jump, and the rate is told all the same.
#[test]
fn a_fill_beyond_the_stated_one_raises_the_rate_alarm_through_the_jump() {
    let mut rig = Rig::start(&vented(&format!("{RATE}{JUMP}")));
    fill(&mut rig, 1.0, 0.0, 100);
    let since = rig.now.up;
    fill(&mut rig, 1.0, 0.004, 60);
    assert!(rig.tank("day").jump.is_some());
    assert_eq!(rig.state("day", "RATE"), Unacknowledged);
    let rate = rig.reading("day").rate.expect("the rate as it is read");
    assert!((rate.value - 0.004).abs() < 4e-4, "{rate:?}");
    // And it ends with the fill, while the jump waits for somebody who looks.
    fill(&mut rig, 1.24, 0.0, 120);
    assert!(rig.tank("day").jump.is_some(), "{since:?}");
    assert!(!rig.state("day", "RATE").is_active());
    // Twice as fast as before, the other way.
    fill(&mut rig, 1.24, -0.008, 60);
    let rate = rig.reading("day").rate.expect("the rate as it is read");
    assert!((rate.value + 0.008).abs() < 8e-4, "{rate:?}");
}

/// A step up and back, by polls of a second and of a minute: no window of the rate holds the step itself.
#[test]
fn a_step_is_no_rate() {
    for seconds in [1.0, 60.0] {
        let site = vented(&format!("{RATE}{JUMP}"));
        let mut rig = Rig::start(&site.replace(
            "poll_every = \"1 s\"",
            &format!("poll_every = \"{seconds} s\""),
        ));
        let at = |rig: &mut Rig, level_m: f64, count: u32| {
            for poll in 0..count {
                let noise_m = if poll % 2 == 0 { 0.001 } else { -0.001 };
                rig.pass(seconds);
                rig.read(&[("LT", rig.pressure_pa("day", level_m + noise_m))]);
            }
        };
        at(&mut rig, 1.0, 60);
        at(&mut rig, 3.4, 40);
        assert!(rig.tank("day").jump.is_some(), "{seconds}");
        at(&mut rig, 1.0, 40);
        assert_eq!(rig.history("day", "RATE").len(), 0, "{seconds}");
    }
}

/// A rate takes some readings; that there is none yet is no bad quality.
#[test]
fn a_good_start_does_not_annunciate_a_missing_rate() {
    let mut rig = rig("annunciate");
    fill(&mut rig, 1.0, 0.001, 100);
    assert_eq!(rig.history("day", "RATE"), []);
    assert_eq!(rig.history("day", "FLOW"), []);
    rig.miss(15, "LT");
    assert_eq!(
        rig.state("day", "RATE"),
        Unacknowledged,
        "a lost level is bad"
    );
}

/// At 1 mm/s the overflow is ten minutes away 0.6 m below it; a level that does not rise is never near it.
#[test]
fn the_time_to_overflow_is_an_alarm_while_the_level_rises() {
    let mut rig = Rig::start(&vented(
        r#"
[[tank.alarm]]
code     = "TAL"
watch    = "time_to_overflow"
below    = "10 min"
deadband = "1 min"
"#,
    ));
    fill(&mut rig, 3.0, 0.001, 200);
    assert_eq!(rig.state("day", "TAL"), Normal);
    let ahead = rig.reading("day").time_to_overflow.expect("it rises").value;
    assert!((ahead - 800.0).abs() < 30.0, "{ahead} s to the top at 4 m");
    fill(&mut rig, 3.2, 0.001, 300);
    assert_eq!(rig.state("day", "TAL"), Unacknowledged);
    fill(&mut rig, 3.5, 0.0, 200);
    assert!(!rig.state("day", "TAL").is_active());
    assert_eq!(rig.reading("day").time_to_overflow, None);
}
