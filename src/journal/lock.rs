//! One writer a journal: a lock on a file beside it, which the system frees as soon as the program ends,
//! however it ends.
//!
//! The lock is not on the database itself: SQLite has locks of its own there, and whoever closes a second handle
//! of that file frees them all (sqlite.org/howtocorrupt.html, section 2.2). Readers take no lock.

use super::error::JournalError;
use std::fs::{File, TryLockError};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// Held as long as this lives.
#[derive(Debug)]
pub struct Lock(#[expect(dead_code, reason = "the lock is freed when it is closed")] File);

impl Lock {
    /// None where the place knows no locks, or has no room for the file: that is told, and the journal is
    /// used all the same.
    pub fn take(journal: &Path) -> Result<Option<Self>, JournalError> {
        let path = path(journal);
        let opened = File::options()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path);
        let mut file = match opened {
            Ok(file) => file,
            Err(error) => {
                tracing::warn!(
                    "{}: {error}; a second daemon would not be noticed",
                    path.display()
                );
                return Ok(None);
            }
        };
        match file.try_lock() {
            Ok(()) => {
                // Only for whoever wonders who holds it.
                let _ = file
                    .set_len(0)
                    .and_then(|()| write!(file, "{}", std::process::id()));
                Ok(Some(Self(file)))
            }
            Err(TryLockError::WouldBlock) => {
                let mut holder = String::new();
                let read = file.take(20).read_to_string(&mut holder);
                Err(JournalError::InUse {
                    file: journal.to_owned(),
                    holder: read.ok().and_then(|_| holder.trim().parse().ok()),
                })
            }
            Err(TryLockError::Error(error)) => {
                tracing::warn!(
                    "{}: {error}; a second daemon would not be noticed",
                    path.display()
                );
                Ok(None)
            }
        }
    }
}

/// Beside the journal itself, by whichever link it was reached.
fn path(journal: &Path) -> PathBuf {
    let real = std::fs::canonicalize(journal);
    let mut name = real.unwrap_or_else(|_| journal.to_owned()).into_os_string();
    name.push(".lock");
    PathBuf::from(name)
}
