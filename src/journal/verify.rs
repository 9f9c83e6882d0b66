//! Whether every entry is there and as it was written.

use super::entry::{BEGINNING, COLUMNS, Entry, Hash};
use super::error::JournalError;
use super::store::chained;
use rusqlite::Connection;

/// What a journal turned out to be.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verdict {
    pub entries: u64,
    pub first: Option<u64>,
    pub last: Option<u64>,
    /// Numbers that were never written: from and to. Nothing was taken out there.
    pub gaps: Vec<(u64, u64)>,
    /// The newest hash in hexadecimal: noted elsewhere, it proves all entries up to here.
    pub newest_hash: String,
    /// The first entry that is missing or altered, and what is wrong with it.
    pub trouble: Option<String>,
}

pub(super) fn verify(connection: &Connection) -> Result<Verdict, JournalError> {
    let mut verdict = Verdict::default();
    // One view of the database, whatever is written meanwhile.
    let connection = connection.unchecked_transaction()?;
    let start = chained(&connection, "start")?;
    let head = chained(&connection, "head")?;
    let mut before = start.unwrap_or((0, BEGINNING));
    let mut statement = connection.prepare(&format!(
        "SELECT {COLUMNS}, hash FROM event ORDER BY number"
    ))?;
    let mut rows = statement.query([])?;
    loop {
        let read = rows.next().and_then(|row| match row {
            Some(row) => Ok(Some((Entry::read(row)?, row.get::<_, Hash>(9)?))),
            None => Ok(None),
        });
        let (entry, hash) = match read {
            Ok(Some(read)) => read,
            Ok(None) => break,
            Err(error) => {
                verdict.trouble = Some(format!("after entry {}: {error}", before.0));
                return Ok(verdict);
            }
        };
        if entry.hash(&before.1) != hash {
            verdict.trouble = Some(broken(before.0, entry.number, start.is_none()));
            return Ok(verdict);
        }
        if entry.number != before.0 + 1 && before.0 > 0 {
            verdict.gaps.push((before.0 + 1, entry.number - 1));
        }
        verdict.first.get_or_insert(entry.number);
        verdict.last = Some(entry.number);
        verdict.entries += 1;
        before = (entry.number, hash);
    }
    verdict.newest_hash = before.1.iter().map(|byte| format!("{byte:02x}")).collect();
    match head {
        Some(head) if head != before => {
            verdict.trouble = Some(format!(
                "entry {}: the journal ends before it, though it was written",
                before.0 + 1
            ));
        }
        None if verdict.entries > 0 => {
            verdict.trouble = Some("the mark of the newest entry is missing".to_owned());
        }
        _ => {}
    }
    Ok(verdict)
}

fn broken(before: u64, number: u64, is_whole: bool) -> String {
    if number == before + 1 {
        format!("entry {number} is altered, or does not follow the one before it")
    } else if before == 0 && is_whole {
        format!(
            "entry {number} is not the first that was written: those before it are missing, or it is altered"
        )
    } else {
        format!(
            "entry {} is missing, or entry {number} is altered",
            before + 1
        )
    }
}
