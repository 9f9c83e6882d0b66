//! The metrics as the tool chain that will scrape them reads them (promtool of the Prometheus project).

use crate::{program, snapshots};
use standpipe::engine::EventKind;
use standpipe::outlet::Metrics;
use std::io::Write;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// The one complaint that is known and meant: mass is in kilograms, the base unit of the SI (SI Brochure,
/// 9th ed., 2.3.1), where promtool would have grams.
const KILOGRAMS: &str = "use base unit \"grams\" instead of \"kilograms\"";

/// The status of promtool where it could read everything and only complained.
const ONLY_COMPLAINTS: i32 = 3;

#[test]
fn promtool_reads_the_metrics() {
    let (_folder, journal) = snapshots::journal_of(1..=3);
    let (_sender, snapshots) = watch::channel(Arc::new(snapshots::site()));
    let metrics = Metrics::new(snapshots, &journal).expect("valid names");
    metrics.event(EventKind::Alarm);
    metrics.round_trip("skid-a", Duration::from_millis(12));
    metrics.link_error("skid-b", "connect");

    assert_accepted(&metrics.text());
}

#[test]
fn promtool_refuses_what_is_no_metric() {
    assert_eq!(check("standpipe_tank_level_meters{tank=} 1\n").0, Some(1));
}

/// promtool reads it all, and has nothing to say but that, where there is a mass at all.
pub fn assert_accepted(text: &str) {
    let (status, complaints) = check(text);
    let expected = if text.contains("_kilograms{") {
        ONLY_COMPLAINTS
    } else {
        0
    };
    assert_eq!(status, Some(expected), "{complaints}");
    assert!(
        complaints.lines().all(|line| line.ends_with(KILOGRAMS)),
        "{complaints}"
    );
}

fn check(text: &str) -> (Option<i32>, String) {
    let mut promtool = Command::new(program::find("promtool"))
        .args(["check", "metrics"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("promtool starts");
    promtool
        .stdin
        .take()
        .expect("piped")
        .write_all(text.as_bytes())
        .expect("it reads");
    let output = promtool.wait_with_output().expect("promtool ends");
    (
        output.status.code(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    )
}
