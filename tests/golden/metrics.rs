//! The metrics text.

use crate::snapshots;
use standpipe::engine::EventKind;
use standpipe::outlet::Metrics;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

fn metrics() -> Metrics {
    let (_folder, journal) = snapshots::journal_of(1..=3);
    let (_sender, snapshots) = watch::channel(Arc::new(snapshots::site()));
    Metrics::new(snapshots, &journal).expect("valid names")
}

#[test]
fn the_text() {
    let metrics = metrics();
    metrics.event(EventKind::Alarm);
    metrics.round_trip("skid-a", Duration::from_millis(12));
    metrics.link_error("skid-b", "connect");
    let text = metrics.text();
    let own: Vec<&str> = text
        .lines()
        .filter(|line| !line.contains("process_"))
        .collect();
    assert!(text.contains("\nprocess_resident_memory_bytes "));
    insta::assert_snapshot!(own.join("\n"));
}

#[test]
fn a_bad_tank_has_no_series_but_says_so() {
    let text = metrics().text();
    let of_north: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("\"north-tank\"") && !line.contains("alarm"))
        .collect();
    assert_eq!(
        of_north,
        [
            "standpipe_tank_last_good_timestamp_seconds{tank=\"north-tank\"} 1772600400",
            "standpipe_tank_reading_valid{tank=\"north-tank\"} 0",
        ]
    );
    assert!(!text.contains("NaN"));
}
