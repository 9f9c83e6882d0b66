//! A journal of a year: it still opens and answers at once. Times are printed beside those of a small one
//! and not judged: the machine may be busy.

use crate::works::Works;
use standpipe::engine::alarm::AlarmState;
use standpipe::engine::{Event, EventKind};
use standpipe::journal::{Journal, Step};
use standpipe::quantity::Timestamp;
use standpipe::site::settings::JournalSettings;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// 400 events a day.
const YEAR: u64 = 365 * 400;

fn event(number: u64) -> Arc<Event> {
    let second = 1_767_225_600 + number as i64 * 216; // 2026-01-01 on
    Arc::new(Event {
        number,
        time: Timestamp::from_second(second).expect("a time"),
        kind: EventKind::Alarm,
        tank: Some(["clearwell", "north-tank"][number as usize % 2].into()),
        code: Some("LAH".into()),
        from: Some(AlarmState::Normal),
        to: Some(AlarmState::Unacknowledged),
        person: None,
        text: "level 5.42 m, above 5.40 m. Response: Close the inlet valve; stand by the tank"
            .into(),
    })
}

async fn works_with(events: u64) -> Works {
    let works = Works::new();
    let settings = JournalSettings {
        file: works.journal.clone(),
        keep_samples: None,
        keep_events: None,
    };
    let journal = Journal::open(&settings, false, Timestamp::UNIX_EPOCH)
        .expect("it opens")
        .journal;
    let mut standing = journal.standing();
    for first in (1..=events).step_by(5000) {
        let step = Step {
            events: (first..(first + 5000).min(events + 1)).map(event).collect(),
            ..Step::default()
        };
        // On a busy machine so many at once may take longer than a step is waited for.
        if journal.commit(step).await.is_err() {
            standing
                .wait_for(|standing| standing.trouble.is_none())
                .await
                .expect("it is written");
        }
    }
    journal.close().await;
    works
}

#[expect(
    clippy::disallowed_methods,
    reason = "how long a real program takes is read from a real clock"
)]
fn took(works: &Works, words: &[&str]) -> (Duration, String) {
    let begun = Instant::now();
    let output = works.command(words);
    let took = begun.elapsed();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    (took, String::from_utf8_lossy(&output.stdout).into_owned())
}

#[tokio::test]
async fn a_journal_of_a_year_answers() {
    let (small, large) = (works_with(400).await, works_with(YEAR).await);
    let asked: [(&[&str], usize); 4] = [
        (&["journal", "list"], 100),
        (
            &["journal", "list", "--tank", "clearwell", "--last", "20"],
            20,
        ),
        (
            &[
                "journal",
                "list",
                "--from",
                "2026-01-01T12:00:00Z",
                "--to",
                "2026-01-01T13:00:00Z",
            ],
            17,
        ),
        (&["journal", "verify"], 1),
    ];
    for (words, lines) in asked {
        let ((short, _), (long, said)) = (took(&small, words), took(&large, words));
        let ratio = long.as_secs_f64() / short.as_secs_f64();
        println!("{words:?}: {long:?} in a year's journal, {short:?} in a day's, ratio {ratio:.1}");
        assert_eq!(said.lines().count(), lines, "{said}");
    }
    let report = ["report", "alarms", "--from", "365 d", "--json"];
    let (time, figures) = took(&large, &report);
    let figures: serde_json::Value = serde_json::from_str(&figures).expect("JSON");
    println!("{report:?}: {time:?}");
    // The newest event is 365 d less 216 s after the first.
    assert_eq!(figures["annunciated"], YEAR);
    let (_, csv) = took(&large, &["journal", "export", "--format", "csv"]);
    assert_eq!(csv.lines().count() as u64, YEAR + 1);
    let (_, lines) = took(&small, &["journal", "export", "--format", "jsonl"]);
    let first: serde_json::Value =
        serde_json::from_str(lines.lines().next().expect("a line")).expect("JSON");
    assert_eq!(
        (&first["number"], &first["to"]),
        (&1.into(), &"UNACK".into())
    );
}
