//! A recording as CSV: a column `time` (RFC 3339) or `seconds`, then one a tag, in the transmitter's unit.

use super::heard::Heard;
use crate::engine::TransmitterId;
use crate::engine::plan::Plan;
use crate::quantity::Timestamp;
use std::io::Read;

/// Listens to a recording from its beginning to its end; `file` is for messages, as is the error. Columns that no
/// tag is named by are left out, and so are empty cells and what is no number (`nan`).
pub fn hear(plan: &Plan, source: impl Read, file: &str) -> Result<Heard, String> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(source);
    let wrong = |error: csv::Error| format!("{file}: {error}");
    let headers = reader.headers().map_err(wrong)?.clone();
    let place_of = |name: &str| headers.iter().position(|header| header == name);
    let time = place_of("time").map(|place| (place, false));
    let Some((time, is_seconds)) = time.or(place_of("seconds").map(|place| (place, true))) else {
        return Err(format!(
            "{file}: no column is headed `time` (RFC 3339) or `seconds`"
        ));
    };
    let tags: Vec<(usize, TransmitterId)> = headers
        .iter()
        .enumerate()
        .filter_map(|(place, header)| {
            let mut transmitters = plan.transmitters.iter();
            let id = transmitters.position(|transmitter| *transmitter.tag == *header)?;
            Some((place, TransmitterId(id as u32)))
        })
        .collect();
    if tags.is_empty() {
        let known = plan
            .transmitters
            .iter()
            .map(|transmitter| &*transmitter.tag);
        return Err(format!(
            "{file}: no column is headed with a tag of this site; its tags are: {}",
            known.collect::<Vec<_>>().join(", ")
        ));
    }
    let mut heard = Heard::new(plan, file);
    for record in reader.records() {
        let record = record.map_err(wrong)?;
        let at = |place: usize, due: &str| {
            let line = record.position().map_or(0, csv::Position::line);
            let (header, cell) = (&headers[place], &record[place]);
            format!("{file} line {line}, column \"{header}\": \"{cell}\" is no {due}")
        };
        let time_s = seconds(&record[time], is_seconds).ok_or_else(|| {
            at(
                time,
                match is_seconds {
                    true => "number of seconds",
                    false => "time; write 2026-03-04T05:06:07Z",
                },
            )
        })?;
        for (place, id) in &tags {
            let cell = &record[*place];
            if cell.is_empty() {
                continue;
            }
            let number: f64 = cell.parse().map_err(|_| {
                at(
                    *place,
                    "number; leave the cell empty where there was no answer",
                )
            })?;
            let unit = plan.transmitters[id.index()].unit;
            heard.take(*id, time_s, unit.to_si(number));
        }
    }
    Ok(heard)
}

fn seconds(cell: &str, is_seconds: bool) -> Option<f64> {
    if is_seconds {
        return cell
            .parse()
            .ok()
            .filter(|seconds: &f64| seconds.is_finite());
    }
    let time: Timestamp = cell.parse().ok()?;
    Some(time.as_nanosecond() as f64 * 1e-9)
}
