//! A year of samples: it still answers at once. Times are printed beside those of a day and not judged: the
//! machine may be busy. Ten tanks in the long run (`STANDPIPE_TANKS=10`), one in the ordinary one.

use super::*;
use std::time::Instant;

/// What is kept of a tank and its transmitter.
const QUANTITIES: [&str; 3] = ["level_m", "volume_m3", "value"];
/// Raw samples are kept for so many days, minutes for the year.
const RAW_DAYS: i64 = 30;

fn tanks() -> usize {
    let said = std::env::var("STANDPIPE_TANKS").ok();
    said.and_then(|text| text.parse().ok()).unwrap_or(1)
}

/// A journal with so many days of samples, one a second; written as the writer would, all at once.
fn with_days(days: i64) -> Place {
    let place = Place::new();
    drop(Store::open(&place.settings.file).expect("it opens"));
    let mut connection = Connection::open(&place.settings.file).expect("it opens");
    let transaction = connection.transaction().expect("begun");
    let samples: Vec<Sample> = (0..60)
        .map(|second| Sample {
            time_ms: second * 1000,
            quality: Quality::Good,
            value: Some(3.4 + (second % 7) as f32 * 1e-3),
        })
        .collect();
    let raw = coding::minute(&samples);
    let minutes: Vec<_> = (0..60)
        .filter_map(|minute| coding::summary(minute, &samples))
        .collect();
    let rolled = coding::hour(&minutes);
    let first = at(0).as_second() / 3600;
    {
        let mut series = transaction
            .prepare("INSERT INTO series (kind, name, quantity) VALUES ('tank', ?, ?)")
            .expect("sound");
        let mut sample = transaction
            .prepare("INSERT INTO sample VALUES (?,?,?)")
            .expect("sound");
        let mut rollup = transaction
            .prepare("INSERT INTO rollup VALUES (?,?,?)")
            .expect("sound");
        for tank in 0..tanks() {
            for quantity in QUANTITIES {
                let name = format!("tank-{tank}");
                series.execute([name.as_str(), quantity]).expect("written");
            }
        }
        let count = (tanks() * QUANTITIES.len()) as i64;
        for hour in first..first + days * 24 {
            for id in 1..=count {
                rollup
                    .execute(rusqlite::params![hour, id, rolled])
                    .expect("written");
            }
            if hour >= first + (days - RAW_DAYS) * 24 {
                for minute in hour * 60..hour * 60 + 60 {
                    for id in 1..=count {
                        sample
                            .execute(rusqlite::params![minute, id, raw])
                            .expect("written");
                    }
                }
            }
        }
    }
    transaction.commit().expect("committed");
    place
}

#[expect(
    clippy::disallowed_methods,
    reason = "how long it takes is read from a real clock"
)]
fn took<T>(what: impl FnOnce() -> T) -> (Duration, T) {
    let begun = Instant::now();
    let answer = what();
    (begun.elapsed(), answer)
}

#[test]
fn a_year_of_samples_answers() {
    let day = Duration::from_secs(86_400);
    let (small, large) = (with_days(1), with_days(365));
    let asked = |place: &Place, days: i64| {
        let end = at(0) + day * days as u32;
        let reader = place.reader();
        let level = reader.series().expect("read")[0].0;
        let (open, _) = took(|| place.open().memory);
        let (samples, count) = took(|| {
            reader
                .samples(level, end - day / 24, end)
                .expect("read")
                .len()
        });
        let (minutes, summaries) =
            took(|| reader.minutes(level, end - day, end).expect("read").len());
        (open, samples, minutes, count, summaries)
    };
    let (of_day, of_year) = (asked(&small, 1), asked(&large, 365));
    let ratio = |long: Duration, short: Duration| long.as_secs_f64() / short.as_secs_f64();
    println!(
        "a year beside a day: to open {:?} ({:.1} times), an hour's samples {:?} ({:.1} times), a day's minutes {:?} ({:.1} times)",
        of_year.0,
        ratio(of_year.0, of_day.0),
        of_year.1,
        ratio(of_year.1, of_day.1),
        of_year.2,
        ratio(of_year.2, of_day.2),
    );
    // An hour and a day end where the clock's hour may not: a minute more or less at either end.
    assert_eq!((of_year.3, of_year.4), (of_day.3, of_day.4));
    assert!(of_year.3 > 3000 && of_year.4 > 1400, "{of_year:?}");
}
