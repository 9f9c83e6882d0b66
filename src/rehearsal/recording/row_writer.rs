//! A recording out of a journal: what its samples were read as.
//!
//! A row is one moment, a cell what was read then: a number in the transmitter's own unit with the site's `zero`
//! added back, 1 or 0 of a contact. An empty cell was not read; `nan` was an answer that is no number that can
//! be used. A journal also keeps moments at which a value only grew old: those are no reads and are left out,
//! so that it grows old in the replay by itself.

use super::RecordingError;
use crate::engine::plan::{ContactPlan, Plan, TransmitterPlan};
use crate::engine::{Quality, signal};
use crate::journal::Reader;
use crate::journal::coding::Sample;
use crate::quantity::Timestamp;
use crate::wire::time;
use jiff::SignedDuration;
use std::collections::BTreeMap;
use std::io::Write;
use std::time::Duration;

/// So much of a journal is held in memory at once.
const AT_ONCE: SignedDuration = SignedDuration::from_mins(10);

/// A recording that is being written.
#[derive(Debug)]
pub struct RowWriter<W: Write> {
    table: csv::Writer<W>,
    tracks: Vec<Track>,
    /// One row in so much time, with the newest of each column.
    every: Option<Duration>,
    /// What is held back until its time is over: when the time began, the newest moment, the cells.
    held: Option<(Timestamp, Timestamp, Vec<String>)>,
    /// Rows written, and the moment of the newest sample taken.
    rows: u64,
    newest: Option<Timestamp>,
}

/// One column: a series of the journal.
#[derive(Debug)]
struct Track {
    series: Series,
    /// The last read: its moment and sample.
    last: Option<(Timestamp, Sample)>,
}

#[derive(Debug)]
enum Series {
    Transmitter(Box<TransmitterPlan>),
    Contact(Box<ContactPlan>),
}

impl<W: Write> RowWriter<W> {
    /// Its columns are every transmitter and contact of the site; their headers come with the first row.
    pub fn new(out: W, plan: &Plan, every: Option<Duration>) -> Self {
        let transmitters = plan.transmitters.iter().cloned();
        let contacts = plan.contacts.iter().cloned();
        let series = transmitters
            .map(|plan| Series::Transmitter(Box::new(plan)))
            .chain(contacts.map(|plan| Series::Contact(Box::new(plan))));
        let tracks: Vec<Track> = series.map(|series| Track { series, last: None }).collect();
        Self {
            table: csv::Writer::from_writer(out),
            tracks,
            every,
            held: None,
            rows: 0,
            newest: None,
        }
    }

    /// Takes all samples from a time on, and before another; times go on from call to call.
    pub fn take(
        &mut self,
        journal: &Reader,
        from: Timestamp,
        to: Timestamp,
    ) -> Result<(), RecordingError> {
        let from = match self.newest {
            // After what is there already.
            Some(newest) => from.max(newest + SignedDuration::from_millis(1)),
            None => {
                // What came before it tells whether a value was read anew or had only grown old.
                self.part(journal, from - AT_ONCE, from, false)?;
                from
            }
        };
        let mut begin = from;
        while begin < to {
            let end = (begin + AT_ONCE).min(to);
            self.part(journal, begin, end, true)?;
            begin = end;
        }
        self.table.flush()?;
        Ok(())
    }

    /// How many rows there are, and the moment of the newest sample.
    pub fn rows(&self) -> (u64, Option<Timestamp>) {
        (self.rows, self.newest)
    }

    /// Writes what is held back, and tells how many rows there are.
    pub fn finish(mut self) -> Result<u64, RecordingError> {
        if let Some((_, moment, cells)) = self.held.take() {
            self.write(moment, cells)?;
        }
        self.table.flush()?;
        Ok(self.rows)
    }

