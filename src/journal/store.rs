//! The database as its one owner writes it.
//!
//! What always holds: an event, what is remembered of its alarm and its place in the outbox stand in one
//! transaction; numbers rise; the chain's newest hash stands in the same transaction as its entry.

use super::coding;
use super::entry::{BEGINNING, COLUMNS, Entry, Hash, moment, nanoseconds};
use super::error::JournalError;
use super::recorder::{MinuteRow, Series};
use super::schema::{self, Found};
use super::{Kept, Step, Subject};
use crate::engine::Event;
use crate::quantity::Timestamp;
use rusqlite::{Connection, OptionalExtension, Transaction, params};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// How many rows retention takes at once, so that it never holds up an event.
const PRUNE_AT_ONCE: i64 = 500;
/// By how much the clock that retention counts by goes on at a time, at most; it is asked once a minute.
const RETENTION_STEP: Duration = Duration::from_secs(120);
/// How many hours are rolled up at once.
const ROLL_AT_ONCE: usize = 4;

#[derive(Debug)]
pub struct Store {
    connection: Connection,
    head: (u64, Hash),
    series: BTreeMap<Series, i64>,
}

/// What was found at the start.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Restored {
    /// What is remembered, as JSON.
    pub remembered: Vec<(Subject, String)>,
    pub last_event: u64,
    pub last_time: Option<Timestamp>,
    pub fingerprint: Option<String>,
    /// How many events wait for the broker.
    pub waiting: usize,
}

impl Store {
    pub fn open(file: &Path) -> Result<Self, JournalError> {
        let failed = |cause| JournalError::Open {
            file: file.to_owned(),
            cause,
        };
        let mut connection = Connection::open(file).map_err(failed)?;
        match schema::look(&connection).map_err(failed)? {
            Found::Ours => {}
            Found::Foreign => {
                return Err(JournalError::Foreign {
                    file: file.to_owned(),
                });
            }
            Found::Newer(found) => {
                return Err(JournalError::Newer {
                    file: file.to_owned(),
                    found,
                    known: schema::VERSIONS.len() as i64,
                });
            }
        }
        schema::set_up(&connection).map_err(failed)?;
        schema::migrate(&mut connection).map_err(failed)?;
        let head = newest(&connection)?;
        Ok(Self {
            connection,
            head,
            series: BTreeMap::new(),
        })
    }

    pub fn restored(&self) -> Result<Restored, JournalError> {
        restored(&self.connection)
    }

    /// Steps, in order, in one transaction.
    pub fn append(&mut self, steps: &[Arc<Step>], outbox: bool) -> rusqlite::Result<()> {
        let transaction = self.connection.transaction()?;
        let mut head = self.head;
        for step in steps {
            for event in &step.events {
                let entry = Entry::from(&**event);
                head = (entry.number, entry.hash(&head.1));
                entry.insert(&transaction, &head.1)?;
                if outbox {
                    transaction.execute("INSERT INTO outbox VALUES (?)", [entry.number])?;
                }
                fact(&transaction, "alive", entry.time_ns)?;
            }
            for Kept { subject, memory } in &step.kept {
                remember(&transaction, subject, memory.as_deref())?;
            }
            fact(&transaction, "fingerprint", &*step.fingerprint)?;
        }
        if head != self.head {
            place(&transaction, "head", head)?;
        }
        transaction.commit()?;
        self.head = head;
        Ok(())
    }

    /// Everything that is remembered, in a journal that knows nothing of it.
    pub fn remember(&mut self, remembered: &BTreeMap<Subject, String>) -> rusqlite::Result<()> {
        let transaction = self.connection.transaction()?;
        for (subject, memory) in remembered {
            remember(&transaction, subject, Some(memory))?;
        }
        transaction.commit()
    }

    pub fn newest(&self) -> u64 {
        self.head.0
    }

    /// What the broker has leaves the outbox.
    pub fn acknowledge(&mut self, numbers: &[u64]) -> rusqlite::Result<()> {
        let transaction = self.connection.transaction()?;
        {
            let mut remove = transaction.prepare("DELETE FROM outbox WHERE number = ?")?;
            for number in numbers {
                remove.execute([number])?;
            }
        }
        transaction.commit()
    }

