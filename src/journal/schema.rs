//! The form of the database, and the settings of a connection.
//!
//! A form is a list of SQL, one a version; `user_version` counts how many have been run. A later version
//! appends to the list and never changes what stands in it.
//!
//! | table | a row |
//! | --- | --- |
//! | `event` | one event; `hash` chains it to the one before |
//! | `chain` | `start`: the last event that retention took; `head`: the newest |
//! | `alarm` | what is remembered of one alarm, as JSON |
//! | `memory` | what else is remembered: its kind, what it is about, and the rest as JSON |
//! | `state` | single facts: the site file's fingerprint, when the last entry was made, how far roll-ups stand, what retention counts by |
//! | `outbox` | an event that the broker has not acknowledged |
//! | `series` | what is sampled |
//! | `sample` | one series, one minute (`coding::minute`) |
//! | `rollup` | one series, one hour: minimum, mean, maximum of each minute (`coding::hour`) |
//!
//! `sample` and `rollup` are clustered by time, so that a minute's rows are written side by side and
//! retention takes them off the front.

use rusqlite::Connection;
use std::time::Duration;

/// Marks the file as a journal of this program ("SPIP").
pub const APPLICATION: i64 = 0x5350_4950;

pub const VERSIONS: &[&str] = &[
    "
CREATE TABLE event (
    number INTEGER PRIMARY KEY,
    time   INTEGER NOT NULL,
    kind   TEXT NOT NULL,
    tank   TEXT,
    code   TEXT,
    was    TEXT,
    became TEXT,
    person TEXT,
    text   TEXT NOT NULL,
    hash   BLOB NOT NULL
) STRICT;
CREATE INDEX event_by_time ON event (time);
CREATE INDEX event_by_tank ON event (tank, number) WHERE tank IS NOT NULL;
CREATE TABLE chain (
    place  TEXT PRIMARY KEY,
    number INTEGER NOT NULL,
    hash   BLOB NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE alarm (
    tank   TEXT NOT NULL,
    code   TEXT NOT NULL,
    memory TEXT NOT NULL,
    PRIMARY KEY (tank, code)
) STRICT, WITHOUT ROWID;
CREATE TABLE state (
    name  TEXT PRIMARY KEY,
    value ANY NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE outbox (
    number INTEGER PRIMARY KEY REFERENCES event (number)
) STRICT;
CREATE TABLE series (
    id       INTEGER PRIMARY KEY,
    kind     TEXT NOT NULL,
    name     TEXT NOT NULL,
    quantity TEXT NOT NULL,
    UNIQUE (kind, name, quantity)
) STRICT;
CREATE TABLE sample (
    minute INTEGER NOT NULL,
    series INTEGER NOT NULL REFERENCES series (id),
    data   BLOB NOT NULL,
    PRIMARY KEY (minute, series)
) STRICT, WITHOUT ROWID;
CREATE TABLE rollup (
    hour   INTEGER NOT NULL,
    series INTEGER NOT NULL REFERENCES series (id),
    data   BLOB NOT NULL,
    PRIMARY KEY (hour, series)
) STRICT, WITHOUT ROWID;
",
    "
CREATE TABLE memory (
    kind   TEXT NOT NULL,
    of     TEXT NOT NULL,
    memory TEXT NOT NULL,
    PRIMARY KEY (kind, of)
) STRICT, WITHOUT ROWID;
",
];

/// What a file turned out to be.
#[derive(Debug, PartialEq, Eq)]
pub enum Found {
    Ours,
    Foreign,
    Newer(i64),
}

/// Every committed transaction survives a loss of power (WAL with `synchronous=FULL`).
pub fn set_up(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(Duration::from_millis(5000))?;
    let mode: String =
        connection.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
    if mode != "wal" {
        return Err(rusqlite::Error::SqliteFailure(
            rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CANTOPEN),
            Some(format!(
                "its file system allows no write-ahead log (the mode stays {mode})"
            )),
        ));
    }
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", "ON")?;
    connection.pragma_update(None, "temp_store", "MEMORY")
}

/// Whether it is a journal, and one that this program can read. An empty file becomes one.
pub fn look(connection: &Connection) -> rusqlite::Result<Found> {
    let number =
        |pragma: &str| connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    let (application, version) = (number("application_id")?, number("user_version")?);
    let tables: i64 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(if tables > 0 && application != APPLICATION {
        Found::Foreign
    } else if version > VERSIONS.len() as i64 {
        Found::Newer(version)
    } else {
        Found::Ours
    })
}

/// Brings the form up to date, each version in a transaction of its own.
pub fn migrate(connection: &mut Connection) -> rusqlite::Result<()> {
    let done: usize =
        connection.pragma_query_value(None, "user_version", |row| row.get::<_, usize>(0))?;
    for (version, sql) in VERSIONS.iter().enumerate().skip(done) {
        let transaction = connection.transaction()?;
        transaction.execute_batch(sql)?;
        transaction.pragma_update(None, "application_id", APPLICATION)?;
        transaction.pragma_update(None, "user_version", version as i64 + 1)?;
        transaction.commit()?;
    }
    Ok(())
}
