//! Reads a journal, beside a running daemon too; never writes.

use super::coding::{self, Sample, Summary};
use super::entry::{COLUMNS, Entry, nanoseconds};
use super::error::JournalError;
use super::schema::{self, Found};
use super::store::{self, Restored};
use super::verify::{self, Verdict};
use crate::engine::{Event, EventKind};
use crate::quantity::Timestamp;
use rusqlite::{Connection, OpenFlags, ToSql, params};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

/// Which events are wanted; all that is left out does not matter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Filter {
    /// From this time on, and before that one.
    pub from: Option<Timestamp>,
    pub to: Option<Timestamp>,
    pub tank: Option<String>,
    pub kind: Option<EventKind>,
    /// Only numbers beyond it, and below that one.
    pub beyond: u64,
    pub below: Option<u64>,
}

/// A journal that is only read.
#[derive(Debug)]
pub struct Reader {
    connection: Connection,
    /// Minutes of samples that were asked for and can't be read.
    lost: RefCell<BTreeSet<i64>>,
}

impl Reader {
    pub fn open(file: &Path) -> Result<Self, JournalError> {
        if !file.exists() {
            return Err(JournalError::Missing {
                file: file.to_owned(),
            });
        }
        let failed = |cause| JournalError::Open {
            file: file.to_owned(),
            cause,
        };
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(file, flags).map_err(failed)?;
        connection
            .busy_timeout(Duration::from_secs(5))
            .map_err(failed)?;
        match schema::look(&connection).map_err(failed)? {
            Found::Ours => Ok(Self {
                connection,
                lost: RefCell::default(),
            }),
            Found::Foreign => Err(JournalError::Foreign {
                file: file.to_owned(),
            }),
            Found::Newer(found) => Err(JournalError::Newer {
                file: file.to_owned(),
                found,
                known: schema::VERSIONS.len() as i64,
            }),
        }
    }

    /// The first `count` events that fit, in their order.
    pub fn first(&self, filter: &Filter, count: usize) -> Result<Vec<Event>, JournalError> {
        let events = self.select(filter, "ASC", count)?;
        // A damaged table may lead round in circles.
        let numbers = events.iter().map(|event| event.number);
        let mut before = filter.beyond;
        for number in numbers {
            if number <= before {
                return Err(JournalError::Unreadable(format!(
                    "after entry {before} comes number {number}: the file is damaged; \
                     stop the daemon, and put the file aside"
                )));
            }
            before = number;
        }
        Ok(events)
    }

    /// The last `count` events that fit, in their order.
    pub fn last(&self, filter: &Filter, count: usize) -> Result<Vec<Event>, JournalError> {
        let mut events = self.select(filter, "DESC", count)?;
        events.reverse();
        Ok(events)
    }

    fn select(
        &self,
        filter: &Filter,
        order: &str,
        count: usize,
    ) -> Result<Vec<Event>, JournalError> {
        let mut sql = format!("SELECT {COLUMNS} FROM event WHERE number > ?");
        let (from, to) = (filter.from.map(nanoseconds), filter.to.map(nanoseconds));
        let kind = filter.kind.map(EventKind::name);
        let mut values: Vec<&dyn ToSql> = vec![&filter.beyond];
        let wanted: [(&str, Option<&dyn ToSql>); 5] = [
            (" AND time >= ?", from.as_ref().map(|from| from as _)),
            (" AND time < ?", to.as_ref().map(|to| to as _)),
            (" AND tank = ?", filter.tank.as_ref().map(|tank| tank as _)),
            (" AND kind = ?", kind.as_ref().map(|kind| kind as _)),
            (
                " AND number < ?",
                filter.below.as_ref().map(|below| below as _),
            ),
        ];
        for (condition, value) in wanted {
            if let Some(value) = value {
                sql.push_str(condition);
                values.push(value);
            }
        }
        sql.push_str(&format!(" ORDER BY number {order} LIMIT ?"));
        values.push(&count);
        let mut statement = self.connection.prepare(&sql)?;
        let entries = statement.query_map(values.as_slice(), Entry::told)?;
        Ok(entries.collect::<Result<_, _>>()?)
    }

    /// Whether every entry is there and as it was written.
    pub fn verify(&self) -> Result<Verdict, JournalError> {
        verify::verify(&self.connection)
    }

