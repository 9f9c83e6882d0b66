//! An entry: an event as its row has it, and the chain that holds entries together.
//!
//! Each entry's hash is SHA-256 (FIPS 180-4) over the hash before it and all its fields; a text goes in
//! with its length, an absent one as a mark of its own, so that no two entries give the same bytes. What
//! was altered, taken out or put in between shows from there on. The chain has no secret: it finds damage
//! and careless hands, and whoever recomputes all of it only where its newest hash was noted elsewhere.

use crate::engine::alarm::AlarmState;
use crate::engine::{Event, EventKind};
use crate::quantity::Timestamp;
use ring::digest::{Context, SHA256};
use rusqlite::{Row, params};
use std::sync::Arc;

pub type Hash = [u8; 32];

/// What the first entry of all is chained to.
pub const BEGINNING: Hash = [0; 32];

/// The columns, in the order that [`Entry::read`] takes them.
pub const COLUMNS: &str = "number, time, kind, tank, code, was, became, person, text";

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    pub number: u64,
    pub time_ns: i64,
    kind: String,
    tank: Option<String>,
    code: Option<String>,
    was: Option<String>,
    became: Option<String>,
    person: Option<String>,
    text: String,
}

impl From<&Event> for Entry {
    fn from(event: &Event) -> Self {
        let text = |text: &Option<Arc<str>>| text.as_deref().map(str::to_owned);
        let state = |state: Option<AlarmState>| state.map(|state| state.code().to_owned());
        Self {
            number: event.number,
            time_ns: nanoseconds(event.time),
            kind: event.kind.name().to_owned(),
            tank: text(&event.tank),
            code: text(&event.code),
            was: state(event.from),
            became: state(event.to),
            person: text(&event.person),
            text: event.text.clone(),
        }
    }
}

impl Entry {
    pub fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            number: row.get(0)?,
            time_ns: row.get(1)?,
            kind: row.get(2)?,
            tank: row.get(3)?,
            code: row.get(4)?,
            was: row.get(5)?,
            became: row.get(6)?,
            person: row.get(7)?,
            text: row.get(8)?,
        })
    }

    pub fn insert(
        &self,
        transaction: &rusqlite::Transaction<'_>,
        hash: &Hash,
    ) -> rusqlite::Result<()> {
        let sql = format!("INSERT INTO event ({COLUMNS}, hash) VALUES (?,?,?,?,?,?,?,?,?,?)");
        transaction.prepare(&sql)?.execute(params![
            self.number,
            self.time_ns,
            self.kind,
            self.tank,
            self.code,
            self.was,
            self.became,
            self.person,
            self.text,
            hash
        ])?;
        Ok(())
    }

    /// SHA-256(before ‖ number ‖ time ‖ kind ‖ tank ‖ code ‖ was ‖ became ‖ person ‖ text)
    pub fn hash(&self, before: &Hash) -> Hash {
        let mut context = Context::new(&SHA256);
        context.update(before);
        context.update(&self.number.to_be_bytes());
        context.update(&self.time_ns.to_be_bytes());
        let fields = [
            Some(&self.kind),
            self.tank.as_ref(),
            self.code.as_ref(),
            self.was.as_ref(),
            self.became.as_ref(),
            self.person.as_ref(),
            Some(&self.text),
        ];
        for field in fields {
            match field {
                None => context.update(&[0]),
                Some(text) => {
                    context.update(&[1]);
                    context.update(&(text.len() as u64).to_be_bytes());
                    context.update(text.as_bytes());
                }
            }
        }
        let mut hash = BEGINNING;
        hash.copy_from_slice(context.finish().as_ref());
        hash
    }

    /// As a row has it, whatever stands there: one that can't be read says so, and hides no other.
    pub fn told(row: &Row<'_>) -> rusqlite::Result<Event> {
        let entry = match Self::read(row) {
            Ok(entry) => entry,
            Err(cause) => {
                let time = row.get("time").map(moment);
                let unknown = format!("this entry can't be read: {cause}");
                return Ok(unknown_event(
                    row.get("number")?,
                    time.unwrap_or_default(),
                    unknown,
                ));
            }
        };
        let (number, time) = (entry.number, moment(entry.time_ns));
        let said = format!(
            "this version does not know what that is: {} {}",
            entry.kind, entry.text
        );
        Ok((entry.event()).unwrap_or_else(|| unknown_event(number, time, said)))
    }

    /// None where the entry has a kind or a state that this version does not know.
    pub fn event(self) -> Option<Event> {
        let state = |code: Option<String>| match code {
            None => Some(None),
            Some(code) => AlarmState::ALL
                .iter()
                .find(|state| state.code() == code)
                .map(|state| Some(*state)),
        };
        Some(Event {
            number: self.number,
            time: moment(self.time_ns),
            kind: *EventKind::ALL
                .iter()
                .find(|kind| kind.name() == self.kind)?,
            from: state(self.was)?,
            to: state(self.became)?,
            tank: self.tank.map(Arc::from),
            code: self.code.map(Arc::from),
            person: self.person.map(Arc::from),
            text: self.text,
        })
    }
}

fn unknown_event(number: u64, time: Timestamp, text: String) -> Event {
    Event {
        number,
        time,
        kind: EventKind::Unknown,
        from: None,
        to: None,
        tank: None,
        code: None,
        person: None,
        text,
    }
}

/// Unix time in ns; 64 bits reach to the year 2262.
pub fn nanoseconds(time: Timestamp) -> i64 {
    i64::try_from(time.as_nanosecond()).unwrap_or(i64::MAX)
}

/// Every number of ns that fits 64 bits is a moment between the years 1677 and 2262.
pub fn moment(time_ns: i64) -> Timestamp {
    Timestamp::from_nanosecond(i128::from(time_ns)).unwrap_or(Timestamp::UNIX_EPOCH)
}

/// A moment as a part of a file name: `20260304T050607Z`.
pub fn compact(time: Timestamp) -> String {
    time.strftime("%Y%m%dT%H%M%SZ").to_string()
}
