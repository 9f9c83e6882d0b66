//! The rows of a recording, one at a time, in memory that is used again for each.

use super::RecordingError;
use super::columns::{Columns, Mapping, Number};
use super::text::Text;
use crate::engine::plan::Plan;
use crate::engine::{ContactSample, Fault, Sample, signal};
use crate::quantity::Timestamp;
use csv::ByteRecord;
use jiff::SignedDuration;
use std::io::Read;
use std::sync::Arc;

/// One moment of a recording: one whole read.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    pub line: u64,
    /// Where it ends in the text.
    pub byte: u64,
    pub time: Timestamp,
    pub samples: &'a [Sample],
    pub contacts: &'a [ContactSample],
}

/// A recording that is being read.
#[derive(Debug)]
pub struct Rows<R> {
    csv: csv::Reader<Text<R>>,
    file: String,
    headers: Vec<String>,
    columns: Columns,
    plan: Arc<Plan>,
    /// What seconds count from.
    begins: Timestamp,
    record: ByteRecord,
    samples: Vec<Sample>,
    contacts: Vec<ContactSample>,
    last: Option<Timestamp>,
}

impl<R: Read> Rows<R> {
    /// `file` is for messages; `begins` is the time of second 0.
    pub fn open(
        source: R,
        file: &str,
        plan: Arc<Plan>,
        mapping: &Mapping,
        begins: Timestamp,
    ) -> Result<Self, RecordingError> {
        let mut csv = csv::ReaderBuilder::new()
            .flexible(true)
            .trim(csv::Trim::Headers)
            .buffer_capacity(1 << 16)
            .from_reader(Text::open(source, file)?);
        let read = |cause| RecordingError::Read {
            file: file.to_owned(),
            cause,
        };
        let headers: Vec<String> = csv
            .headers()
            .map_err(read)?
            .iter()
            .map(str::to_owned)
            .collect();
        let columns = Columns::of(&headers, &plan, mapping, file)?;
        Ok(Self {
            csv,
            file: file.to_owned(),
            headers,
            samples: Vec::with_capacity(columns.numbers.len()),
            contacts: Vec::with_capacity(columns.bits.len()),
            columns,
            plan,
            begins,
            record: ByteRecord::new(),
            last: None,
        })
    }

    /// Headers that mean nothing here.
    pub fn ignored(&self) -> &[String] {
        &self.columns.ignored
    }

    /// Transmitters and contacts of the site that the recording does not hold.
    pub fn missing(&self) -> &[String] {
        &self.columns.missing
    }

    /// The last line had no end, so that a number in it may be cut: known once all rows were read.
    pub fn is_cut(&self) -> bool {
        self.csv.get_ref().is_cut()
    }

    /// The time of second 0, where the recording counts seconds.
    pub fn zero(&self) -> Option<Timestamp> {
        self.columns.time.is_seconds.then_some(self.begins)
    }

    /// After so long without a row, a transmitter's last value is no longer as good as read.
    pub fn patience(&self) -> SignedDuration {
        let recorded = self.columns.numbers.iter();
        let plans = recorded.map(|number| &self.plan.transmitters[number.transmitter.index()]);
        let shortest = plans.map(signal::missed_polls).min();
        shortest
            .and_then(|shortest| shortest.try_into().ok())
            .unwrap_or(SignedDuration::MAX)
    }

