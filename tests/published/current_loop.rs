//! Loop currents: NAMUR NE 43's bands and the straight line from 4 to 20 mA, as a signal takes them.

use crate::rows::{Row, rows};
use standpipe::engine::plan::{LinearScale, LoopCurrent, Measures, Reads, TransmitterPlan};
use standpipe::engine::signal::{Bound, Signal, SignalValue};
use standpipe::engine::{LinkId, Now, Quality, Reason};
use standpipe::quantity::{Dimension, Timestamp, find};
use std::time::Duration;

/// How long a failure current must stand (NE 43, from memory).
const HOLD_S: f64 = 4.0;
/// What was measured before the current in question.
const BEFORE_MA: f64 = 12.0;

/// A card that counts so many a mA, ranged from `lrv` to `urv` in Pa.
fn transmitter(counts_per_ma: f64, (lrv, urv): (f64, f64)) -> TransmitterPlan {
    let raw = (4.0 * counts_per_ma, 20.0 * counts_per_ma);
    let poll_every = Duration::from_secs(1);
    TransmitterPlan {
        tag: "LT-1".into(),
        link: LinkId(0),
        poll_every,
        reads: Reads::Pressure(Measures::Gauge),
        unit: find("Pa", Dimension::Pressure).expect("the pascal"),
        scale: Some(LinearScale {
            raw,
            value: (lrv, urv),
        }),
        loop_current: Some(LoopCurrent {
            raw,
            live_zero: true,
        }),
        span: None,
        limits: None,
        accuracy: None,
        temperature_effect: None,
        stability: None,
        calibrated: None,
        since_calibration: None,
        zero: 0.0,
        damping: Duration::ZERO,
        resolution: None,
        frozen_after: None,
        failed: Vec::new(),
        uncertain_after: 3 * poll_every,
        bad_after: Duration::from_secs(10),
    }
}

fn at(seconds: f64) -> Now {
    Now {
        up: Duration::from_secs_f64(seconds),
        utc: Timestamp::UNIX_EPOCH,
    }
}

/// What a current says once it came after a good one, and what it says when it has stood for `held_s`.
fn said(plan: &TransmitterPlan, raw_per_ma: f64, current_ma: f64, held_s: f64) -> SignalValue {
    let mut signal = Signal::new(at(0.0));
    signal.accept(plan, at(0.0), Ok(BEFORE_MA * raw_per_ma));
    signal.accept(plan, at(1.0), Ok(current_ma * raw_per_ma));
    let mut now = 1.0;
    while now < 1.0 + held_s {
        now += 1.0;
        signal.accept(plan, at(now), Ok(current_ma * raw_per_ma));
    }
    signal.read(plan, at(now))
}

#[test]
pub fn currents_are_classed_as_ne_43_says() {
    let rows = rows("loop-current.csv");
    assert_eq!(rows.len(), 15);
    // In mA, and as a card that counts in µA.
    for counts_per_ma in [1.0, 1000.0] {
        let plan = transmitter(counts_per_ma, (0.0, 16_000.0));
        for row in &rows {
            let current_ma = row.number("current_ma");
            let at_once = said(&plan, counts_per_ma, current_ma, 0.0);
            let held = said(&plan, counts_per_ma, current_ma, HOLD_S);
            is_classed(row, current_ma, at_once, held);
        }
    }
}

fn is_classed(row: &Row, current_ma: f64, at_once: SignalValue, held: SignalValue) {
    let place = row.place();
    let measured = |said: SignalValue| {
        let value = said.value.unwrap_or_else(|| panic!("{place}: no value"));
        row.check_absolute("value", value, (current_ma - 4.0) * 1000.0, 1e-6);
    };
    match row.text("class") {
        "measurement" | "measurement_under_range" | "measurement_over_range" => {
            measured(held);
            assert_eq!(held.quality(), Quality::Good, "{place}");
            assert_eq!(held.bound, Bound::Exact, "{place}");
        }
        // Left open by the recommendation: the value is a bound.
        class @ ("undefined_low" | "undefined_high") => {
            measured(held);
            let bound = if class == "undefined_low" {
                Bound::AtMost
            } else {
                Bound::AtLeast
            };
            assert_eq!(held.bound, bound, "{place}");
            assert!(held.reasons.has(Reason::CurrentOutOfBand), "{place}");
            assert_eq!(held.quality(), Quality::Uncertain, "{place}");
        }
        "failure_low" | "failure_high" => {
            assert_eq!(at_once.quality(), Quality::Uncertain, "{place}");
            let kept = at_once.value.unwrap_or_else(|| panic!("{place}: not held"));
            row.check_absolute("held value", kept, (BEFORE_MA - 4.0) * 1000.0, 1e-6);
            assert_eq!(held.value, None, "{place}");
            assert!(held.reasons.has(Reason::CurrentFailed), "{place}");
            assert_eq!(held.quality(), Quality::Bad, "{place}");
        }
        other => panic!("{place}: no class {other}"),
    }
}

/// A failure current that passes before the hold time leaves no trace; its time starts afresh.
#[test]
pub fn a_short_failure_current_is_forgiven() {
    let plan = transmitter(1.0, (0.0, 16_000.0));
    let mut signal = Signal::new(at(0.0));
    for (second, current_ma) in [12.0, 22.0, 22.0, 22.0, 12.0, 22.0, 22.0, 22.0]
        .iter()
        .enumerate()
    {
        signal.accept(&plan, at(second as f64), Ok(*current_ma));
        let said = signal.read(&plan, at(second as f64));
        assert!(!said.reasons.has(Reason::CurrentFailed), "{second} s");
        assert_eq!(said.value, Some(8000.0), "{second} s");
    }
}

/// A range that falls turns a bound round, and a card without live zero sees no low failure.
#[test]
pub fn bounds_follow_the_range() {
    let falling = transmitter(1.0, (500.0, -500.0));
    assert_eq!(said(&falling, 1.0, 3.7, 0.0).bound, Bound::AtLeast);
    assert_eq!(said(&falling, 1.0, 20.7, 0.0).bound, Bound::AtMost);
    let mut dead = transmitter(1.0, (0.0, 16_000.0));
    dead.loop_current = dead.loop_current.map(|current| LoopCurrent {
        live_zero: false,
        ..current
    });
    assert_eq!(said(&dead, 1.0, 3.5, HOLD_S).quality(), Quality::Good);
    assert_eq!(said(&dead, 1.0, 21.0, HOLD_S).quality(), Quality::Bad);
}

#[test]
pub fn currents_are_scaled_on_a_straight_line() {
    let rows = rows("loop-scaling.csv");
    assert_eq!(rows.len(), 10);
    for row in &rows {
        let (lrv, urv) = (row.number("lrv"), row.number("urv"));
        let plan = transmitter(1.0, (lrv, urv));
        let value = said(&plan, 1.0, row.number("current_ma"), 0.0).value;
        let value = value.unwrap_or_else(|| panic!("{}: no value", row.place()));
        row.check_absolute(
            "value",
            value,
            row.number("value"),
            1e-9 * (urv - lrv).abs(),
        );
        let percent = 100.0 * (value - lrv) / (urv - lrv);
        row.check_absolute("percent", percent, row.number("percent"), 1e-9);
    }
}
