//! Steps, fast fills, spikes and the headspace, on made signals with repeatable noise.

use super::*;
use crate::physics::vessel::{Shape, Shell, Vessel};
use crate::quantity::{celsius, cubic_metres_per_second, per_kelvin_of};

/// A box of 10 m² and 5 m; 36 m³/h in or out is 1 mm/s.
fn vessel() -> Vessel {
    let shape = Shape::Rectangular {
        length: metres(5.0),
        width: metres(2.0),
        height: metres(5.0),
    };
    Vessel::new(shape).expect("a sound box")
}

const CHECK: fn() -> JumpCheck = || JumpCheck {
    fill_at_most: cubic_metres_per_second(0.01),
    draw_at_most: cubic_metres_per_second(0.01),
};

/// Uniform noise of σ = 1 mm, repeatable.
struct Dice(u32);

impl Dice {
    fn millimetre(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(self.0) / f64::from(u32::MAX) * 2.0 - 1.0) * 3.0_f64.sqrt() * 0.001
    }
}

/// Feeds one sample a second; gives every change with its second.
fn run(
    seconds: u32,
    seed: u32,
    level: impl Fn(f64) -> f64,
    headspace: impl Fn(f64) -> Option<f64>,
) -> Vec<(u32, JumpChange)> {
    let (vessel, mut dice, mut watch) = (vessel(), Dice(seed), JumpWatch::default());
    (0..seconds)
        .filter_map(|second| {
            let sample = JumpSample {
                up: Duration::from_secs(second.into()),
                level: metres(level(f64::from(second)) + dice.millimetre()),
                headspace_pa: headspace(f64::from(second)),
                pascals_per_metre: 9806.65,
                felt: Felt::default(),
            };
            watch
                .take(&CHECK(), vessel.at(None), metres(0.0), sample)
                .map(|change| (second, change))
        })
        .collect()
}

fn step_at(from: f64, until: f64, size: f64) -> impl Fn(f64) -> f64 {
    move |second| {
        if (from..until).contains(&second) {
            size
        } else {
            0.0
        }
    }
}

#[test]
fn a_headspace_jump_of_the_same_pressure_is_an_artefact_and_goes_with_it() {
    let jump = step_at(60.0, 90.0, 0.5);
    let changes = run(
        150,
        1,
        |second| 2.0 + jump(second),
        |second| Some(20_000.0 + 9806.65 * jump(second)),
    );
    let [
        (opened, JumpChange::Opened(found)),
        (returned, JumpChange::Returned(_)),
    ] = changes[..]
    else {
        panic!("one jump that comes and goes, not {changes:?}");
    };
    assert_eq!(found.verdict, JumpVerdict::PressureArtefact);
    assert!(
        (60..=65).contains(&opened),
        "judged within five samples, at {opened}"
    );
    assert!(
        (90..=95).contains(&returned),
        "gone within five samples, at {returned}"
    );
    assert!((found.plausible.value - 2.0).abs() < 0.005);
}

#[test]
fn without_the_headspace_signal_the_same_jump_is_unexplained() {
    let jump = step_at(60.0, 90.0, 0.5);
    let still = run(80, 1, |second| 2.0 + jump(second), |_| Some(20_000.0));
    let none = run(80, 1, |second| 2.0 + jump(second), |_| None);
    for changes in [still, none] {
        assert!(
            matches!(changes[..], [(_, JumpChange::Opened(jump))] if jump.verdict == JumpVerdict::Unexplained)
        );
    }
}

#[test]
fn the_fastest_fill_is_no_jump() {
    for seed in 0..50 {
        let filling = |second: f64| 1.0 + 0.001 * (second - 100.0).clamp(0.0, 600.0);
        assert_eq!(run(1000, seed, filling, |_| None), [], "seed {seed}");
    }
}

#[test]
fn one_wild_sample_is_no_jump() {
    for seed in 0..50 {
        let spike = |second: f64| {
            if (second - 200.0).abs() < 0.5 {
                4.9
            } else {
                2.0
            }
        };
        assert_eq!(run(400, seed, spike, |_| None), [], "seed {seed}");
    }
}

/// Five standard deviations beyond the flow: the sensitivity that the bound is meant for. The means of
/// five differ by σ√(2/5); six of those are 3.8 σ, and the flow of five seconds is 5 mm.
#[test]
fn a_step_of_five_sigma_beyond_the_flow_is_mostly_found() {
    let step = step_at(200.0, 400.0, 0.005 + 0.005);
    let found = (0..200)
        .filter(|seed| !run(300, *seed, |second| 2.0 + step(second), |_| None).is_empty())
        .count();
    assert!(found >= 170, "found in {found} of 200 runs");
}

#[test]
fn white_noise_alone_is_no_jump() {
    let changes = run(200_000, 3, |_| 2.0, |_| None);
    assert_eq!(changes, []);
}

