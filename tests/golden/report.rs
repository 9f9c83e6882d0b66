//! The report on alarms: text, CSV and JSON of one made week.

use standpipe::engine::alarm::AlarmState;
use standpipe::engine::alarm::figures::Tally;
use standpipe::engine::plan::Priority;
use standpipe::engine::{Event, EventKind};
use standpipe::quantity::Timestamp;
use standpipe::report::alarms::AlarmReport;
use std::time::Duration;

fn monday() -> Timestamp {
    "2026-03-02T00:00:00Z".parse().expect("a time")
}

fn change(at_s: u64, code: &str, from: AlarmState, to: AlarmState) -> Event {
    Event {
        number: 0,
        time: monday() + Duration::from_secs(at_s),
        kind: EventKind::Alarm,
        tank: Some("clearwell".into()),
        code: Some(code.into()),
        from: Some(from),
        to: Some(to),
        person: Some("Ada".into()),
        text: String::new(),
    }
}

/// 15 alarms of LAH, one a minute and answered after half of it, then LAHH for two days.
fn report() -> AlarmReport {
    let (normal, active, answered) = (
        AlarmState::Normal,
        AlarmState::Unacknowledged,
        AlarmState::Acknowledged,
    );
    let mut tally = Tally::new(monday(), monday() + Duration::from_secs(7 * 86_400));
    for minute in 0..15 {
        let at_s = 3600 + minute * 60;
        tally.take(&change(at_s, "LAH", normal, active));
        tally.take(&change(at_s + 30, "LAH", active, answered));
        tally.take(&change(at_s + 50, "LAH", answered, normal));
    }
    tally.take(&change(100_000, "LAHH", normal, active));
    tally.take(&change(100_200, "LAHH", active, answered));
    tally.take(&change(100_000 + 2 * 86_400, "LAHH", answered, normal));
    tally.take(&change(600_000, "LAH", normal, AlarmState::Shelved));
    AlarmReport {
        site: "Alder Rise".to_owned(),
        zone: jiff::tz::TimeZone::UTC,
        figures: tally.finish(|(_, code)| match &**code {
            "LAHH" => Some(Priority::High),
            _ => Some(Priority::Low),
        }),
    }
}

#[test]
fn as_text() {
    insta::assert_snapshot!(report().to_string());
}

#[test]
fn as_csv() {
    let mut out = Vec::new();
    report().csv(&mut out).expect("it is written");
    insta::assert_snapshot!(String::from_utf8(out).expect("text"));
}

#[test]
fn as_json() {
    let text = serde_json::to_string_pretty(&report().form()).expect("plain values only");
    insta::assert_snapshot!(text);
}
