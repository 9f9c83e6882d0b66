//! Gathers samples from snapshots, until a minute is over.
//!
//! A sample is what was read anew, or what changed its quality: silence leaves a gap and, at its
//! beginning, a bad sample.

use super::coding::Sample;
use crate::engine::{Quality, Snapshot};
use crate::quantity::Timestamp;
use std::collections::BTreeMap;
use std::sync::Arc;

/// At most so many samples of one series in one minute; beyond, the rest of the minute is left out.
const MOST: usize = 1200;

/// What is sampled.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Series {
    pub kind: SeriesKind,
    /// The transmitter's tag, the contact's, or the tank's name.
    pub name: Arc<str>,
    /// With its unit, as in the JSON forms: `level_m`.
    pub quantity: &'static str,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SeriesKind {
    Transmitter,
    Contact,
    Tank,
}

impl SeriesKind {
    pub fn name(self) -> &'static str {
        match self {
            SeriesKind::Transmitter => "transmitter",
            SeriesKind::Contact => "contact",
            SeriesKind::Tank => "tank",
        }
    }
}

/// One series over one minute.
#[derive(Clone, Debug, PartialEq)]
pub struct MinuteRow {
    pub series: Series,
    /// Unix time in minutes.
    pub minute: i64,
    pub samples: Vec<Sample>,
}

impl MinuteRow {
    pub fn last(&self) -> Option<Timestamp> {
        let time_ms = self.minute * 60_000 + self.samples.last()?.time_ms;
        Timestamp::from_millisecond(time_ms).ok()
    }
}

#[derive(Debug, Default)]
pub struct Recorder {
    /// The one that is gathered now.
    minute: Option<i64>,
    tracks: BTreeMap<Series, Track>,
}

#[derive(Debug, Default)]
struct Track {
    last: Option<(Timestamp, Quality)>,
    samples: Vec<Sample>,
}

impl Recorder {
    /// Takes what is new in a snapshot; answers with the rows of the minute before once it is over.
    pub fn take(&mut self, snapshot: &Snapshot) -> Vec<MinuteRow> {
        let minute = snapshot.utc.as_millisecond().div_euclid(60_000);
        let over = match self.minute.replace(minute) {
            Some(before) if before != minute => self.rows(before),
            _ => Vec::new(),
        };
        for signal in &snapshot.transmitters {
            let series = Series {
                kind: SeriesKind::Transmitter,
                name: Arc::clone(&signal.tag),
                quantity: "value_si",
            };
            self.note(
                series,
                snapshot.utc,
                signal.time,
                signal.quality,
                signal.value,
            );
        }
        for contact in &snapshot.contacts {
            let series = Series {
                kind: SeriesKind::Contact,
                name: Arc::clone(&contact.tag),
                quantity: "on",
            };
            let value = contact.on.map(|on| f64::from(u8::from(on)));
            self.note(series, snapshot.utc, contact.time, contact.quality, value);
        }
        // What comes of a live test is no history of the tank.
        for tank in snapshot.tanks.iter().filter(|tank| tank.test.is_none()) {
            let reading = &tank.reading;
            let quantities = [
                ("level_m", reading.level.map(|level| level.value)),
                ("volume_m3", reading.volume.map(|volume| volume.value)),
            ];
            for (quantity, value) in quantities {
                let series = Series {
                    kind: SeriesKind::Tank,
                    name: Arc::clone(&tank.name),
                    quantity,
                };
                self.note(
                    series,
                    snapshot.utc,
                    Some(reading.time),
                    reading.quality,
                    value,
                );
            }
        }
        over
    }

    /// What is left of the minute under way, at the end of a run.
    pub fn rest(&mut self) -> Vec<MinuteRow> {
        self.minute
            .take()
            .map_or_else(Vec::new, |minute| self.rows(minute))
    }

    fn note(
        &mut self,
        series: Series,
        now: Timestamp,
        read: Option<Timestamp>,
        quality: Quality,
        value: Option<f64>,
    ) {
        let Some(minute) = self.minute else { return };
        let track = self.tracks.entry(series).or_default();
        let Some(read) = read else { return };
        let time = match track.last {
            Some((last, same)) if last == read && same == quality => return,
            // The same reading, thought of in another way now.
            Some((last, _)) if last == read => now,
            _ => read,
        };
        track.last = Some((read, quality));
        if track.samples.len() < MOST {
            let value = value
                .map(|value| value as f32)
                .filter(|value| value.is_finite());
            track.samples.push(Sample {
                time_ms: time.as_millisecond() - minute * 60_000,
                quality,
                value,
            });
        }
    }

    fn rows(&mut self, minute: i64) -> Vec<MinuteRow> {
        let tracks = self
            .tracks
            .iter_mut()
            .filter(|(_, track)| !track.samples.is_empty());
        tracks
            .map(|(series, track)| MinuteRow {
                series: series.clone(),
                minute,
                samples: std::mem::take(&mut track.samples),
            })
            .collect()
    }
}
