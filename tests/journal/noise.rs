//! `check` listens to the journal's samples: a deadband that is less than the noise is told.

use crate::works::Works;
use standpipe::engine::Quality;
use standpipe::journal::coding::Sample;
use standpipe::journal::{Journal, MinuteRow, Series, SeriesKind};
use standpipe::quantity::Timestamp;
use standpipe::site::settings::JournalSettings;

/// 2026-03-04T05:00:00Z in minutes.
const MINUTE: i64 = 1_772_600_400 / 60;

/// Ten minutes of one transmitter, a sample a second, 20 kPa ± `swing_pa`.
fn ten_minutes(tag: &str, swing_pa: f32) -> Vec<MinuteRow> {
    // Signs as good as chance, and the same each time: a linear congruence (Numerical Recipes, 2nd ed., 7.1).
    let mut state = 1_u32;
    let mut sign = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        if state >> 31 == 0 { 1.0 } else { -1.0 }
    };
    let minutes = (0..10).map(|minute| MinuteRow {
        series: Series {
            kind: SeriesKind::Transmitter,
            name: tag.into(),
            quantity: "value_si",
        },
        minute: MINUTE + minute,
        samples: (0..60)
            .map(|second| Sample {
                time_ms: second * 1000,
                quality: Quality::Good,
                value: Some(20_000.0 + sign() * swing_pa),
            })
            .collect(),
    });
    minutes.collect()
}

#[tokio::test]
async fn check_listens_to_the_journal() {
    let works = Works::new();
    let settings = JournalSettings {
        file: works.journal.clone(),
        keep_samples: None,
        keep_events: None,
    };
    let journal = Journal::open(&settings, false, Timestamp::UNIX_EPOCH)
        .expect("it opens")
        .journal;
    // The deadbands are 50 mm. 5 σ of ±200 Pa are 102 mm of water, of ±50 Pa 26 mm.
    journal.sample(ten_minutes("PT-0", 200.0));
    journal.sample(ten_minutes("PT-1", 50.0));
    journal.close().await;
    let output = works.command(&["check", "--json"]);
    assert!(output.status.success(), "{output:?}");
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let findings = answer["findings"].as_array().expect("a list");
    let noisy: Vec<_> = findings
        .iter()
        .filter(|finding| finding["rule"] == "deadband-below-noise")
        .collect();
    let of: Vec<_> = noisy
        .iter()
        .map(|finding| (&finding["tank"], &finding["alarm"]))
        .collect();
    assert_eq!(
        of,
        [
            (&"clearwell".into(), &"LAH".into()),
            (&"clearwell".into(), &"LAL".into())
        ],
        "{answer}"
    );
    let why = noisy[0]["why"].as_str().expect("text");
    assert!(
        why.starts_with("the journal from 2026-03-04T05:00:00Z to 2026-03-04T05:10:00Z"),
        "{why}"
    );
}
