//! Impulse lines: each fault by its two gains, and none of them on healthy lines.

use crate::normal::Chance;
use standpipe::engine::checks::finding::Confidence::{Possible, Probable};
use standpipe::engine::checks::finding::{Confidence, Fault};
use standpipe::engine::checks::lines::{LineBlock, LinesWatch, OF_HOOKUP, Reference};
use std::time::Duration;

/// Pa of a metre of water.
const PER_METRE: f64 = 9806.65;
const BLOCK_S: f64 = 5.0;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Line {
    Clear,
    HighPlugged,
    LowPlugged,
    BothPlugged,
    /// The share of the difference that is left.
    Equaliser(f64),
    /// Against the air, plugged or not.
    Air {
        plugged: bool,
    },
}

/// What is known beside the difference.
#[derive(Clone, Copy, Debug)]
struct Known {
    headspace: bool,
    flow: bool,
    largest_flow: bool,
    /// The level is another hookup's.
    hookup: bool,
}

const ALL: Known = Known {
    headspace: true,
    flow: true,
    largest_flow: true,
    hookup: false,
};

/// Ten hours of filling, drawing and rest, with the headspace's pressure let in and off.
fn run(seed: u64, line: Line, known: Known, noise_pa: f64) -> Option<(Fault, Confidence, String)> {
    let (mut chance, mut watch) = (Chance::new(seed), LinesWatch::default());
    let (mut level_m, mut gas_pa, mut rate_m_s): (f64, f64, f64) = (2.0, 20_000.0, 0.0);
    let trapped = (gas_pa + PER_METRE * level_m, gas_pa);
    let reference = match line {
        Line::Air { .. } => Reference::Air,
        _ => Reference::Headspace,
    };
    let mut found = None;
    for block in 0..7200_u32 {
        if block % 120 == 0 {
            rate_m_s = [0.0, 0.0005, -0.0004][chance.uniform(0.0, 3.0) as usize];
        }
        // A valve that lets gas in or off within a minute, a few times an hour.
        if chance.uniform(0.0, 1.0) < 0.005 {
            gas_pa = chance.uniform(5_000.0, 40_000.0);
        }
        level_m = (level_m + rate_m_s * BLOCK_S).clamp(0.5, 5.0);
        let (high, low) = (gas_pa + PER_METRE * level_m, gas_pa);
        let truth = match line {
            Line::Clear => high - low,
            Line::HighPlugged => trapped.0 - low,
            Line::LowPlugged => high - trapped.1,
            Line::BothPlugged => trapped.0 - trapped.1,
            Line::Equaliser(share) => share * (high - low),
            Line::Air { plugged: false } => high,
            Line::Air { plugged: true } => trapped.0,
        };
        let up = Duration::from_secs_f64(BLOCK_S * f64::from(block));
        watch.take(LineBlock {
            up,
            difference_pa: truth + noise_pa * chance.normal(),
            headspace_pa: known.headspace.then(|| gas_pa + noise_pa * chance.normal()),
            head_pa: known.flow.then_some(PER_METRE * level_m),
            source: if known.hookup { OF_HOOKUP } else { 1 },
            fastest_pa_s: known.largest_flow.then_some(0.001 * PER_METRE),
        });
        // Once it was found it stays so.
        let now = watch.finding(reference);
        found = now.or(found);
    }
    found
}

#[test]
fn each_fault_of_the_table_is_told_by_its_gains() {
    let cases = [
        (Line::HighPlugged, Fault::HighSidePlugged, Probable),
        (Line::LowPlugged, Fault::LowSidePlugged, Probable),
        (Line::BothPlugged, Fault::BothSidesPlugged, Probable),
        (Line::Equaliser(0.4), Fault::EqualiserPassing, Possible),
        (Line::Air { plugged: true }, Fault::LinePlugged, Probable),
    ];
    for (line, fault, confidence) in cases {
        for seed in 0..50 {
            let (found, sure, text) =
                run(seed, line, ALL, 20.0).unwrap_or_else(|| panic!("{line:?}, seed {seed}"));
            assert_eq!(found, fault, "{line:?}, seed {seed}: {text}");
            assert!(sure >= confidence, "{line:?}, seed {seed}: {text}");
        }
    }
}