    /// What is sampled: kind, name and quantity of each series.
    pub fn series(&self) -> Result<Vec<(i64, String, String, String)>, JournalError> {
        let sql = "SELECT id, kind, name, quantity FROM series ORDER BY kind, name, quantity";
        let mut statement = self.connection.prepare(sql)?;
        let rows = statement.query_map([], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The time that samples are kept of, from the first minute to the end of the last; none without any.
    pub fn sampled(&self) -> Result<Option<(Timestamp, Timestamp)>, JournalError> {
        let sql = "SELECT min(minute), max(minute) FROM sample";
        let ends: (Option<i64>, Option<i64>) = self
            .connection
            .query_row(sql, [], |row| Ok((row.get(0)?, row.get(1)?)))?;
        let begins = |minute: i64| Timestamp::from_second(minute * 60).ok();
        let (first, last) = (
            ends.0.and_then(begins),
            ends.1.and_then(|last| begins(last + 1)),
        );
        Ok(first.zip(last))
    }

    /// The minutes of samples that were asked for so far and can't be read; they are left out of what is given.
    pub fn lost(&self) -> Vec<Timestamp> {
        let lost = self.lost.borrow();
        let begins = lost
            .iter()
            .map(|minute| Timestamp::from_second(minute * 60));
        begins.filter_map(Result::ok).collect()
    }

    /// A series' samples from a time on, and before another, with the time of each.
    pub fn samples(
        &self,
        series: i64,
        from: Timestamp,
        to: Timestamp,
    ) -> Result<Vec<(Timestamp, Sample)>, JournalError> {
        let minute = |time: Timestamp| time.as_millisecond().div_euclid(60_000);
        let sql = "SELECT minute, data FROM sample WHERE minute BETWEEN ? AND ? AND series = ? ORDER BY minute";
        let mut statement = self.connection.prepare(sql)?;
        let mut rows = statement.query(params![minute(from), minute(to), series])?;
        let mut samples = Vec::new();
        while let Some(row) = rows.next()? {
            let minute: i64 = row.get(0)?;
            let data: Option<Vec<u8>> = row.get(1).ok();
            let Some(packed) = data.and_then(|data| coding::read_minute(&data)) else {
                self.lost.borrow_mut().insert(minute);
                continue;
            };
            let timed = packed.into_iter().filter_map(|sample| {
                let time = Timestamp::from_millisecond(minute * 60_000 + sample.time_ms).ok()?;
                (time >= from && time < to).then_some((time, sample))
            });
            samples.extend(timed);
        }
        Ok(samples)
    }

    /// A series' minutes as they are kept for years, with the beginning of each.
    pub fn minutes(
        &self,
        series: i64,
        from: Timestamp,
        to: Timestamp,
    ) -> Result<Vec<(Timestamp, Summary)>, JournalError> {
        let hour = |time: Timestamp| time.as_second().div_euclid(3600);
        let mut statement = self
            .connection
            .prepare("SELECT data FROM rollup WHERE hour = ? AND series = ?")?;
        let mut minutes = Vec::new();
        for hour in hour(from)..=hour(to) {
            let mut rows = statement.query([hour, series])?;
            while let Some(row) = rows.next()? {
                let data: Option<Vec<u8>> = row.get(0).ok();
                let Some(packed) = data.and_then(|data| coding::read_hour(&data)) else {
                    self.lost.borrow_mut().extend(hour * 60..(hour + 1) * 60);
                    continue;
                };
                let timed = packed.into_iter().filter_map(|summary| {
                    let second = hour * 3600 + 60 * i64::from(summary.minute);
                    let time = Timestamp::from_second(second).ok()?;
                    (time >= from && time < to).then_some((time, summary))
                });
                minutes.extend(timed);
            }
        }
        Ok(minutes)
    }
}

/// The highest number that a damaged journal still tells; 0 where it tells none.
pub(super) fn salvaged_number(file: &Path) -> u64 {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let Ok(connection) = Connection::open_with_flags(file, flags) else {
        return 0;
    };
    let told = [
        "SELECT max(number) FROM event",
        "SELECT max(number) FROM chain",
    ];
    let numbers = told.iter().filter_map(|sql| {
        let number: Option<u64> = connection.query_row(sql, [], |row| row.get(0)).ok()?;
        number
    });
    numbers.max().unwrap_or(0)
}

/// What a journal remembers where there is no room to open it in the usual way: without the file that
/// readers share, which in exclusive mode is not needed (sqlite.org/wal.html, section 8).
pub(super) fn restored_without_room(file: &Path) -> Restored {
    let restored = || -> Result<Restored, JournalError> {
        let connection = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        connection.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
        store::restored(&connection)
    };
    restored().unwrap_or_else(|error| {
        tracing::error!("what the journal remembers can't be read: {error}");
        Restored::default()
    })
}
