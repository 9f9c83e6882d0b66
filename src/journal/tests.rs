//! The room as a whole: what is written comes back, damage shows, what can't be written waits.

mod damage;
mod remembered;
mod unread;
mod year;

use super::*;
use crate::engine::{EventKind, Quality};
use coding::Sample;
use rusqlite::Connection;
use std::path::PathBuf;
use tempfile::TempDir;

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_800_000_000 + second).expect("a time")
}

fn event(number: u64) -> Arc<Event> {
    Arc::new(Event {
        number,
        time: at(number as i64),
        kind: EventKind::Quality,
        tank: Some("clearwell".into()),
        code: None,
        from: None,
        to: None,
        person: number.is_multiple_of(3).then(|| "Ada".into()),
        text: format!("text of {number}, ä"),
    })
}

fn step(numbers: std::ops::RangeInclusive<u64>) -> Step {
    Step {
        events: numbers.map(event).collect(),
        kept: Vec::new(),
        fingerprint: "f1".into(),
    }
}

fn kept(code: &str, memory: &str) -> Kept {
    Kept {
        subject: Subject::Alarm {
            tank: "clearwell".into(),
            code: code.into(),
        },
        memory: Some(memory.to_owned()),
    }
}

struct Place {
    folder: TempDir,
    settings: JournalSettings,
}

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let settings = JournalSettings {
            file: folder.path().join("site.db"),
            keep_samples: None,
            keep_events: None,
        };
        Self { folder, settings }
    }

    fn open(&self) -> Opened {
        Journal::open(&self.settings, true, at(0)).expect("it opens")
    }

    fn reader(&self) -> Reader {
        Reader::open(&self.settings.file).expect("it is read")
    }

    fn numbers(&self) -> Vec<u64> {
        let events = self
            .reader()
            .first(&Filter::default(), 1_000_000)
            .expect("read");
        events.iter().map(|event| event.number).collect()
    }

    fn alter(&self, sql: &str) {
        let connection = Connection::open(&self.settings.file).expect("it opens");
        connection.execute_batch(sql).expect("it is done");
    }

    fn files(&self) -> Vec<String> {
        let files = std::fs::read_dir(self.folder.path()).expect("listed");
        files
            .map(|file| {
                file.expect("listed")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect()
    }
}

async fn write(journal: &Journal, steps: impl IntoIterator<Item = Step>) {
    for step in steps {
        journal.commit(step).await.expect("it is committed");
    }
}

/// Waits for what the writer does by itself.
async fn until(what: impl Fn() -> bool) {
    for _ in 0..1000 {
        if what() {
            return;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("it did not happen in time");
}

#[tokio::test]
async fn what_was_committed_is_there_after_a_start() {
    let place = Place::new();
    let Opened { journal, memory } = place.open();
    assert_eq!(memory, None);
    write(&journal, [step(1..=3), step(4..=4)]).await;
    // No orderly end: what was committed stands already.
    let written = place.reader().first(&Filter::default(), 10).expect("read");
    let expected: Vec<Event> = (1..=4).map(|number| (*event(number)).clone()).collect();
    assert_eq!(written, expected);
    journal.close().await;

    let memory = place.open().memory.expect("it remembers");
    assert_eq!(memory.last_event, 4);
    assert_eq!(memory.last_time, Some(at(4)));
    assert_eq!(memory.fingerprint.as_deref(), Some("f1"));
}

#[tokio::test]
async fn an_altered_a_missing_and_a_cut_off_entry_show() {
    let cases = [
        ("UPDATE event SET text = 'x' WHERE number = 5", "entry 5"),
        ("UPDATE event SET person = NULL WHERE number = 6", "entry 6"),
        (
            "DELETE FROM outbox; DELETE FROM event WHERE number = 4",
            "entry 4 is missing",
        ),
        (
            "DELETE FROM outbox; DELETE FROM event WHERE number = 1",
            "entry 2 is not the first",
        ),
        (
            "DELETE FROM outbox; DELETE FROM event WHERE number > 8",
            "entry 9",
        ),
        (
            "UPDATE event SET number = 99 WHERE number = 10",
            "entry 10 is missing",
        ),
    ];
    for (sql, said) in cases {
        let place = Place::new();
        let Opened { journal, .. } = place.open();
        write(&journal, [step(1..=10)]).await;
        journal.close().await;
        let whole = place.reader().verify().expect("read");
        assert_eq!((whole.trouble, whole.entries), (None, 10));
        place.alter(&format!("PRAGMA foreign_keys = OFF; {sql}"));
        let verdict = place.reader().verify().expect("read");
        let trouble = verdict.trouble.expect("it shows");
        assert!(trouble.starts_with(said), "{sql}: {trouble}");
    }
}

#[tokio::test]
async fn a_number_that_was_never_written_is_a_gap_and_no_damage() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    write(&journal, [step(1..=2), step(6..=7)]).await;
    let verdict = place.reader().verify().expect("read");
    assert_eq!((verdict.trouble, verdict.gaps), (None, vec![(3, 5)]));
}

#[tokio::test]
async fn the_outbox_survives_a_start_and_gives_out_each_in_order() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    let many = outbox::WINDOW as u64 + 700;
    write(&journal, [step(1..=many)]).await;
    assert_eq!(journal.outbox().expect("a broker").len() as u64, many);
    journal.close().await;

    let Opened { journal, .. } = place.open();
    let outbox = Arc::clone(journal.outbox().expect("a broker"));
    write(&journal, [step(many + 1..=many + 5)]).await;
    assert_eq!(outbox.len() as u64, many + 5);
    let mut seen = Vec::new();
    while seen.len() as u64 != many + 5 {
        until(|| !outbox.oldest(1).is_empty()).await;
        for event in outbox.oldest(32) {
            seen.push(event.number);
            outbox.acknowledged(event.number);
        }
    }
    assert_eq!(seen, (1..=many + 5).collect::<Vec<_>>());
    assert!(outbox.is_empty());
    journal.close().await;
    assert!(place.open().journal.outbox().expect("a broker").is_empty());
}

#[tokio::test]
async fn damage_is_kept_aside_told_and_numbers_go_on() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    write(&journal, [step(1..=9)]).await;
    journal.close().await;
    place.alter("PRAGMA foreign_keys = OFF; DELETE FROM event WHERE number = 9");

    let Opened { journal, memory } = place.open();
    assert_eq!(memory.expect("the number").last_event, 9);
    let aside = journal.standing().borrow().aside.clone().expect("told");
    assert!(
        aside.ends_with("site.db.unreadable-20270115T080000Z"),
        "{aside}"
    );
    assert!(PathBuf::from(&*aside).exists());
    write(&journal, [step(10..=11)]).await;
    assert_eq!(place.numbers(), [10, 11]);
    assert_eq!(place.reader().verify().expect("read").trouble, None);
}