#[test]
fn a_jump_that_stays_is_open_until_it_is_settled() {
    let (vessel, mut dice, mut watch) = (vessel(), Dice(9), JumpWatch::default());
    for second in 0..2000_u32 {
        let level = if second < 50 { 2.0 } else { 2.6 };
        let sample = JumpSample {
            up: Duration::from_secs(second.into()),
            level: metres(level + dice.millimetre()),
            headspace_pa: None,
            pascals_per_metre: 9806.65,
            felt: Felt::default(),
        };
        watch.take(&CHECK(), vessel.at(None), metres(0.0), sample);
    }
    assert!(
        watch.open().is_some(),
        "time alone does not make it plausible"
    );
    assert!(watch.settle().is_some());
    assert!(!watch.doubts());
    assert!(watch.settle().is_none());
}

#[test]
fn where_the_level_can_be_widens_with_time() {
    let (vessel, mut dice, mut watch) = (vessel(), Dice(7), JumpWatch::default());
    let level = step_at(60.0, 1e9, 0.5);
    for second in 0..70 {
        let sample = JumpSample {
            up: Duration::from_secs(second),
            level: metres(level(second as f64) + 2.0 + dice.millimetre()),
            headspace_pa: None,
            pascals_per_metre: 9806.65,
            felt: Felt::default(),
        };
        watch.take(&CHECK(), vessel.at(None), metres(0.0), sample);
    }
    let since = watch.open().expect("a jump of half a metre").since;
    let at = |seconds| {
        let bounds = watch.bounds(
            &CHECK(),
            vessel.at(None),
            metres(0.0),
            since + Duration::from_secs(seconds),
        );
        let known = bounds.expect("it is open");
        (
            known.at_least.unwrap_or(f64::NAN),
            known.at_most.unwrap_or(f64::NAN),
        )
    };
    // 36 m3/h on 10 m2: 1 mm/s either way.
    for seconds in [0, 100, 1000] {
        let (least, most) = at(seconds);
        assert!(
            (least - (2.0 - 0.001 * seconds as f64)).abs() < 0.003,
            "{least}"
        );
        assert!(
            (most - (2.0 + 0.001 * seconds as f64)).abs() < 0.003,
            "{most}"
        );
    }
    // Never beyond the vessel.
    assert!((at(100_000).1 - 5.0).abs() < 1e-9);
}

/// A shell that is a tenth larger each way holds 1.21 times as much: the same flow moves the level less.
#[test]
fn a_warm_vessel_moves_by_its_warm_surface() {
    let shell = Shell {
        expansion: per_kelvin_of(1e-3),
        reference: celsius(20.0),
    };
    let vessel = vessel().with_shell(shell).expect("a sound shell");
    let check = CHECK();
    let moved = |temperature_c: f64| {
        let flow = Flow {
            check: &check,
            vessel: vessel.at(Some(celsius(temperature_c))),
            zero: metres(0.0),
        };
        flow.possible_m(2.0, 1.0, 100.0)
    };
    // 0.01 m³/s for 100 s on 10 m²
    assert!((moved(20.0) - 0.1).abs() < 1e-12);
    assert!((moved(120.0) - 0.1 / 1.21).abs() < 1e-12);
}

/// Condensate in a dry leg, or a leg that was lost: the reading is wrong by a lasting amount, and what flows lifts it
/// back through where the level once was.
#[test]
fn filling_through_the_old_level_does_not_end_a_jump() {
    for seed in 0..20 {
        let low = step_at(60.0, 3000.0, -0.8);
        let rising = |second: f64| 2.0 + 0.001 * (second - 100.0).clamp(0.0, 1500.0) + low(second);
        let changes = run(1600, seed, rising, |_| None);
        assert!(
            matches!(changes[..], [(_, JumpChange::Opened(_))]),
            "seed {seed}: {changes:?}"
        );
    }
}

#[test]
fn drawing_through_the_old_level_does_not_end_one_that_reads_high() {
    let high = step_at(60.0, 3000.0, 0.8);
    let falling = |second: f64| 3.0 - 0.001 * (second - 100.0).clamp(0.0, 1500.0) + high(second);
    let changes = run(1600, 1, falling, |_| Some(20_000.0));
    assert!(
        matches!(changes[..], [(_, JumpChange::Opened(_))]),
        "{changes:?}"
    );
}

#[test]
fn one_that_comes_back_as_suddenly_as_it_went_is_over_though_the_tank_filled_meanwhile() {
    let low = step_at(60.0, 400.0, -0.8);
    let rising = |second: f64| 2.0 + 0.001 * (second - 100.0).clamp(0.0, 1500.0) + low(second);
    let changes = run(600, 1, rising, |_| None);
    assert!(
        matches!(
            changes[..],
            [
                (_, JumpChange::Opened(_)),
                (400..=410, JumpChange::Returned(_))
            ]
        ),
        "{changes:?}"
    );
}

#[test]
fn an_artefact_goes_with_its_headspace_however_slowly() {
    // 0.5 m of pressure that leaks off over 1,000 s: slower than flow could move the level.
    let leak = |second: f64| {
        let since = (second - 60.0).max(0.0);
        if second < 60.0 {
            0.0
        } else {
            (0.5 - 0.0005 * since).max(0.0)
        }
    };
    let changes = run(
        1400,
        1,
        |second| 2.0 + leak(second),
        |second| Some(20_000.0 + 9806.65 * leak(second)),
    );
    assert!(
        matches!(
            changes[..],
            [(_, JumpChange::Opened(_)), (_, JumpChange::Returned(_))]
        ),
        "{changes:?}"
    );
}
