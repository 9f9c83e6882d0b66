//! The figures of a made journal, worked out by hand.

use super::*;
use crate::engine::event::TEST_MARK;
use AlarmState::{Acknowledged, Normal, ReturnedUnacknowledged, Shelved, Unacknowledged};
use approx::assert_relative_eq;

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_800_000_000 + second).expect("a time")
}

fn change(second: i64, code: &str, from: AlarmState, to: AlarmState, person: bool) -> Event {
    Event {
        number: 0,
        time: at(second),
        kind: EventKind::Alarm,
        tank: Some("clearwell".into()),
        code: Some(code.into()),
        from: Some(from),
        to: Some(to),
        person: person.then(|| "Ada".into()),
        text: String::new(),
    }
}

fn figures(days: i64, events: &[Event]) -> Figures {
    let mut tally = Tally::new(at(0), at(days * 86_400));
    events.iter().for_each(|event| tally.take(event));
    tally.finish(|(_, code)| match &**code {
        "LAHH" => Some(Priority::High),
        "LAH" => Some(Priority::Low),
        _ => None,
    })
}

#[test]
fn two_days_by_hand() {
    let mut events = vec![
        // Came before the span and stays for 30 h: stale, counted as no annunciation.
        change(-3600, "LSHH", Normal, Unacknowledged, false),
        change(-3000, "LSHH", Unacknowledged, Acknowledged, true),
        change(29 * 3600, "LSHH", Acknowledged, Normal, false),
    ];
    // LAH three times, 20 s apart, each over after 5 s: three fleeting ones, and the third chatters.
    for second in [36_000, 36_020, 36_040] {
        events.push(change(second, "LAH", Normal, Unacknowledged, false));
        events.push(change(
            second + 5,
            "LAH",
            Unacknowledged,
            ReturnedUnacknowledged,
            false,
        ));
        events.push(change(
            second + 6,
            "LAH",
            ReturnedUnacknowledged,
            Normal,
            true,
        ));
    }
    // Answered after 60 s and after 120 s.
    for (second, waited) in [(50_000, 60), (60_000, 120)] {
        events.push(change(second, "LAHH", Normal, Unacknowledged, false));
        events.push(change(
            second + waited,
            "LAHH",
            Unacknowledged,
            Acknowledged,
            true,
        ));
        events.push(change(second + 1000, "LAHH", Acknowledged, Normal, false));
    }
    // One that the site does not know any more; waits for its answer. One on the shelf. One test.
    events.push(change(70_000, "LAL", Normal, Unacknowledged, false));
    events.push(change(80_000, "LAH", Normal, Shelved, true));
    let mut test = change(90_000, "LAH", Normal, Unacknowledged, false);
    test.text = format!("{TEST_MARK}level 5.6 m");
    events.push(test);
    events.sort_by_key(|event| event.time);
    let figures = figures(2, &events);
    // 3 + 2 + 1 = 6 in two days: 3 a day, 1/8 an hour, 1/48 in ten minutes
    assert_eq!(figures.annunciated, 6);
    assert_relative_eq!(figures.a_day, 3.0);
    assert_relative_eq!(figures.an_hour, 0.125);
    assert_relative_eq!(figures.in_ten_minutes, 1.0 / 48.0);
    assert_eq!(
        (figures.most_in_an_hour, figures.most_in_ten_minutes),
        (3, 3)
    );
    assert_eq!(
        (figures.busy_hours, figures.busy_ten_minutes, figures.floods),
        (0, 0, 0)
    );
    let named = |code: &str| (Some("clearwell".into()), code.into());
    let most = [(named("LAH"), 3), (named("LAHH"), 2), (named("LAL"), 1)];
    assert_eq!(figures.most_frequent, most);
    assert_relative_eq!(figures.most_frequent_share, 1.0);
    assert_eq!(figures.chattering, [(named("LAH"), 1)]);
    assert_eq!((figures.fleeting, figures.returned_unanswered), (3, 3));
    // LAL from 70,000 s to the end at 172,800 s; LSHH from an hour before the span for 30 h.
    let stale = [
        (named("LAL"), Duration::from_secs(102_800)),
        (named("LSHH"), Duration::from_secs(30 * 3600)),
    ];
    assert_eq!(figures.stale, stale);
    let counts = [
        (Some(Priority::Low), 3),
        (Some(Priority::Medium), 0),
        (Some(Priority::High), 2),
        (Some(Priority::Highest), 0),
        (None, 1),
    ];
    assert_eq!(figures.priorities, counts);
    // By nearest rank of 60 and 120 s: the median is the first, the 95th percentile the second.
    assert_eq!(figures.acknowledged, 2);
    assert_eq!(figures.median_acknowledge, Some(Duration::from_secs(60)));
    assert_eq!(figures.acknowledge_95, Some(Duration::from_secs(120)));
    assert_eq!(
        (figures.unanswered, figures.shelved, figures.tests),
        (1, 1, 1)
    );
}

#[test]
fn a_flood_shows_in_every_figure_that_counts_it() {
    // 40 alarms in 400 s, one every 10 s, within one hour and one bin of ten minutes.
    let events: Vec<Event> = (0..40)
        .map(|place| {
            let code = format!("A{place:02}");
            change(3600 + place * 10, &code, Normal, Unacknowledged, false)
        })
        .collect();
    let figures = figures(1, &events);
    assert_eq!(
        (figures.most_in_an_hour, figures.most_in_ten_minutes),
        (40, 40)
    );
    assert_eq!(
        (figures.busy_hours, figures.busy_ten_minutes, figures.floods),
        (1, 1, 1)
    );
    assert_relative_eq!(figures.busy_hours_share, 1.0 / 24.0);
    assert_relative_eq!(figures.busy_ten_minutes_share, 1.0 / 144.0);
    // From the tenth (90 s) until four are left: the 36th of them, at 350 s, leaves at 950 s. 860 s.
    assert_eq!(figures.longest_flood, Duration::from_secs(860));
    assert_relative_eq!(figures.flood_share, 860.0 / 86_400.0);
    assert_relative_eq!(figures.most_frequent_share, 0.25);
    assert_eq!(figures.unanswered, 40);
}

#[test]
fn nothing_happened_is_a_figure_too() {
    let figures = figures(7, &[]);
    assert_eq!((figures.annunciated, figures.acknowledged), (0, 0));
    assert_eq!(figures.median_acknowledge, None);
    assert!(figures.most_frequent.is_empty() && figures.most_frequent_share.abs() < f64::EPSILON);
}
