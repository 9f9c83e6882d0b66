//! What can go wrong with a journal.

use rusqlite::ErrorCode;
use std::path::PathBuf;

#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    #[error(
        "can't open the journal {}: {cause}; [journal] file in the site file names it, its folder must be there and writable",
        file.display()
    )]
    Open {
        file: PathBuf,
        cause: rusqlite::Error,
    },
    #[error(
        "{} is a database of something else; [journal] file in the site file names the journal",
        file.display()
    )]
    Foreign { file: PathBuf },
    #[error(
        "the journal {} was written by a newer version (its form {found}, this program knows {known}); install that version again",
        file.display()
    )]
    Newer {
        file: PathBuf,
        found: i64,
        known: i64,
    },
    #[error("there is no journal {} yet; `standpipe run` starts it", file.display())]
    Missing { file: PathBuf },
    #[error(
        "another daemon{} writes the journal {} already: stop that one, or give this site a journal of its own with [journal] file",
        holder.map(|process| format!(" (process {process})")).unwrap_or_default(),
        file.display()
    )]
    InUse { file: PathBuf, holder: Option<u32> },
    #[error("the journal {} can't be kept aside as {}: {cause}", file.display(), aside.display())]
    Aside {
        file: PathBuf,
        aside: PathBuf,
        cause: std::io::Error,
    },
    #[error("journal: {0}")]
    Database(#[from] rusqlite::Error),
    #[error("journal: {0}")]
    Unreadable(String),
    #[error("the journal's thread can't be started: {0}")]
    Thread(String),
}

impl JournalError {
    /// The file's content is damaged: waiting will not mend it.
    pub fn is_damage(&self) -> bool {
        match self {
            JournalError::Database(error) | JournalError::Open { cause: error, .. } => {
                is_damage(error)
            }
            JournalError::Unreadable(_) => true,
            _ => false,
        }
    }

    /// There is no room, or the disk fails: it may be mended while the program runs.
    pub fn may_pass(&self) -> bool {
        match self {
            JournalError::Database(error) | JournalError::Open { cause: error, .. } => matches!(
                error.sqlite_error_code(),
                Some(
                    ErrorCode::DiskFull
                        | ErrorCode::SystemIoFailure
                        | ErrorCode::DatabaseBusy
                        | ErrorCode::DatabaseLocked
                )
            ),
            _ => false,
        }
    }
}

pub(super) fn is_damage(error: &rusqlite::Error) -> bool {
    use rusqlite::Error;
    match error {
        // What stands there is not what is ever written there.
        Error::FromSqlConversionFailure(..)
        | Error::InvalidColumnType(..)
        | Error::IntegralValueOutOfRange(..)
        | Error::Utf8Error(..) => true,
        // Every form of the journal has all that is asked for.
        Error::SqlInputError { msg, .. } => lacks(msg),
        Error::SqliteFailure(_, Some(message)) if lacks(message) => true,
        _ => matches!(
            error.sqlite_error_code(),
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)
        ),
    }
}

fn lacks(message: &str) -> bool {
    message.starts_with("no such table") || message.starts_with("no such column")
}
