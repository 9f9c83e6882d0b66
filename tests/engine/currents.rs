//! Loop current by NAMUR NE 43: bands, the hold of a failure current, one-sided readings between them.

use crate::rig::Rig;
use crate::sites::{self, high, low};
use standpipe::engine::alarm::AlarmState::{Normal, Unacknowledged};
use standpipe::engine::{Quality, Reason};

/// The card counts in µA; 4 mA is 5 kPa, a level of some 0.61 m, 20 mA is 37 kPa, some 3.9 m.
fn rig() -> Rig {
    let scale = "scale = { raw = [4000, 20000], value = [5000.0, 37000.0], signal = \"4-20 mA\" }";
    let site = sites::head("gauge", scale)
        + &sites::tank(sites::HEAVY, sites::VENTED)
        + &sites::alarm("LAL", "below = \"0.70 m\"", "")
        + &high("")
        + "[tank.measurement_failed]\non_delay = \"0 s\"\n";
    Rig::start(&site)
}

#[test]
fn a_failure_current_is_believed_after_four_seconds() {
    for failed in [3500.0, 3600.0, 21_000.0, 21_600.0] {
        let mut rig = rig();
        rig.poll(5, &[("LT", 12_000.0)]);
        let before = rig.level_m("day");
        for second in 0..4 {
            rig.poll(1, &[("LT", failed)]);
            let held = rig.reading("day");
            assert_eq!(
                held.quality,
                Quality::Uncertain,
                "{failed} after {second} s"
            );
            assert!(held.reasons.has(Reason::CurrentSuspect));
            assert_eq!(held.level.map(|level| level.value), before);
        }
        rig.poll(1, &[("LT", failed)]);
        let bad = rig.reading("day");
        assert_eq!((bad.quality, bad.level), (Quality::Bad, None));
        assert!(bad.reasons.has(Reason::CurrentFailed));
        // Neither limit was touched by it.
        assert_eq!(rig.state("day", "LAL"), Normal);
        assert_eq!(rig.state("day", "LAH"), Normal);
        assert_eq!(rig.state("day", "MEASUREMENT"), Unacknowledged);
    }
}

#[test]
fn a_short_failure_current_is_over_with_it() {
    let mut rig = rig();
    rig.poll(5, &[("LT", 12_000.0)]);
    rig.poll(3, &[("LT", 3500.0)]);
    rig.poll(1, &[("LT", 12_000.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Good);
    // The next one has four seconds of its own.
    rig.poll(3, &[("LT", 3500.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
}

#[test]
fn a_failure_current_from_the_start_has_nothing_to_hold() {
    let mut rig = rig();
    rig.poll(1, &[("LT", 3500.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Bad);
    assert_eq!(rig.state("day", "MEASUREMENT"), Unacknowledged);
}

/// A current that flickers over the edge of the failure band does not bring an old level back.
#[test]
fn what_is_held_is_never_old() {
    let mut rig = rig();
    rig.poll(5, &[("LT", 12_000.0)]);
    for _ in 0..600 {
        rig.poll(1, &[("LT", 3550.0)]);
        rig.poll(1, &[("LT", 3650.0)]);
    }
    rig.poll(1, &[("LT", 3550.0)]);
    assert_eq!(
        rig.level_m("day"),
        None,
        "the last measured level is 20 minutes old"
    );
}

#[test]
fn between_the_bands_the_reading_is_a_bound() {
    let mut rig = rig();
    rig.poll(3, &[("LT", 12_000.0)]);
    rig.poll(2, &[("LT", 3700.0)]);
    let low = rig.reading("day");
    assert_eq!(
        (low.quality, low.level, low.level_at_least),
        (Quality::Uncertain, None, None)
    );
    assert!(low.reasons.has(Reason::CurrentOutOfBand));
    // 5000 Pa − 0.3/16 · 32 000 Pa = 4400 Pa over 0.10 m: 0.10 + 4400/(9.81·998.8) = 0.549 m.
    assert!((low.level_at_most.expect("a bound").value - 0.549).abs() < 0.002);
    assert_eq!(rig.state("day", "LAL"), Unacknowledged);
    assert_eq!(rig.state("day", "LAH"), Normal);

    rig.poll(2, &[("LT", 20_700.0)]);
    let full = rig.reading("day");
    assert_eq!((full.level, full.level_at_most), (None, None));
    assert!(full.level_at_least.expect("a bound").value > 3.9);
    assert_eq!(rig.state("day", "LAH"), Unacknowledged);
    assert!(!rig.state("day", "LAL").is_active());
}

#[test]
fn a_card_that_cannot_go_below_4_ma_shows_no_low_failure() {
    let scale = "scale = { raw = [0, 16000], value = [0.0, 37000.0], signal = \"4-20 mA\", live_zero = false }";
    let site = sites::head("gauge", scale) + &sites::tank(sites::HEAVY, sites::VENTED) + &low("");
    let mut rig = Rig::start(&site);
    rig.poll(8, &[("LT", 0.0)]);
    assert!(rig.has("day", Reason::AtOrBelowTap));
    assert!(!rig.has("day", Reason::CurrentFailed));
}
