//! Damage that is found while the program runs: the file is kept aside, a new one goes on with all that is known.

use super::*;
use std::io::{Seek, SeekFrom, Write};

/// More than SQLite's page cache (2 MB) holds, so that old pages are read from the disk again.
const MANY: u64 = 32_000;

/// Everything behind the first page is overwritten: no page there is one of a tree any more.
fn overwrite(file: &std::path::Path) {
    let mut file = std::fs::File::options()
        .write(true)
        .open(file)
        .expect("it opens");
    let length = file.metadata().expect("its size").len();
    assert!(
        length > 4_000_000,
        "too small to be read again: {length} bytes"
    );
    file.seek(SeekFrom::Start(4096)).expect("it is long enough");
    file.write_all(&vec![0xFF; (length - 4096) as usize])
        .expect("written");
}

#[tokio::test]
async fn damage_while_running_costs_no_event_and_no_memory() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    for first in (1..=MANY).step_by(1000) {
        let mut step = step(first..=first + 999);
        step.kept = vec![kept("LAH", &format!("of {first}"))];
        // A busy disk may take longer than a step waits; it is written all the same.
        drop(journal.commit(step).await);
    }
    let wal = place.settings.file.clone();
    until(|| {
        Reader::open(&wal).is_ok_and(|reader| {
            let last = reader.last(&Filter::default(), 1);
            last.is_ok_and(|last| last.last().is_some_and(|event| event.number == MANY))
        })
    })
    .await;
    place.alter("PRAGMA wal_checkpoint(TRUNCATE)");
    overwrite(&place.settings.file);
    // Retention looks at the oldest events, and finds that they are none.
    journal.sample(vec![MinuteRow {
        series: Series {
            kind: SeriesKind::Tank,
            name: "clearwell".into(),
            quantity: "level_m",
        },
        minute: at(60).as_second() / 60,
        samples: vec![Sample {
            time_ms: 0,
            quality: Quality::Good,
            value: Some(3.4),
        }],
    }]);
    let mut standing = journal.standing();
    let told = standing.wait_for(|standing| standing.aside.is_some());
    let told = timeout(Duration::from_secs(30), told)
        .await
        .expect("in time");
    let aside = told.expect("alive").aside.clone().expect("kept aside");
    assert!(std::path::Path::new(&*aside).exists(), "{aside}");
    write(&journal, [step(MANY + 1..=MANY + 1)]).await;
    journal.close().await;

    // What was remembered is there; numbers go on.
    assert_eq!(place.numbers(), [MANY + 1]);
    let restored = Store::open(&place.settings.file).and_then(|store| store.restored());
    let restored = restored.expect("restored");
    assert_eq!(restored.last_event, MANY + 1);
    assert_eq!(restored.remembered[0].1, format!("of {}", MANY - 999));
}
