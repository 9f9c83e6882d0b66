//! How samples are packed: about 3 bytes each.
//!
//! All integers are LEB128 (seven bits a byte, the lowest first, the high bit set on all but the last);
//! a signed one goes zigzag (0, −1, 1, −2, … become 0, 1, 2, 3, …).
//! A value is kept in single precision (relative 6e-8). Its bits, taken as a sign-and-magnitude integer,
//! rise with the value, so that neighbouring samples of a noisy signal differ by small numbers: at 0.1 %
//! of noise a difference takes 2 bytes.
//!
//! **A minute** (`minute`): byte 1 for the form, then for each sample
//!
//! 1. `zigzag(step − step before) · 2 + c`, the step being the time in ms since the sample before (the
//!    first: since the minute began, and the step before it is 0). Regular polling makes it one byte.
//! 2. if c = 1, a byte with what now holds: bits 0–1 quality (0 good, 1 uncertain, 2 bad), bit 2 whether
//!    there is a value. The first sample always has it.
//! 3. if there is a value, `zigzag` of its integer minus that of the last value in the row (at first 0).
//!
//! **An hour** (`hour`): byte 1 for the form, then for each minute that has values: minutes since the last
//! one (from −1), number of values, `zigzag` of the mean's integer minus the mean's before, mean − minimum,
//! maximum − mean.

use crate::engine::Quality;

const FORM: u8 = 1;

/// One sample; its time counts from the beginning of its minute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    pub time_ms: i64,
    pub quality: Quality,
    pub value: Option<f32>,
}

/// What is left of a minute after years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Within its hour, 0 to 59.
    pub minute: u8,
    pub count: u32,
    pub least: f32,
    pub mean: f32,
    pub most: f32,
}

pub fn minute(samples: &[Sample]) -> Vec<u8> {
    let mut bytes = vec![FORM];
    let (mut time, mut step_before, mut held, mut last) = (0, 0, None, 0);
    for sample in samples {
        let step = sample.time_ms - time;
        let holds = state(sample);
        let changed = held != Some(holds);
        put(
            &mut bytes,
            zigzag(step - step_before) << 1 | u64::from(changed),
        );
        if changed {
            bytes.push(holds);
        }
        if let Some(value) = sample.value {
            let rank = rank(value);
            put(&mut bytes, zigzag(rank - last));
            last = rank;
        }
        (time, step_before, held) = (sample.time_ms, step, Some(holds));
    }
    bytes
}

/// None where the bytes are no minute.
pub fn read_minute(bytes: &[u8]) -> Option<Vec<Sample>> {
    let mut bytes = bytes.strip_prefix(&[FORM])?;
    let mut samples = Vec::new();
    let (mut time_ms, mut step, mut held, mut last) = (0_i64, 0_i64, None, 0_i64);
    while !bytes.is_empty() {
        let head = take(&mut bytes)?;
        step = step.checked_add(unzigzag(head >> 1))?;
        time_ms = time_ms.checked_add(step)?;
        if head & 1 == 1 {
            let (first, rest) = bytes.split_first()?;
            (held, bytes) = (Some(*first), rest);
        }
        let holds = held?;
        let value = if holds & 4 == 4 {
            last = last.checked_add(unzigzag(take(&mut bytes)?))?;
            Some(value(last)?)
        } else {
            None
        };
        samples.push(Sample {
            time_ms,
            quality: quality(holds)?,
            value,
        });
    }
    Some(samples)
}

pub fn hour(minutes: &[Summary]) -> Vec<u8> {
    let mut bytes = vec![FORM];
    let (mut before, mut last) = (-1, 0);
    for summary in minutes {
        let mean = rank(summary.mean);
        put(
            &mut bytes,
            (i64::from(summary.minute) - before).unsigned_abs(),
        );
        put(&mut bytes, u64::from(summary.count));
        put(&mut bytes, zigzag(mean - last));
        put(&mut bytes, (mean - rank(summary.least)).unsigned_abs());
        put(&mut bytes, (rank(summary.most) - mean).unsigned_abs());
        (before, last) = (i64::from(summary.minute), mean);
    }
    bytes
}

/// None where the bytes are no hour.
pub fn read_hour(bytes: &[u8]) -> Option<Vec<Summary>> {
    let mut bytes = bytes.strip_prefix(&[FORM])?;
    let mut minutes = Vec::new();
    let (mut minute, mut mean) = (-1_i64, 0_i64);
    while !bytes.is_empty() {
        minute = minute.checked_add_unsigned(take(&mut bytes)?)?;
        let count = u32::try_from(take(&mut bytes)?).ok()?;
        mean = mean.checked_add(unzigzag(take(&mut bytes)?))?;
        let least = mean.checked_sub_unsigned(take(&mut bytes)?)?;
        let most = mean.checked_add_unsigned(take(&mut bytes)?)?;
        minutes.push(Summary {
            minute: u8::try_from(minute).ok().filter(|minute| *minute < 60)?,
            count,
            least: value(least)?,
            mean: value(mean)?,
            most: value(most)?,
        });
    }
    Some(minutes)
}

/// Minimum, mean and maximum of what a minute has of values; none without any.
pub fn summary(minute_of_hour: u8, samples: &[Sample]) -> Option<Summary> {
    let values = || samples.iter().filter_map(|sample| sample.value);
    let count = values().count();
    let (least, most) = (values().reduce(f32::min)?, values().reduce(f32::max)?);
    let mean = values().map(f64::from).sum::<f64>() / count as f64;
    Some(Summary {
        minute: minute_of_hour,
        count: u32::try_from(count).unwrap_or(u32::MAX),
        least,
        // Rounding must not put the mean outside.
        mean: (mean as f32).clamp(least, most),
        most,
    })
}

fn state(sample: &Sample) -> u8 {
    let quality = match sample.quality {
        Quality::Good => 0,
        Quality::Uncertain => 1,
        Quality::Bad => 2,
    };
    quality | u8::from(sample.value.is_some()) << 2
}

fn quality(state: u8) -> Option<Quality> {
    match state {
        0 | 4 => Some(Quality::Good),
        1 | 5 => Some(Quality::Uncertain),
        2 | 6 => Some(Quality::Bad),
        _ => None,
    }
}

/// A number that rises with the value: IEEE 754 single precision as sign and magnitude.
fn rank(value: f32) -> i64 {
    let magnitude = i64::from(value.to_bits() & 0x7fff_ffff);
    if value.is_sign_negative() {
        -magnitude
    } else {
        magnitude
    }
}

fn value(rank: i64) -> Option<f32> {
    let magnitude = u32::try_from(rank.unsigned_abs())
        .ok()
        .filter(|bits| *bits < 0x8000_0000)?;
    let value = f32::from_bits(magnitude);
    Some(if rank < 0 { -value } else { value })
}

fn zigzag(number: i64) -> u64 {
    ((number << 1) ^ (number >> 63)).cast_unsigned()
}

fn unzigzag(number: u64) -> i64 {
    (number >> 1).cast_signed() ^ -(number & 1).cast_signed()
}

fn put(bytes: &mut Vec<u8>, mut number: u64) {
    while number >= 0x80 {
        bytes.push(number as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

fn take(bytes: &mut &[u8]) -> Option<u64> {
    let mut number = 0;
    for shift in (0..64).step_by(7) {
        let (first, rest) = bytes.split_first()?;
        *bytes = rest;
        number |= u64::from(first & 0x7f) << shift;
        if first & 0x80 == 0 {
            return Some(number);
        }
    }
    None
}

#[cfg(test)]
#[path = "coding_tests.rs"]
mod tests;