    /// The oldest that wait for the broker, from beyond a number on.
    pub fn waiting(&self, beyond: u64, count: usize) -> Result<Vec<Arc<Event>>, JournalError> {
        let sql = format!(
            "SELECT {COLUMNS} FROM outbox JOIN event USING (number) WHERE number > ? ORDER BY number LIMIT ?"
        );
        let mut statement = self.connection.prepare(&sql)?;
        let rows = statement.query_map(params![beyond, count], Entry::read)?;
        rows.map(|entry| known(entry?).map(Arc::new)).collect()
    }

    /// Rows of samples; a minute that is there already gets the new ones too.
    pub fn sample(&mut self, rows: &[MinuteRow]) -> rusqlite::Result<()> {
        let transaction = self.connection.transaction()?;
        let mut again = BTreeSet::new();
        let rolled: i64 = number(&transaction, "rolled")?.unwrap_or(i64::MIN);
        for row in rows {
            let id = series(&transaction, &mut self.series, &row.series)?;
            write_minute(&transaction, id, row)?;
            if row.minute.div_euclid(60) < rolled {
                again.insert(row.minute.div_euclid(60));
            }
        }
        for hour in again {
            roll(&transaction, hour)?;
        }
        let last = rows.iter().filter_map(MinuteRow::last).max();
        if let Some(last) = last {
            fact(&transaction, "alive", nanoseconds(last))?;
        }
        let committed = transaction.commit();
        if committed.is_err() {
            // Numbers of series that came with it are gone again.
            self.series.clear();
        }
        committed
    }

    /// Rolls up what hours are complete; a few at once.
    pub fn roll_up(&mut self) -> rusqlite::Result<()> {
        let transaction = self.connection.transaction()?;
        let newest: Option<i64> =
            transaction.query_row("SELECT max(minute) FROM sample", [], |row| row.get(0))?;
        let Some(newest) = newest.map(|minute| minute.div_euclid(60)) else {
            return Ok(());
        };
        let mut next: i64 = number(&transaction, "rolled")?.unwrap_or(i64::MIN / 60);
        for _ in 0..ROLL_AT_ONCE {
            let first: Option<i64> = transaction.query_row(
                "SELECT min(minute) FROM sample WHERE minute >= ?",
                [next.saturating_mul(60)],
                |row| row.get(0),
            )?;
            let hour = first.map(|minute| minute.div_euclid(60));
            let Some(hour) = hour.filter(|hour| *hour < newest) else {
                break;
            };
            roll(&transaction, hour)?;
            next = hour + 1;
        }
        if next > i64::MIN / 60 {
            fact(&transaction, "rolled", next)?;
        }
        transaction.commit()
    }

    /// What retention counts by: the time of the newest sample, but a wall clock that is stepped forward takes it
    /// along by two minutes a minute only. So a wrong clock does not take the record away before somebody has seen it.
    pub fn retention_clock(&mut self, newest: Timestamp) -> rusqlite::Result<Timestamp> {
        let transaction = self.connection.transaction()?;
        let newest_ns = nanoseconds(newest);
        let before = number(&transaction, "retention")?.unwrap_or(newest_ns);
        let step_ns = i64::try_from(RETENTION_STEP.as_nanos()).unwrap_or(i64::MAX);
        let clock_ns = newest_ns.min(before.saturating_add(step_ns));
        fact(&transaction, "retention", clock_ns)?;
        transaction.commit()?;
        Ok(moment(clock_ns))
    }

    /// Retention: takes a few rows that are older than they need to be kept. Events are taken from the
    /// front only, and never one that still waits for the broker.
    pub fn prune(
        &mut self,
        now: Timestamp,
        keep_samples: Duration,
        keep_events: Duration,
    ) -> rusqlite::Result<()> {
        let before = |keep: Duration| {
            nanoseconds(now).saturating_sub(i64::try_from(keep.as_nanos()).unwrap_or(i64::MAX))
        };
        let minutes = |time_ns: i64| time_ns.div_euclid(60_000_000_000);
        let transaction = self.connection.transaction()?;
        let rolled: i64 = number(&transaction, "rolled")?.unwrap_or(0);
        transaction.execute(
            "DELETE FROM sample WHERE (minute, series) IN
             (SELECT minute, series FROM sample WHERE minute < ? ORDER BY minute, series LIMIT ?)",
            params![
                minutes(before(keep_samples)).min(rolled.saturating_mul(60)),
                PRUNE_AT_ONCE
            ],
        )?;
        transaction.execute(
            "DELETE FROM rollup WHERE (hour, series) IN
             (SELECT hour, series FROM rollup WHERE hour < ? ORDER BY hour, series LIMIT ?)",
            params![minutes(before(keep_events)).div_euclid(60), PRUNE_AT_ONCE],
        )?;
        prune_events(&transaction, before(keep_events))?;
        transaction.commit()
    }
}