    /// The next row; none at the end. One whose time is before the last one's is an error.
    pub fn next_row(&mut self) -> Result<Option<Row<'_>>, RecordingError> {
        let more = self.csv.read_byte_record(&mut self.record);
        let more = more.map_err(|cause| RecordingError::Read {
            file: self.file.clone(),
            cause,
        })?;
        if !more {
            return Ok(None);
        }
        if self.record.len() != self.headers.len() {
            let (cells, due) = (self.record.len(), self.headers.len());
            return Err(self.at(None, format!("{cells} cells, the header has {due}; leave a cell empty where there was no answer")));
        }
        let time = self.time()?;
        if let Some(last) = self.last.filter(|last| time < *last) {
            return Err(self.at(
                Some(self.columns.time.place),
                format!("{time} is before the row above it ({last}); sort the rows by time, or cut the recording where its clock was set back"),
            ));
        }
        self.last = Some(time);
        self.take_numbers()?;
        self.take_bits()?;
        Ok(Some(Row {
            line: self.line(),
            byte: self.csv.position().byte(),
            time,
            samples: &self.samples,
            contacts: &self.contacts,
        }))
    }

    fn time(&self) -> Result<Timestamp, RecordingError> {
        let place = self.columns.time.place;
        let text = self.cell(place)?;
        if !self.columns.time.is_seconds {
            return text.parse::<Timestamp>().map_err(|_| {
                self.at(Some(place), format!("\"{text}\" is no time; write it with its zone: 2026-03-04T05:06:07Z or 2026-03-04T06:06:07+01:00"))
            });
        }
        let seconds = text.parse::<f64>().ok();
        let since = seconds.and_then(|seconds| SignedDuration::try_from_secs_f64(seconds).ok());
        let time = since.and_then(|since| self.begins.checked_add(since).ok());
        time.ok_or_else(|| {
            self.at(
                Some(place),
                format!("\"{text}\" is no number of seconds; a number as 12.5 is due"),
            )
        })
    }

    fn take_numbers(&mut self) -> Result<(), RecordingError> {
        self.samples.clear();
        for index in 0..self.columns.numbers.len() {
            let Number {
                place,
                transmitter,
                unit,
            } = self.columns.numbers[index];
            let text = self.cell(place)?;
            let raw = match text {
                "" => Err(Fault::NoAnswer),
                text => Ok(text.parse::<f64>().map_err(|_| {
                    self.at(Some(place), format!("\"{text}\" is no number; write one with a point (3.4), nothing where there was no answer, or nan where the answer was no number"))
                })?),
            };
            let plan = &self.plan.transmitters[transmitter.index()];
            let raw = raw.map(|number| {
                let own = unit.map_or(number, |unit| plan.unit.from_si(unit.to_si(number)));
                signal::raw_of(plan, own)
            });
            self.samples.push(Sample { transmitter, raw });
        }
        Ok(())
    }

    fn take_bits(&mut self) -> Result<(), RecordingError> {
        self.contacts.clear();
        for index in 0..self.columns.bits.len() {
            let (place, contact) = (
                self.columns.bits[index].place,
                self.columns.bits[index].contact,
            );
            let text = self.cell(place)?;
            let on = match text {
                "" => Err(Fault::NoAnswer),
                "1" | "on" => Ok(true),
                "0" | "off" => Ok(false),
                _ => {
                    return Err(self.at(Some(place), format!("\"{text}\" is no state of a contact; write 1 or on, 0 or off, or nothing where there was no answer")));
                }
            };
            // A recording has the state as the site understands it.
            let inverted = self.plan.contacts[contact.index()].invert;
            let bit = on.map(|on| on != inverted);
            self.contacts.push(ContactSample { contact, bit });
        }
        Ok(())
    }

    fn cell(&self, place: usize) -> Result<&str, RecordingError> {
        let text = std::str::from_utf8(&self.record[place]);
        let text = text.map_err(|_| {
            self.at(
                Some(place),
                "it is no UTF-8 text; save the recording as UTF-8".to_owned(),
            )
        })?;
        Ok(text.trim())
    }

    /// That of the row which was read last: each ends in a line feed, which is behind the reader.
    fn line(&self) -> u64 {
        self.csv.position().line().saturating_sub(1)
    }

    fn at(&self, place: Option<usize>, what: String) -> RecordingError {
        RecordingError::At {
            file: self.file.clone(),
            line: self.line(),
            column: place.map(|place| self.headers[place].clone()),
            what,
        }
    }
}
