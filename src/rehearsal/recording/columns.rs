//! Which column is which tag, and in which unit its numbers are.
//!
//! A column's header is a tag, or `TAG [unit]`; without a unit its numbers are in the transmitter's own. They are
//! what the transmitter says, before the site's `zero` is subtracted. A mapping names columns that are headed
//! otherwise, and goes before their header.

use super::RecordingError;
use crate::engine::plan::{Measures, Plan, Reads, TransmitterPlan};
use crate::engine::{ContactId, TransmitterId};
use crate::quantity::{Reference, Unit, parse_unit};
use serde::Deserialize;
use std::collections::BTreeMap;

/// What the columns of a recording are, where their headers do not say it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mapping {
    /// The column with the time as RFC 3339, or with the seconds.
    time: Option<String>,
    seconds: Option<String>,
    #[serde(default)]
    column: BTreeMap<String, Meaning>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Meaning {
    tag: String,
    unit: Option<String>,
}

impl Mapping {
    /// From the text of a file; its path is for messages.
    pub fn parse(text: &str, path: &str) -> Result<Self, RecordingError> {
        toml::from_str(text).map_err(|error| {
            RecordingError::Mapping(format!(
                "{path}: {error}\na mapping reads: [column] and then p_gauge_pa = {{ tag = \"PT-1\", unit = \"Pa\" }}"
            ))
        })
    }

    /// Adds one that is written on a line: `p_gauge_pa=PT-1:Pa`.
    pub fn add(&mut self, text: &str) -> Result<(), RecordingError> {
        let (column, meaning) = text.rsplit_once('=').ok_or_else(|| {
            RecordingError::Mapping(format!(
                "\"{text}\": a column, \"=\" and a tag are due, with \":\" and a unit where it is not the transmitter's own: p_gauge_pa=PT-1:Pa"
            ))
        })?;
        let (tag, unit) = match meaning.split_once(':') {
            Some((tag, unit)) => (tag, Some(unit.trim().to_owned())),
            None => (meaning, None),
        };
        let (column, tag) = (column.trim().to_owned(), tag.trim().to_owned());
        self.column.insert(column, Meaning { tag, unit });
        Ok(())
    }
}

/// What the columns are.
#[derive(Clone, Debug)]
pub struct Columns {
    pub time: Time,
    pub numbers: Vec<Number>,
    pub bits: Vec<Bit>,
    /// Headers that mean nothing here.
    pub ignored: Vec<String>,
    /// Transmitters and contacts of the site that no column stands for.
    pub missing: Vec<String>,
}

/// The column with the time.
#[derive(Clone, Copy, Debug)]
pub struct Time {
    pub place: usize,
    pub is_seconds: bool,
}

#[derive(Clone, Debug)]
pub struct Number {
    pub place: usize,
    pub transmitter: TransmitterId,
    /// None: the transmitter's own.
    pub unit: Option<&'static Unit>,
}

#[derive(Clone, Debug)]
pub struct Bit {
    pub place: usize,
    pub contact: ContactId,
}

impl Columns {
    /// `file` is for messages.
    pub fn of(
        headers: &[String],
        plan: &Plan,
        mapping: &Mapping,
        file: &str,
    ) -> Result<Self, RecordingError> {
        let refused = |what: String| RecordingError::Of {
            file: file.to_owned(),
            what,
        };
        let time = time(headers, mapping).map_err(refused)?;
        for column in mapping.column.keys() {
            if !headers.contains(column) {
                return Err(refused(format!(
                    "the mapping names a column \"{column}\"; the columns are: {}",
                    headers.join(", ")
                )));
            }
        }
        let mut columns = Self {
            time,
            numbers: Vec::new(),
            bits: Vec::new(),
            ignored: Vec::new(),
            missing: Vec::new(),
        };
        let mut taken: BTreeMap<&str, &str> = BTreeMap::new();
        for (place, header) in headers.iter().enumerate() {
            if place == time.place {
                continue;
            }
            let (tag, unit, is_mapped) = match mapping.column.get(header) {
                Some(meaning) => (meaning.tag.as_str(), meaning.unit.as_deref(), true),
                None => {
                    let (tag, unit) = tag_and_unit(header);
                    (tag, unit, false)
                }
            };
            let in_column = |what: String| refused(format!("column \"{header}\": {what}"));
            let is_known = columns.take(place, tag, unit, plan).map_err(in_column)?;
            if !is_known && is_mapped {
                return Err(in_column(format!(
                    "there is no transmitter or contact \"{tag}\"; this site has: {}",
                    tags(plan).collect::<Vec<_>>().join(", ")
                )));
            }
            if !is_known {
                columns.ignored.push(header.clone());
            } else if let Some(first) = taken.insert(tag, header) {
                return Err(in_column(format!(
                    "{tag} is column \"{first}\" already; map one of them to another tag, or take it out"
                )));
            }
        }
        if taken.is_empty() {
            return Err(refused(format!(
                "no column stands for a tag of this site ({}); map them: --column \"{}=TAG:unit\"",
                tags(plan).collect::<Vec<_>>().join(", "),
                columns.ignored.first().map_or("p_gauge_pa", String::as_str)
            )));
        }
        let untaken = tags(plan).filter(|tag| !taken.contains_key(tag));
        columns.missing = untaken.map(str::to_owned).collect();
        Ok(columns)
    }

