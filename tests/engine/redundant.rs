//! Two hookups of one level: apart, drifting, or within what both can be wrong by.

use crate::normal::{Chance, Damped};
use standpipe::engine::checks::finding::Confidence;
use standpipe::engine::checks::redundant::{Pair, PairWatch};
use std::time::Duration;

/// Days of two levels, good for 5 mm together (k = 1), 4 mm apart, with a slow wander, and after five days so
/// much a day further apart.
fn days(seed: u64, days: u64, apart_m: f64, drift_m_day: f64) -> PairWatch {
    let (mut chance, mut watch, mut wander) =
        (Chance::new(seed), PairWatch::default(), Damped::new(0.999));
    for block in 0..days * 17_280 {
        let day = block as f64 / 17_280.0;
        let difference_m = apart_m
            + drift_m_day * (day - 5.0).max(0.0)
            + 0.0005 * wander.next(&mut chance)
            + 0.002 * chance.normal();
        watch.take(Duration::from_secs(5 * block), difference_m, 0.005);
    }
    watch
}

#[test]
fn levels_within_their_uncertainties_are_left_alone() {
    for seed in 0..60 {
        assert_eq!(
            days(seed, 20, 0.004, 0.0).shows(),
            Pair::Agrees,
            "seed {seed}"
        );
    }
}

#[test]
fn levels_further_apart_than_both_can_be_wrong_are_told() {
    for seed in 0..20 {
        let Pair::Apart(Confidence::Possible, text) = days(seed, 1, 0.0125, 0.0).shows() else {
            panic!("seed {seed}");
        };
        assert!(
            text.contains("together they are good for 10.0 mm"),
            "{text}"
        );
        let far = days(seed, 1, -0.020, 0.0).shows();
        assert!(
            matches!(far, Pair::Apart(Confidence::Probable, _)),
            "seed {seed}: {far:?}"
        );
    }
}

#[test]
fn a_drift_is_told_before_it_is_a_disagreement() {
    for seed in 0..40 {
        let drifts = days(seed, 10, 0.001, 0.0015).shows();
        assert!(matches!(drifts, Pair::Drifts(_)), "seed {seed}: {drifts:?}");
    }
}

/// Days 0 to `until` of a drift that begins after five days, with a restart at each noon that what was kept outlives or
/// not.
fn restarted(seed: u64, until: u64, keeps: bool) -> Pair {
    let (mut chance, mut wander) = (Chance::new(seed), Damped::new(0.999));
    let mut watch = PairWatch::default();
    for block in 0..until * 17_280 {
        let day = block as f64 / 17_280.0;
        let difference_m = 0.001
            + 0.0015 * (day - 5.0).max(0.0)
            + 0.0005 * wander.next(&mut chance)
            + 0.002 * chance.normal();
        watch.take(Duration::from_secs(5 * block), difference_m, 0.005);
        if block % 17_280 == 8640 {
            let kept = watch.memory(7);
            let text = serde_json::to_string(&kept).expect("it can be written");
            let back = serde_json::from_str(&text).expect("it can be read");
            watch = match keeps {
                true => PairWatch::restored(&back),
                false => PairWatch::default(),
            };
        }
    }
    watch.shows()
}

/// Three days are learnt over daily restarts, and the drift is summed over them.
#[test]
fn what_was_normal_outlives_a_restart() {
    for seed in 0..10 {
        let drifts = restarted(seed, 10, true);
        assert!(matches!(drifts, Pair::Drifts(_)), "seed {seed}: {drifts:?}");
        assert_eq!(restarted(seed, 10, false), Pair::Agrees, "seed {seed}");
    }
}