/// 200 seeds of ten hours each for both references, quiet and noisy, all known and little known.
#[test]
fn clear_lines_are_left_alone() {
    for line in [Line::Clear, Line::Air { plugged: false }] {
        for noise_pa in [2.0, 100.0] {
            for (headspace, flow, largest_flow) in [
                (true, true, true),
                (true, false, true),
                (true, false, false),
                (false, true, true),
            ] {
                let known = Known {
                    headspace,
                    flow,
                    largest_flow,
                    hookup: false,
                };
                // A headspace that nobody measures enters a difference against the air as noise.
                if matches!(line, Line::Air { .. }) && !headspace {
                    continue;
                }
                for seed in 0..50 {
                    assert_eq!(
                        run(seed, line, known, noise_pa),
                        None,
                        "{line:?}, {known:?}, seed {seed}"
                    );
                }
            }
        }
    }
}

#[test]
fn without_known_flow_the_headspace_alone_tells_the_high_side() {
    let little = Known { flow: false, ..ALL };
    let less = Known {
        flow: false,
        largest_flow: false,
        ..ALL
    };
    for seed in 0..50 {
        let found = run(seed, Line::HighPlugged, little, 20.0).expect("told");
        assert_eq!(
            (found.0, found.1),
            (Fault::HighSidePlugged, Probable),
            "seed {seed}: {}",
            found.2
        );
        let found = run(seed, Line::HighPlugged, less, 20.0).expect("told");
        assert_eq!(
            (found.0, found.1),
            (Fault::HighSidePlugged, Possible),
            "seed {seed}: {}",
            found.2
        );
        let found = run(seed, Line::LowPlugged, little, 20.0).expect("told");
        assert_eq!(found.0, Fault::LowSidePlugged, "seed {seed}: {}", found.2);
        assert_eq!(
            run(seed, Line::LowPlugged, less, 20.0),
            None,
            "filling looks like it"
        );
    }
}

#[test]
fn without_a_headspace_transmitter_a_dead_line_is_told_but_not_which() {
    let flow_only = Known {
        headspace: false,
        hookup: true,
        ..ALL
    };
    for seed in 0..50 {
        let found = run(seed, Line::BothPlugged, flow_only, 20.0).expect("told");
        assert_eq!(
            (found.0, found.1),
            (Fault::LinePlugged, Possible),
            "seed {seed}: {}",
            found.2
        );
    }
}

/// Six hours of sound lines with a pressure swing of ten σ every half hour and a filling or drawing between, then a
/// fault; after how many swings of the headspace and of the level, counted together, it is told.
fn swings_until_told(seed: u64, sigmas: f64, plugged_high: bool) -> (u32, Fault) {
    const NOISE_PA: f64 = 100.0;
    let (mut chance, mut watch) = (Chance::new(seed), LinesWatch::default());
    let (mut level_m, mut gas_pa) = (2.0, 20_000.0);
    let mut trapped = None;
    let mut swings = 0;
    for block in 0..14_400_u32 {
        let (hour, within) = (block / 720, block % 720);
        // Up for an hour, down for the next.
        let sign = if hour % 2 == 0 { 1.0 } else { -1.0 };
        // At least ten σ of a period's mean, with what the noise takes off it and what the steps add to the σ heard.
        if within % 360 == 180 {
            gas_pa += sign * sigmas * NOISE_PA;
            swings += u32::from(trapped.is_some());
        }
        if (0..60).contains(&(within % 360)) {
            level_m += sign * 0.004 * sigmas / 17.0;
            swings += u32::from(trapped.is_some() && within % 360 == 59);
        }
        let (high, low) = (gas_pa + PER_METRE * level_m, gas_pa);
        if block == 4320 {
            trapped = Some((high, low));
        }
        let truth = match trapped {
            None => high - low,
            Some((trapped, _)) if plugged_high => trapped - low,
            Some((_, trapped)) => high - trapped,
        };
        watch.take(LineBlock {
            up: Duration::from_secs_f64(BLOCK_S * f64::from(block)),
            difference_pa: truth + NOISE_PA * chance.normal(),
            headspace_pa: Some(gas_pa + NOISE_PA * chance.normal()),
            head_pa: Some(PER_METRE * level_m),
            source: 1,
            fastest_pa_s: Some(0.001 * PER_METRE),
        });
        let side = watch.finding(Reference::Headspace);
        let side = side
            .map(|(fault, ..)| fault)
            .filter(|fault| matches!(fault, Fault::HighSidePlugged | Fault::LowSidePlugged));
        if let Some(fault) = side {
            assert!(trapped.is_some(), "seed {seed}: {fault:?} in sound lines");
            return (swings, fault);
        }
    }
    panic!("seed {seed}: not told");
}

