//! A box that fills: times worked out by hand.

use standpipe::engine::forecast::{next_limit, overflow};
use standpipe::engine::plan::TankPlan;
use standpipe::engine::rate::Rate;
use standpipe::quantity::metres;
use standpipe::site;
use std::path::Path;

/// 10 m² of surface, a high alarm at 3 m, a low one at 1 m, overflow at 4 m.
const SITE: &str = r#"
[site]
name = "Alder Rise"
[[link]]
name = "a"
tcp = "127.0.0.1:1502"
[[transmitter]]
tag = "LT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
[[tank]]
name = "box"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "5 m" }
marks = { overflow = "4 m" }
liquid = { kind = "water" }
hookup = { kind = "vented", transmitter = "LT-1", at = "0 m" }
[[tank.alarm]]
code = "LAH"
watch = "level"
above = "3 m"
[[tank.alarm]]
code = "LAL"
watch = "level"
below = "1 m"
"#;

fn tank() -> TankPlan {
    let site = site::parse(SITE, Path::new("forecast.toml"));
    site.expect("a sound site").plan.tanks.remove(0)
}

fn rate(per_second: f64, standard_error: f64) -> Rate {
    Rate {
        per_second,
        standard_error,
    }
}

#[test]
fn the_next_limit_is_the_one_ahead() {
    let (tank, level) = (tank(), metres(2.0));
    let up = next_limit(&tank, tank.vessel.at(None), level, rate(0.001, 0.0001)).expect("it rises");
    assert!((up.limit.value - 3.0).abs() < 1e-12 && up.rises);
    // (3 m − 2 m) / 1 mm/s = 1000 s; with 1.2 and 0.8 mm/s: 833 s and 1250 s
    assert!((up.after.value - 1000.0).abs() < 1e-6);
    assert!((up.at_least.value - 1000.0 / 1.2).abs() < 1e-6);
    assert!((up.at_most.expect("within the horizon").value - 1250.0).abs() < 1e-6);
    let down =
        next_limit(&tank, tank.vessel.at(None), level, rate(-0.001, 0.0001)).expect("it falls");
    assert!((down.limit.value - 1.0).abs() < 1e-12 && !down.rises);
    assert!((down.after.value - 1000.0).abs() < 1e-6);
}

#[test]
fn past_the_alarm_the_overflow_is_ahead() {
    let (tank, level) = (tank(), metres(3.5));
    let vessel = tank.vessel.at(None);
    let ahead = next_limit(&tank, vessel, level, rate(0.001, 0.0)).expect("it rises");
    assert!((ahead.limit.value - 4.0).abs() < 1e-12);
    assert_eq!(overflow(&tank, vessel, level, rate(-0.001, 0.0)), None);
}

#[test]
fn what_means_nothing_is_not_said() {
    let (tank, level) = (tank(), metres(2.0));
    assert_eq!(
        next_limit(&tank, tank.vessel.at(None), level, rate(0.001, 0.0005)),
        None,
        "within three standard errors"
    );
    assert_eq!(
        next_limit(&tank, tank.vessel.at(None), level, rate(1e-9, 0.0)),
        None,
        "in thirty years"
    );
    assert_eq!(
        next_limit(&tank, tank.vessel.at(None), level, rate(0.0, 0.0)),
        None,
        "not at all"
    );
}
