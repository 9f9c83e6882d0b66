//! An alarm's condition: monotonic in the level, at one with itself from one side, and no chatter.

use proptest::prelude::*;
use standpipe::engine::alarm::{Known, judge};
use standpipe::engine::plan::Limit;
use standpipe::engine::{Effect, Engine, Input, Now, Plan, Sample, TransmitterId};
use std::path::Path;
use std::sync::{Arc, LazyLock};
use std::time::Duration;

static PLAN: LazyLock<Arc<Plan>> = LazyLock::new(|| {
    let site = r#"
[site]
name    = "Alder Rise"
gravity = "9.81 m/s2"
[[link]]
name = "a"
tcp  = "127.0.0.1:1502"
[[transmitter]]
tag = "LT"
link = "a"
register = "input 0"
type = "f64"
measures = "gauge"
unit = "Pa"
[[tank]]
name   = "day"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "vented", transmitter = "LT", at = "0 m" }
alarm  = [
    { code = "LAH", watch = "level", above = "3 m", deadband = "0.05 m" },
    { code = "LAL", watch = "level", below = "1 m", deadband = "0.05 m" },
]
"#;
    let site = standpipe::site::parse(site, Path::new("alder-rise.toml"));
    Arc::new(site.unwrap_or_else(|problems| panic!("{problems}")).plan)
});

/// How often an alarm came and went while the level took these values, a second each.
fn comings(code: &str, levels: impl Iterator<Item = f64>) -> (usize, usize) {
    let utc = "2026-03-04T05:06:07Z".parse().expect("a time");
    let mut now = Now {
        up: Duration::ZERO,
        utc,
    };
    let mut effects = Vec::new();
    let mut engine = Engine::start(Arc::clone(&PLAN), None, now, &mut effects);
    for level_m in levels {
        now.up += Duration::from_secs(1);
        now.utc += Duration::from_secs(1);
        let sample = Sample {
            transmitter: TransmitterId(0),
            // Air of 1.2 kg/m³ stands above the liquid: 0.1 % of it, or 5 mm at most here.
            raw: Ok(9.81 * 998.8 * level_m),
        };
        engine.step(now, Input::Samples(&[sample]), &mut effects);
    }
    let moves = effects.iter().filter_map(|effect| match effect {
        Effect::Event(event) if event.code.as_deref() == Some(code) => event.to,
        _ => None,
    });
    let (came, went): (Vec<_>, Vec<_>) = moves.partition(|state| state.is_active());
    (came.len(), went.len())
}

/// A ramp past a limit of 3 m and back, or its mirror image past one of 1 m, with noise in ±`noise`.
fn ramp(up: bool, noise: &[f64]) -> impl Iterator<Item = f64> {
    let count = noise.len();
    noise.iter().enumerate().map(move |(place, noise_m)| {
        // From 0.2 m before the limit to 0.2 m beyond it and back.
        let way = 2.0 * place as f64 / (count - 1) as f64;
        let beyond_m = 0.4 * (1.0 - (way - 1.0).abs()) - 0.2;
        let level_m = if up { 3.0 + beyond_m } else { 1.0 - beyond_m };
        level_m + noise_m
    })
}

fn limits() -> impl Strategy<Value = Limit> {
    prop_oneof![
        (0.0..5.0).prop_map(Limit::Above),
        (0.0..5.0).prop_map(Limit::Below),
        (0.0..2.5, 2.5..5.0).prop_map(|(low, high)| Limit::Outside(low, high)),
    ]
}

proptest! {
    /// Noise of ±24 mm, 48 mm from end to end, under a deadband of 50 mm.
    #[test]
    fn noise_within_the_deadband_never_chatters(
        up in any::<bool>(),
        noise in prop::collection::vec(-0.024..0.024, 20..400),
    ) {
        let code = if up { "LAH" } else { "LAL" };
        prop_assert_eq!(comings(code, ramp(up, &noise)), (1, 1));
    }

    #[test]
    fn more_level_never_ends_above(
        limit in 0.0..5.0, deadband in 0.0..0.5, was in any::<bool>(),
        level in -1.0..6.0, more in 0.0..3.0,
    ) {
        let at = |level| judge(Limit::Above(limit), deadband, was, Known::exactly(level));
        prop_assert!(!(at(level) == Some(true) && at(level + more) == Some(false)));
        let below = |level| judge(Limit::Below(limit), deadband, was, Known::exactly(level));
        prop_assert!(!(below(level + more) == Some(true) && below(level) == Some(false)));
    }

    /// Whatever a bound decides, every level that it allows decides the same.
    #[test]
    fn one_side_never_contradicts_two(
        limit in limits(), deadband in 0.0..0.5, was in any::<bool>(),
        level in -1.0..6.0, slack in 0.0..3.0,
    ) {
        let both = judge(limit, deadband, was, Known::exactly(level));
        prop_assert!(both.is_some(), "a level itself always decides");
        let from_below = Known { at_least: Some(level - slack), at_most: None };
        let from_above = Known { at_least: None, at_most: Some(level + slack) };
        for known in [from_below, from_above] {
            let decided = judge(limit, deadband, was, known);
            prop_assert!(decided.is_none() || decided == both, "{decided:?}, but {both:?}");
        }
        prop_assert_eq!(judge(limit, deadband, was, Known::NOTHING), None);
    }
}
