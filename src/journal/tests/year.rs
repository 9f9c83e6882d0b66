//! A year of samples opens, and answers what a day does. Ten tanks in the long run (`STANDPIPE_TANKS=10`), one in
//! the ordinary one.

use super::*;

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

#[test]
fn a_year_of_samples_opens_and_answers_as_a_day_does() {
    let day = Duration::from_secs(86_400);
    let asked = |days: i64| {
        let place = with_days(days);
        let end = at(0) + day * days as u32;
        drop(place.open());
        let reader = place.reader();
        let level = reader.series().expect("read")[0].0;
        let samples = reader.samples(level, end - day / 24, end).expect("read");
        let minutes = reader.minutes(level, end - day, end).expect("read");
        (samples.len(), minutes.len())
    };
    let (of_day, of_year) = (asked(1), asked(365));
    // An hour and a day end where the clock's hour may not: a minute more or less at either end.
    assert_eq!(of_year, of_day);
    assert!(of_year.0 > 3000 && of_year.1 > 1400, "{of_year:?}");
}