/// What bytes that changed on a disk make of it: the daemon watches on all the same.
#[tokio::test]
async fn a_row_of_another_form_or_a_table_that_is_gone_is_damage() {
    for sql in [
        "UPDATE alarm SET memory = CAST(x'fffe' AS TEXT)",
        "UPDATE state SET value = 'zzz'",
        "UPDATE chain SET hash = x'00'",
        "DROP TABLE alarm",
        "PRAGMA foreign_keys = OFF; DROP TABLE event",
    ] {
        let place = Place::new();
        let Opened { journal, .. } = place.open();
        write(&journal, [step(1..=9)]).await;
        journal.close().await;
        place.alter("INSERT OR REPLACE INTO alarm VALUES ('clearwell', 'LAH', '{}')");
        place.alter(sql);
        let Opened { journal, .. } = place.open();
        let aside = journal.standing().borrow().aside.clone();
        assert!(aside.is_some(), "{sql}");
        journal.close().await;
    }
}

#[tokio::test]
async fn what_is_no_database_at_all_is_kept_aside_too() {
    let place = Place::new();
    std::fs::write(&place.settings.file, "level ".repeat(1000)).expect("written");
    let Opened { journal, memory } = place.open();
    assert_eq!(memory, None);
    assert!(journal.standing().borrow().aside.is_some());
    write(&journal, [step(1..=1)]).await;
    assert!(
        place
            .files()
            .iter()
            .any(|name| name.starts_with("site.db.unreadable-"))
    );
}