/// All that the program has to know again after a start.
pub fn restored(connection: &Connection) -> Result<Restored, JournalError> {
    let alive: Option<i64> = number(connection, "alive")?;
    Ok(Restored {
        remembered: remembered(connection)?,
        last_event: newest(connection)?.0,
        last_time: alive.map(moment),
        fingerprint: connection
            .query_row(
                "SELECT value FROM state WHERE name = 'fingerprint'",
                [],
                |row| row.get(0),
            )
            .optional()?,
        waiting: connection.query_row("SELECT count(*) FROM outbox", [], |row| row.get(0))?,
    })
}

fn remembered(connection: &Connection) -> rusqlite::Result<Vec<(Subject, String)>> {
    let mut alarms = connection.prepare("SELECT tank, code, memory FROM alarm")?;
    let alarms = alarms.query_map([], |row| {
        let (tank, code): (Arc<str>, Arc<str>) = (row.get(0)?, row.get(1)?);
        Ok((Subject::Alarm { tank, code }, row.get(2)?))
    })?;
    let mut remembered: Vec<_> = alarms.collect::<Result<_, _>>()?;
    // The first version has no such table, and where there is no room it can't be brought up to date.
    if connection.table_exists(None, "memory")? {
        let mut others = connection.prepare("SELECT kind, of, memory FROM memory")?;
        let others = others.query_map([], |row| {
            let (kind, of): (Arc<str>, Arc<str>) = (row.get(0)?, row.get(1)?);
            Ok((Subject::Other { kind, of }, row.get(2)?))
        })?;
        remembered.extend(others.collect::<Result<Vec<_>, _>>()?);
    }
    Ok(remembered)
}

fn remember(
    transaction: &Transaction<'_>,
    subject: &Subject,
    memory: Option<&str>,
) -> rusqlite::Result<()> {
    match (subject, memory) {
        (Subject::Alarm { tank, code }, Some(memory)) => transaction.execute(
            "INSERT OR REPLACE INTO alarm VALUES (?,?,?)",
            params![tank, code, memory],
        ),
        (Subject::Alarm { tank, code }, None) => transaction.execute(
            "DELETE FROM alarm WHERE tank = ? AND code = ?",
            params![tank, code],
        ),
        (Subject::Other { kind, of }, Some(memory)) => transaction.execute(
            "INSERT OR REPLACE INTO memory VALUES (?,?,?)",
            params![kind, of, memory],
        ),
        (Subject::Other { kind, of }, None) => transaction.execute(
            "DELETE FROM memory WHERE kind = ? AND of = ?",
            params![kind, of],
        ),
    }?;
    Ok(())
}

