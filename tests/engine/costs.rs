//! What the checks cost: their memory is what their heads say, and their time a sample is small.

use crate::normal::Chance;
use standpipe::engine::Now;
use standpipe::engine::checks::follows::{OutsideBlock, OutsideWatch};
use standpipe::engine::checks::frozen::{FrozenWatch, Terms};
use standpipe::engine::checks::idle::{IdleWatch, RestBlock};
use standpipe::engine::checks::lines::{LineBlock, LinesWatch};
use standpipe::engine::checks::monitor::NoiseMonitor;
use standpipe::engine::checks::recurrence::Recurrence;
use standpipe::engine::checks::redundant::PairWatch;
use standpipe::engine::checks::signal::SignalWatch;
use standpipe::engine::checks::spike::SpikeWatch;
use standpipe::quantity::Timestamp;
use std::time::{Duration, Instant};

#[test]
fn the_memory_of_a_check_is_what_its_head_says() {
    for (name, bytes, most) in [
        ("recurrence", size_of::<Recurrence>(), 144),
        ("frozen", size_of::<FrozenWatch>(), 400),
        ("signal", size_of::<SignalWatch>(), 560),
        ("lines", size_of::<LinesWatch>(), 1500),
        ("pair", size_of::<PairWatch>(), 200),
        ("noise", size_of::<NoiseMonitor>(), 200),
        ("idle, beside its points", size_of::<IdleWatch>(), 1300),
        ("spike", size_of::<SpikeWatch>(), 300),
        ("outside, beside its points", size_of::<OutsideWatch>(), 200),
    ] {
        assert!(bytes <= most, "{name}: {bytes} bytes");
    }
}

/// The least of several runs: what else the machine does only makes them longer.
#[test]
#[expect(
    clippy::disallowed_methods,
    reason = "what it takes is measured by a real clock"
)]
fn a_sample_costs_less_than_a_microsecond() {
    let polls = 20_000_u32;
    let mut chance = Chance::new(1);
    let values: Vec<f64> = (0..polls)
        .map(|_| 30_000.0 + 20.0 * chance.normal())
        .collect();
    let mut least = Duration::MAX;
    for _ in 0..10 {
        let (mut frozen, mut lines, mut idle) = (
            FrozenWatch::default(),
            LinesWatch::default(),
            IdleWatch::default(),
        );
        let (mut outside, mut noise) = (OutsideWatch::default(), NoiseMonitor::default());
        let mut spike = SpikeWatch::default();
        let terms = Terms {
            poll_every: Duration::from_secs(1),
            after: None,
        };
        let begun = Instant::now();
        for (second, value) in (0..).zip(&values) {
            let up = Duration::from_secs(second);
            let now = Now {
                up,
                utc: Timestamp::UNIX_EPOCH + up,
            };
            frozen.take(up, *value, terms);
            noise.take(now, Some(*value), 1);
            spike.take(up, *value, |_| 1.0);
            if second % 5 == 0 {
                lines.take(LineBlock {
                    up,
                    difference_pa: *value,
                    headspace_pa: Some(second as f64),
                    head_pa: Some(*value),
                    source: 1,
                    fastest_pa_s: None,
                });
                idle.take(Some(RestBlock {
                    up,
                    hour: (second / 3600 % 24) as u8,
                    mass_kg: *value,
                    ambient_k: Some(285.0),
                }));
                outside.take(Some(OutsideBlock {
                    up,
                    head_pa: *value,
                    ambient_k: Some(285.0),
                    barometer_pa: Some(100_000.0),
                }));
            }
        }
        least = least.min(begun.elapsed());
        assert_eq!(noise.finding(), None);
    }
    let each = least / polls;
    println!("{} ns a sample", each.as_nanos());
    assert!(each < Duration::from_micros(1), "{} ns", each.as_nanos());
}