#[test]
fn a_database_of_something_else_or_of_a_newer_version_is_left_alone() {
    let place = Place::new();
    place.alter("CREATE TABLE pumps (name TEXT)");
    let opened = Journal::open(&place.settings, true, at(0));
    assert!(matches!(opened, Err(JournalError::Foreign { .. })));
    let place = Place::new();
    place.alter(&format!(
        "CREATE TABLE t (a TEXT); PRAGMA application_id = {}; PRAGMA user_version = 99",
        schema::APPLICATION
    ));
    let opened = Journal::open(&place.settings, true, at(0));
    assert!(matches!(opened, Err(JournalError::Newer { found: 99, .. })));
    let mut files = place.files();
    files.sort();
    assert_eq!(files, ["site.db", "site.db.lock"]);
}

#[test]
fn a_folder_that_is_not_there_is_an_error_with_its_cure() {
    let settings = JournalSettings {
        file: "/nowhere/site.db".into(),
        keep_samples: None,
        keep_events: None,
    };
    let error = Journal::open(&settings, true, at(0)).expect_err("it can't");
    assert!(error.to_string().contains("[journal] file"), "{error}");
}

/// A lock of somebody else stands for a disk that does not answer.
#[tokio::test]
async fn a_disk_that_hangs_costs_one_short_wait_and_nothing_is_lost() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    write(&journal, [step(1..=1)]).await;
    let holder = Connection::open(&place.settings.file).expect("it opens");
    holder.execute_batch("BEGIN IMMEDIATE").expect("it locks");
    let late = journal.commit(step(2..=2)).await.expect_err("it is late");
    assert!(late.contains("has not answered"), "{late}");
    let at_once = timeout(Duration::from_millis(300), journal.commit(step(3..=400)));
    assert!(at_once.await.expect("no further wait").is_err());
    assert_eq!(journal.outbox().expect("a broker").len(), 400);
    holder.execute_batch("ROLLBACK").expect("it unlocks");
    let mut standing = journal.standing();
    let again = standing.wait_for(|standing| standing.trouble.is_none());
    timeout(Duration::from_secs(20), again)
        .await
        .expect("in time")
        .expect("alive");
    assert_eq!(place.numbers(), (1..=400).collect::<Vec<_>>());
    journal.close().await;
}

fn row(minute: i64, values: &[f32]) -> MinuteRow {
    MinuteRow {
        series: Series {
            kind: SeriesKind::Tank,
            name: "clearwell".into(),
            quantity: "level_m",
        },
        minute,
        samples: values
            .iter()
            .enumerate()
            .map(|(second, value)| Sample {
                time_ms: 1000 * second as i64,
                quality: Quality::Good,
                value: Some(*value),
            })
            .collect(),
    }
}

#[test]
fn samples_come_back_and_a_minute_in_two_parts_is_one() {
    let place = Place::new();
    let mut store = Store::open(&place.settings.file).expect("it opens");
    store
        .sample(&[row(30_000_000, &[1.0, 1.5])])
        .expect("written");
    let mut rest = row(30_000_000, &[0.0, 0.0, 2.0]);
    rest.samples.drain(..2);
    store
        .sample(&[rest, row(30_000_001, &[3.0])])
        .expect("written");
    let reader = place.reader();
    let (id, ..) = reader.series().expect("read").remove(0);
    let samples = reader
        .samples(id, Timestamp::UNIX_EPOCH, Timestamp::MAX)
        .expect("read");
    let values: Vec<_> = samples.iter().map(|(_, sample)| sample.value).collect();
    assert_eq!(values, [1.0, 1.5, 2.0, 3.0].map(Some));
    assert_eq!(samples[3].0.as_second(), 30_000_001 * 60);
}

#[test]
fn hours_are_rolled_up_and_old_rows_go_a_few_at_a_time() {
    let place = Place::new();
    let mut store = Store::open(&place.settings.file).expect("it opens");
    let first = 500_000 * 60; // an hour's first minute
    let rows: Vec<_> = (0..1500)
        .map(|minute| row(first + minute, &[1.0, 4.0]))
        .collect();
    store.sample(&rows).expect("written");
    let day = Duration::from_secs(86_400);
    for _ in 0..8 {
        store.roll_up().expect("rolled up");
    }
    let now = Timestamp::from_second((first + 1500) * 60).expect("a time");
    store.prune(now, day / 24, 365 * day).expect("pruned");
    let reader = place.reader();
    let (id, ..) = reader.series().expect("read").remove(0);
    let everything = (Timestamp::UNIX_EPOCH, now);
    let left = reader
        .samples(id, everything.0, everything.1)
        .expect("read");
    assert_eq!(left.len(), 2 * 1000, "500 rows are gone");
    let from = Timestamp::from_second(first * 60).expect("a time");
    let minutes = reader.minutes(id, from, now).expect("read");
    assert_eq!(minutes.len(), 1440, "all but the hour under way");
    let (time, summary) = minutes[61];
    assert_eq!(time.as_second(), (first + 61) * 60);
    assert_eq!(
        (summary.count, summary.least, summary.mean, summary.most),
        (2, 1.0, 2.5, 4.0)
    );
}

