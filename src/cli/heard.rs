//! What `check` listens to for the noise of the signals: a recording, or the newest samples of the journal.

use crate::engine::plan::Plan;
use crate::engine::quality::Quality;
use crate::engine::{TransmitterId, signal};
use crate::journal::{JournalError, Reader};
use crate::quantity::Timestamp;
use crate::rehearsal::recording::{Mapping, Rows};
use crate::site::Site;
use crate::site::counsel::Heard;
use anyhow::Context;
use std::fs::File;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// So much of a journal is listened to, its newest.
const LISTENED: Duration = Duration::from_secs(24 * 3600);
/// Samples are read so much at a time.
const AT_ONCE: Duration = Duration::from_secs(3600);

/// Columns that no tag is named by are left out, and so are cells without an answer.
pub fn recording(plan: &Plan, file: &Path) -> anyhow::Result<Heard> {
    let name = file.display().to_string();
    let source = File::open(file).with_context(|| format!("{name} can't be read"))?;
    let mut heard = Heard::new(plan, &*name);
    let (plan, begins) = (Arc::new(plan.clone()), Timestamp::UNIX_EPOCH);
    let mut rows = Rows::open(
        source,
        &name,
        Arc::clone(&plan),
        &Mapping::default(),
        begins,
    )?;
    while let Some(row) = rows.next_row()? {
        for sample in row.samples {
            if let Ok(raw) = sample.raw {
                let transmitter = &plan.transmitters[sample.transmitter.index()];
                let time_s = since(begins, row.time);
                heard.take(sample.transmitter, time_s, signal::in_si(transmitter, raw));
            }
        }
    }
    Ok(heard)
}

/// None where there is no journal yet, it has no samples, or it can't be read: the file can be checked without.
pub fn journal(site: &Site) -> Option<Heard> {
    let reader = Reader::open(&site.journal.file).ok()?;
    let heard = listen(&site.plan, &reader).ok()??;
    (!heard.is_empty()).then_some(heard)
}

fn listen(plan: &Plan, reader: &Reader) -> Result<Option<Heard>, JournalError> {
    let Some((first, end)) = reader.sampled()? else {
        return Ok(None);
    };
    let from = end
        .checked_sub(LISTENED)
        .map_or(first, |from| from.max(first));
    let mut heard = Heard::new(plan, format!("the journal from {from:.0} to {end:.0}"));
    for (series, kind, name, quantity) in reader.series()? {
        let mut transmitters = plan.transmitters.iter();
        let place = transmitters.position(|transmitter| *transmitter.tag == *name);
        let Some(place) = place.filter(|_| kind == "transmitter" && quantity == "value_si") else {
            continue;
        };
        let id = TransmitterId(place as u32);
        let mut begin = from;
        while begin < end {
            let next = begin.checked_add(AT_ONCE).map_or(end, |next| next.min(end));
            for (time, sample) in reader.samples(series, begin, next)? {
                if let (Some(value), Quality::Good) = (sample.value, sample.quality) {
                    heard.take(id, since(from, time), f64::from(value));
                }
            }
            begin = next;
        }
    }
    Ok(Some(heard))
}

fn since(from: Timestamp, time: Timestamp) -> f64 {
    time.duration_since(from).as_secs_f64()
}