/// The newest entry as the chain has it; the last event's row must bear it out.
fn newest(connection: &Connection) -> Result<(u64, Hash), JournalError> {
    let head = chained(connection, "head")?;
    let last = connection
        .query_row(
            "SELECT number, hash FROM event ORDER BY number DESC LIMIT 1",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()?;
    match (head, last) {
        (None, None) => Ok((0, BEGINNING)),
        (Some(head), Some(last)) if head == last => Ok(head),
        // Retention may have taken every event.
        (Some(head), None) if chained(connection, "start")? == Some(head) => Ok(head),
        (Some((number, _)), _) => Err(JournalError::Unreadable(format!(
            "its newest entry, number {number}, is missing or altered"
        ))),
        (None, Some((number, _))) => Err(JournalError::Unreadable(format!(
            "entry {number} is not part of its chain"
        ))),
    }
}

/// A noted place of the chain: `start` or `head`.
pub fn chained(connection: &Connection, place: &str) -> rusqlite::Result<Option<(u64, Hash)>> {
    connection
        .query_row(
            "SELECT number, hash FROM chain WHERE place = ?",
            [place],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()
}

fn known(entry: Entry) -> Result<Event, JournalError> {
    let number = entry.number;
    entry.event().ok_or_else(|| {
        JournalError::Unreadable(format!(
            "entry {number} is of a kind or state that this version does not know"
        ))
    })
}

fn place(transaction: &Transaction<'_>, place: &str, to: (u64, Hash)) -> rusqlite::Result<()> {
    transaction.execute(
        "INSERT OR REPLACE INTO chain VALUES (?,?,?)",
        params![place, to.0, to.1],
    )?;
    Ok(())
}

fn fact(
    transaction: &Transaction<'_>,
    name: &str,
    value: impl rusqlite::ToSql,
) -> rusqlite::Result<()> {
    transaction.execute(
        "INSERT OR REPLACE INTO state VALUES (?,?)",
        params![name, value],
    )?;
    Ok(())
}

fn number(connection: &Connection, name: &str) -> rusqlite::Result<Option<i64>> {
    let sql = "SELECT value FROM state WHERE name = ?";
    connection
        .query_row(sql, [name], |row| row.get(0))
        .optional()
}

fn series(
    transaction: &Transaction<'_>,
    known: &mut BTreeMap<Series, i64>,
    series: &Series,
) -> rusqlite::Result<i64> {
    if let Some(id) = known.get(series) {
        return Ok(*id);
    }
    let names = params![series.kind.name(), series.name, series.quantity];
    transaction.execute(
        "INSERT OR IGNORE INTO series (kind, name, quantity) VALUES (?,?,?)",
        names,
    )?;
    let sql = "SELECT id FROM series WHERE kind = ? AND name = ? AND quantity = ?";
    let id = transaction.query_row(sql, names, |row| row.get(0))?;
    known.insert(series.clone(), id);
    Ok(id)
}

fn write_minute(transaction: &Transaction<'_>, id: i64, row: &MinuteRow) -> rusqlite::Result<()> {
    let there: Option<Vec<u8>> = transaction
        .query_row(
            "SELECT data FROM sample WHERE minute = ? AND series = ?",
            params![row.minute, id],
            |row| row.get(0),
        )
        .optional()?;
    let mut samples = there
        .and_then(|bytes| coding::read_minute(&bytes))
        .unwrap_or_default();
    samples.extend_from_slice(&row.samples);
    samples.sort_by_key(|sample| sample.time_ms);
    transaction.execute(
        "INSERT OR REPLACE INTO sample VALUES (?,?,?)",
        params![row.minute, id, coding::minute(&samples)],
    )?;
    Ok(())
}

/// Writes the summary of an hour from its minutes.
fn roll(transaction: &Transaction<'_>, hour: i64) -> rusqlite::Result<()> {
    let mut summaries: BTreeMap<i64, Vec<coding::Summary>> = BTreeMap::new();
    let mut statement = transaction.prepare(
        "SELECT minute, series, data FROM sample WHERE minute BETWEEN ? AND ? ORDER BY minute",
    )?;
    let mut rows = statement.query([hour * 60, hour * 60 + 59])?;
    while let Some(row) = rows.next()? {
        let (minute, series, data): (i64, i64, Vec<u8>) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let samples = coding::read_minute(&data).unwrap_or_default();
        let of_hour = u8::try_from(minute.rem_euclid(60)).unwrap_or_default();
        summaries
            .entry(series)
            .or_default()
            .extend(coding::summary(of_hour, &samples));
    }
    for (series, minutes) in summaries {
        transaction.execute(
            "INSERT OR REPLACE INTO rollup VALUES (?,?,?)",
            params![hour, series, coding::hour(&minutes)],
        )?;
    }
    Ok(())
}

fn prune_events(transaction: &Transaction<'_>, before_ns: i64) -> rusqlite::Result<()> {
    let mut last: Option<(u64, Hash)> = None;
    {
        let mut statement = transaction.prepare(
            "SELECT number, time, hash FROM event
             WHERE number < coalesce((SELECT min(number) FROM outbox), 9223372036854775807)
             ORDER BY number LIMIT ?",
        )?;
        let mut rows = statement.query([PRUNE_AT_ONCE])?;
        while let Some(row) = rows.next()? {
            if row.get::<_, i64>(1)? >= before_ns {
                break;
            }
            last = Some((row.get(0)?, row.get(2)?));
        }
    }
    if let Some(last) = last {
        transaction.execute("DELETE FROM event WHERE number <= ?", [last.0])?;
        place(transaction, "start", last)?;
    }
    Ok(())
}