    fn part(
        &mut self,
        journal: &Reader,
        from: Timestamp,
        to: Timestamp,
        is_wanted: bool,
    ) -> Result<(), RecordingError> {
        let width = self.tracks.len();
        let mut rows: BTreeMap<Timestamp, Vec<String>> = BTreeMap::new();
        let series = journal.series()?;
        for (place, track) in self.tracks.iter_mut().enumerate() {
            let (kind, name) = track.series.key();
            let found = series
                .iter()
                .find(|(_, of, tag, _)| of == kind && tag == name);
            let Some((id, ..)) = found else { continue };
            for (moment, sample) in journal.samples(*id, from, to)? {
                let is_read = track.is_read(moment, &sample);
                if is_read {
                    track.last = Some((moment, sample));
                }
                if is_read && is_wanted {
                    let cells = rows
                        .entry(moment)
                        .or_insert_with(|| vec![String::new(); width]);
                    cells[place] = track.series.cell(&sample);
                }
            }
        }
        for (moment, cells) in rows {
            self.newest = Some(moment);
            self.row(moment, cells)?;
        }
        Ok(())
    }

    fn row(&mut self, moment: Timestamp, cells: Vec<String>) -> Result<(), RecordingError> {
        let Some(every) = self.every else {
            return self.write(moment, cells);
        };
        match &mut self.held {
            Some((begun, newest, held)) if moment < *begun + every => {
                *newest = moment;
                for (held, cell) in held.iter_mut().zip(cells) {
                    if !cell.is_empty() {
                        *held = cell;
                    }
                }
            }
            held => {
                if let Some((_, moment, cells)) = held.replace((moment, moment, cells)) {
                    self.write(moment, cells)?;
                }
            }
        }
        Ok(())
    }

    fn write(&mut self, moment: Timestamp, cells: Vec<String>) -> Result<(), RecordingError> {
        if self.rows == 0 {
            let headers = self.tracks.iter().map(|track| track.series.header());
            self.table
                .write_record(std::iter::once("time".to_owned()).chain(headers))?;
        }
        self.rows += 1;
        self.table
            .write_record(std::iter::once(time(moment)).chain(cells))?;
        Ok(())
    }
}

impl Track {
    /// Whether something was read at that moment; else it was only thought of in another way.
    fn is_read(&self, moment: Timestamp, sample: &Sample) -> bool {
        let Some((last_moment, last)) = &self.last else {
            return true;
        };
        let age = Duration::try_from(moment.duration_since(*last_moment)).unwrap_or_default();
        let (kept_after, bad_after) = self.series.ages();
        let bits = |sample: &Sample| sample.value.map(f32::to_bits);
        let is_kept = sample.quality == Quality::Uncertain
            && last.quality == Quality::Good
            && bits(sample) == bits(last)
            && age >= kept_after;
        let is_gone = sample.quality == Quality::Bad && age >= bad_after;
        !is_kept && !is_gone
    }
}

impl Series {
    fn key(&self) -> (&'static str, &str) {
        match self {
            Series::Transmitter(plan) => ("transmitter", &plan.tag),
            Series::Contact(plan) => ("contact", &plan.tag),
        }
    }

    fn header(&self) -> String {
        match self {
            Series::Transmitter(plan) => format!("{} [{}]", plan.tag, plan.unit.symbol),
            Series::Contact(plan) => plan.tag.to_string(),
        }
    }

    /// When its last value counts as kept, and when as gone; to the millisecond that a journal keeps.
    fn ages(&self) -> (Duration, Duration) {
        let (kept, bad) = match self {
            Series::Transmitter(plan) => (signal::missed_polls(plan), plan.bad_after),
            Series::Contact(plan) => (plan.uncertain_after, plan.bad_after),
        };
        let less = |age: Duration| age.saturating_sub(Duration::from_millis(1));
        (less(kept), less(bad))
    }

    fn cell(&self, sample: &Sample) -> String {
        let Some(value) = sample.value else {
            return match self {
                Series::Transmitter(_) => "nan".to_owned(),
                Series::Contact(_) => String::new(),
            };
        };
        match self {
            Series::Contact(_) => String::from(if value > 0.5 { "1" } else { "0" }),
            Series::Transmitter(plan) => in_digits(plan.unit.from_si(f64::from(value) + plan.zero)),
        }
    }
}

/// With nine significant digits: a journal's single precision has no more (IEEE 754: 9 digits tell any two
/// apart).
fn in_digits(number: f64) -> String {
    let short: f64 = format!("{number:.8e}")
        .parse()
        .expect("what was printed as a number is one");
    short.to_string()
}