/// A plugged high side shows in swings of either kind: within three of them, or, where the one of the headspace was only
/// just large enough to count, once it has swung twice. A plugged low side shows in those of the headspace alone, of which
/// every second swing is one.
#[test]
fn a_side_that_plugs_is_told_within_three_swings_that_show_it() {
    // What just passes ten σ as the watch itself hears it, and what clearly does.
    for (sigmas, fewest) in [(17.0, 190), (25.0, 200)] {
        let mut within_three = 0;
        for seed in 0..200 {
            let (swings, fault) = swings_until_told(seed, sigmas, true);
            assert_eq!(fault, Fault::HighSidePlugged, "seed {seed}");
            assert!(swings <= 4, "{sigmas} σ, seed {seed}: {swings}");
            within_three += u32::from(swings <= 3);
            let (swings, fault) = swings_until_told(seed, sigmas, false);
            assert_eq!(fault, Fault::LowSidePlugged, "seed {seed}");
            assert!(swings <= 6, "{sigmas} σ, seed {seed}: {swings}");
        }
        assert!(within_three >= fewest, "{sigmas} σ: {within_three} of 200");
    }
}

/// Entries eight hours apart in a tank whose flow nobody knows, filled and drawn between them.
fn seen_at_the_glass(seed: u64, line: Line, sigma_m: f64) -> Option<Fault> {
    let (mut chance, mut watch) = (Chance::new(seed), LinesWatch::default());
    let mut level_m: f64 = 2.0;
    let trapped = PER_METRE * level_m;
    for block in 0..5760 * 6_u32 {
        if block % 5760 == 0 {
            let head_pa = PER_METRE * (level_m + sigma_m * chance.normal());
            let up = Duration::from_secs_f64(BLOCK_S * f64::from(block));
            watch.saw(up, head_pa, PER_METRE * sigma_m);
        }
        let rate_m = if block / 5760 % 2 == 0 { 1e-4 } else { -1.2e-4 };
        level_m += rate_m;
        let truth = match line {
            Line::BothPlugged => trapped,
            Line::Equaliser(share) => share * PER_METRE * level_m,
            _ => PER_METRE * level_m,
        };
        watch.take(LineBlock {
            up: Duration::from_secs_f64(BLOCK_S * f64::from(block)),
            difference_pa: truth + 20.0 * chance.normal(),
            headspace_pa: None,
            head_pa: None,
            source: u8::MAX,
            fastest_pa_s: Some(0.001 * PER_METRE),
        });
    }
    watch.finding(Reference::Headspace).map(|(fault, ..)| fault)
}

#[test]
fn entries_of_rounds_tell_the_movement_that_nothing_else_tells() {
    for seed in 0..50 {
        let sigma_m = 0.005;
        let plugged = seen_at_the_glass(seed, Line::BothPlugged, sigma_m);
        assert_eq!(plugged, Some(Fault::LinePlugged), "seed {seed}");
        let passing = seen_at_the_glass(seed, Line::Equaliser(0.4), sigma_m);
        assert_eq!(passing, Some(Fault::EqualiserPassing), "seed {seed}");
        assert_eq!(
            seen_at_the_glass(seed, Line::Clear, sigma_m),
            None,
            "seed {seed}"
        );
        // Ten times what an entry is uncertain by is more than what moved.
        assert_eq!(
            seen_at_the_glass(seed, Line::BothPlugged, 0.2),
            None,
            "seed {seed}"
        );
    }
}
