//! Packing: what comes back, what damage does, and how much it takes.

use super::*;
use proptest::prelude::*;

fn any_sample() -> impl Strategy<Value = Sample> {
    let quality = prop_oneof![
        Just(Quality::Good),
        Just(Quality::Uncertain),
        Just(Quality::Bad)
    ];
    let value = proptest::option::of(-1e6_f32..1e9);
    (-5_i64..65_000, quality, value).prop_map(|(time_ms, quality, value)| Sample {
        time_ms,
        quality,
        value,
    })
}

proptest! {
    #[test]
    fn a_minute_comes_back_as_it_was(samples in proptest::collection::vec(any_sample(), 0..80)) {
        prop_assert_eq!(read_minute(&minute(&samples)), Some(samples));
    }

    #[test]
    fn no_bytes_make_it_fall_over(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
        for bytes in [&bytes[..], &[&[FORM], &bytes[..]].concat()] {
            let (minute, hour) = (read_minute(bytes), read_hour(bytes));
            prop_assert!(minute.is_none_or(|samples| samples.len() < 80));
            prop_assert!(hour.is_none_or(|minutes| minutes.len() < 80));
        }
    }

    #[test]
    fn an_hour_comes_back_as_it_was(values in proptest::collection::vec(
        proptest::collection::vec(-100_f32..1e6, 0..5), 60)
    ) {
        let minutes = values.iter().enumerate().filter_map(|(place, values)| {
            let samples = values.iter().map(|value| Sample {
                time_ms: 0, quality: Quality::Good, value: Some(*value),
            });
            summary(place as u8, &samples.collect::<Vec<_>>())
        });
        let minutes: Vec<_> = minutes.collect();
        for minute in &minutes {
            prop_assert!(minute.least <= minute.mean && minute.mean <= minute.most);
        }
        prop_assert_eq!(read_hour(&hour(&minutes)), Some(minutes));
    }
}

#[test]
fn zero_and_its_negative_and_the_largest_come_back() {
    let samples = [0.0, f32::MAX, f32::MIN, 1e-40, 0.0].map(|value| Sample {
        time_ms: 1,
        quality: Quality::Good,
        value: Some(value),
    });
    assert_eq!(read_minute(&minute(&samples)), Some(samples.to_vec()));
}

#[test]
fn a_noisy_level_polled_every_second_takes_about_three_bytes() {
    // ±1 mm of noise on 3.4 m, and a jitter of ±8 ms on the poll; the noise is the sine of large numbers.
    let noise = |n: i64| (n as f64 * 12_345.678).sin();
    let samples: Vec<_> = (0..60)
        .map(|n| Sample {
            time_ms: 300 + n * 1000 + (8.0 * noise(n + 99)) as i64,
            quality: Quality::Good,
            value: Some((3.4 + 0.001 * noise(n)) as f32),
        })
        .collect();
    let bytes = minute(&samples).len() as f64 / 60.0;
    assert!((2.0..3.3).contains(&bytes), "{bytes} bytes a sample");
}

#[test]
fn an_hour_of_it_takes_about_eight_bytes_a_minute() {
    let noise = |n: u8| (f64::from(n) * 12_345.678).sin() as f32;
    let minutes: Vec<_> = (0..60)
        .map(|minute| Summary {
            minute,
            count: 60,
            least: 3.399,
            mean: 3.4 + 0.0002 * noise(minute),
            most: 3.401,
        })
        .collect();
    let bytes = hour(&minutes).len() as f64 / 60.0;
    assert!((5.0..9.0).contains(&bytes), "{bytes} bytes a minute");
}