    /// Whether the tag is one of the site's.
    fn take(
        &mut self,
        place: usize,
        tag: &str,
        unit: Option<&str>,
        plan: &Plan,
    ) -> Result<bool, String> {
        if let Some(index) = plan.transmitters.iter().position(|of| *of.tag == *tag) {
            let transmitter = &plan.transmitters[index];
            self.numbers.push(Number {
                place,
                transmitter: TransmitterId(index as u32),
                unit: unit.map(|unit| unit_of(transmitter, unit)).transpose()?,
            });
            return Ok(true);
        }
        let Some(index) = plan.contacts.iter().position(|of| *of.tag == *tag) else {
            return Ok(false);
        };
        if let Some(unit) = unit {
            return Err(format!(
                "{tag} is a contact, on or off: it has no unit \"{unit}\""
            ));
        }
        self.bits.push(Bit {
            place,
            contact: ContactId(index as u32),
        });
        Ok(true)
    }
}

fn tags(plan: &Plan) -> impl Iterator<Item = &str> {
    let transmitters = plan.transmitters.iter().map(|of| &*of.tag);
    transmitters.chain(plan.contacts.iter().map(|of| &*of.tag))
}

fn time(headers: &[String], mapping: &Mapping) -> Result<Time, String> {
    let place_of = |name: &str| headers.iter().position(|header| header == name);
    let (named, is_seconds) = match (&mapping.time, &mapping.seconds) {
        (Some(_), Some(_)) => return Err("the mapping names both `time` and `seconds`".to_owned()),
        (Some(time), None) => (Some(time), false),
        (None, seconds) => (seconds.as_ref(), true),
    };
    if let Some(name) = named {
        let place = place_of(name).ok_or_else(|| {
            format!(
                "the mapping takes the time from a column \"{name}\"; the columns are: {}",
                headers.join(", ")
            )
        })?;
        return Ok(Time { place, is_seconds });
    }
    let usual = [("time", false), ("timestamp", false), ("seconds", true)];
    let found = usual.into_iter().find_map(|(name, is_seconds)| {
        Some(Time {
            place: place_of(name)?,
            is_seconds,
        })
    });
    found.ok_or_else(|| {
        let cure = match headers {
            [only] if only.contains(';') || only.contains('\t') => {
                "separate the cells with commas".to_owned()
            }
            _ => format!(
                "the columns are: {}; name one `time` (RFC 3339, 2026-03-04T05:06:07Z) or `seconds`, or say in --columns which it is: time = \"logged_at\"",
                headers.join(", ")
            ),
        };
        format!("there is no column for the time: {cure}")
    })
}

/// `TAG [unit]`, or a tag alone.
fn tag_and_unit(header: &str) -> (&str, Option<&str>) {
    let split = header
        .strip_suffix(']')
        .and_then(|header| header.split_once('['));
    match split {
        Some((tag, unit)) => (tag.trim(), Some(unit.trim())),
        None => (header, None),
    }
}

fn unit_of(transmitter: &TransmitterPlan, text: &str) -> Result<&'static Unit, String> {
    let (unit, reference) = parse_unit(text, transmitter.unit.dimension)
        .map_err(|error| format!("{error}; {}", error.cure()))?;
    let fits = match (transmitter.reads, reference) {
        (_, None) => true,
        (Reads::Pressure(Measures::Absolute), Some(reference)) => reference == Reference::Absolute,
        (Reads::Pressure(Measures::Gauge | Measures::SealedGauge(_)), Some(reference)) => {
            reference == Reference::Gauge
        }
        _ => false,
    };
    if !fits {
        return Err(format!(
            "{} does not measure {text}: its numbers count as its own in the site file; leave the (g) or (a) out, or check the tag",
            transmitter.tag
        ));
    }
    Ok(unit)
}
