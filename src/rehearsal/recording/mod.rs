//! A recording through the engine, and a recording out of the journal.
//!
//! A recording is CSV: `time` (RFC 3339) or `seconds`, then one column a tag ([`columns`]). [`Rows`] streams it,
//! [`replay`] feeds it to the same engine that runs live, in the recording's own time; [`RowWriter`] writes
//! one from the samples of a journal.
//!
//! What always holds: memory does not grow with the recording; a cell that cannot be understood ends the
//! replay with its line and column; time never goes back.

mod columns;
mod manual;
mod output;
mod replay;
mod row_writer;
mod rows;
mod tally;
mod text;

pub use columns::Mapping;
pub use manual::Manual;
pub use output::{Events, Form, Readings};
pub use replay::{Onlooker, Told, Window, polled_every, replay};
pub use row_writer::RowWriter;
pub use rows::{Row, Rows};

use crate::journal::JournalError;
use std::io;

/// Why a recording can't be read, replayed or written.
#[derive(Debug, thiserror::Error)]
pub enum RecordingError {
    /// At a line, and in a column where that is known.
    #[error("{file} line {line}{}: {what}", in_column(.column))]
    At {
        file: String,
        line: u64,
        column: Option<String>,
        what: String,
    },
    #[error("{file}: {what}")]
    Of { file: String, what: String },
    /// Of what maps columns to tags.
    #[error("{0}")]
    Mapping(String),
    #[error("{file} can't be read: {cause}")]
    Read { file: String, cause: csv::Error },
    #[error("can't be written: {0}")]
    Write(#[from] io::Error),
    #[error(transparent)]
    Journal(#[from] JournalError),
}

fn in_column(column: &Option<String>) -> String {
    column
        .as_ref()
        .map_or_else(String::new, |column| format!(", column \"{column}\""))
}

impl From<csv::Error> for RecordingError {
    /// Of a table that is written.
    fn from(cause: csv::Error) -> Self {
        Self::Write(io::Error::other(cause))
    }
}