#[test]
fn a_wall_clock_that_is_stepped_takes_retention_along_slowly() {
    let place = Place::new();
    let mut store = Store::open(&place.settings.file).expect("it opens");
    let mut counted = |second| {
        let clock = store.retention_clock(at(second)).expect("counted");
        clock.as_second() - at(0).as_second()
    };
    assert_eq!(counted(0), 0);
    assert_eq!(counted(60), 60, "as time goes");
    let eleven_years = 11 * 365 * 86_400;
    assert_eq!(counted(eleven_years), 180);
    assert_eq!(counted(eleven_years + 60), 300);
    assert_eq!(counted(180), 180, "a step back keeps more");
    drop(store);
    let mut store = Store::open(&place.settings.file).expect("it opens");
    let clock = store.retention_clock(at(eleven_years)).expect("counted");
    assert_eq!(clock, at(300), "over a restart too");
}

#[test]
fn retention_takes_events_off_the_front_but_none_that_waits() {
    let place = Place::new();
    let mut store = Store::open(&place.settings.file).expect("it opens");
    store
        .append(&[Arc::new(step(1..=10))], true)
        .expect("written");
    store.acknowledge(&[1, 2, 3, 5]).expect("taken out");
    store
        .prune(at(1_000_000), Duration::ZERO, Duration::from_secs(1))
        .expect("pruned");
    assert_eq!(place.numbers(), (4..=10).collect::<Vec<_>>());
    assert_eq!(place.reader().verify().expect("read").trouble, None);
    store
        .acknowledge(&(4..=10).collect::<Vec<_>>())
        .expect("taken out");
    store
        .prune(at(1_000_000), Duration::ZERO, Duration::from_secs(1))
        .expect("pruned");
    assert!(place.numbers().is_empty());
    drop(store);
    let store = Store::open(&place.settings.file).expect("it opens");
    assert_eq!(store.restored().expect("restored").last_event, 10);
}

#[test]
fn the_settings_are_those_that_survive_a_loss_of_power() {
    let place = Place::new();
    let connection = Connection::open(&place.settings.file).expect("it opens");
    schema::set_up(&connection).expect("set up");
    let number = |pragma| connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    assert_eq!(number("synchronous"), Ok(2), "FULL");
    assert_eq!(number("foreign_keys"), Ok(1));
    assert_eq!(number("temp_store"), Ok(2), "MEMORY");
    // An earlier version could damage the log (sqlite.org/releaselog, 3.51.3).
    assert!(
        rusqlite::version_number() >= 3_051_003,
        "{}",
        rusqlite::version()
    );
}

#[tokio::test]
async fn what_there_is_no_room_for_is_counted_and_its_alarms_are_remembered() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    write(&journal, [step(1..=1)]).await;
    let holder = Connection::open(&place.settings.file).expect("it opens");
    holder.execute_batch("BEGIN IMMEDIATE").expect("it locks");
    drop(journal.commit(step(2..=100_001)).await);
    let mut over = step(100_002..=100_004);
    over.kept = vec![kept("LAH", "newest")];
    drop(journal.commit(over).await);
    holder.execute_batch("ROLLBACK").expect("it unlocks");
    let mut standing = journal.standing();
    let again = standing.wait_for(|standing| standing.trouble.is_none());
    let lost = timeout(Duration::from_secs(30), again)
        .await
        .expect("in time")
        .expect("alive")
        .lost;
    assert_eq!(
        (lost.events, lost.first, lost.last),
        (3, Some(100_002), Some(100_004))
    );
    journal.close().await;
    let restored = Store::open(&place.settings.file).and_then(|store| store.restored());
    assert_eq!(restored.expect("restored").remembered[0].1, "newest");
}
