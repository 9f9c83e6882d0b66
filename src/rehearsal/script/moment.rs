//! Moments of a script: hours, minutes and seconds from its start.

use crate::site::file::Table;
use std::time::Duration;

/// The moment that a key says; none where it is left out or, reported, wrong.
pub(super) fn moment(table: &Table<'_>, key: &'static str) -> Option<Duration> {
    let text = table.text(key)?;
    let parsed = parse(text);
    if parsed.is_none() {
        let problem = table.problem_at(
            key,
            format!("`{key}` must be a moment from the start, not \"{text}\""),
        );
        table.report(problem.cure("hours, minutes, seconds: for example \"00:05:00\""));
    }
    parsed
}

fn parse(text: &str) -> Option<Duration> {
    let mut parts = text.split(':');
    let mut whole = |digits: usize| {
        let part = parts.next()?;
        let is_whole = part.len() >= digits
            && part.len() <= 4
            && part.bytes().all(|byte| byte.is_ascii_digit());
        is_whole.then(|| part.parse::<u64>().ok()).flatten()
    };
    let (hours, minutes) = (whole(1)?, whole(2)?);
    let seconds = parts.next()?;
    if !seconds
        .bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'.')
    {
        return None;
    }
    let seconds: f64 = seconds.parse().ok()?;
    let is_clock = parts.next().is_none() && minutes < 60 && seconds < 60.0;
    is_clock.then(|| {
        Duration::from_secs(hours * 3600 + minutes * 60) + Duration::from_secs_f64(seconds)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_hours_minutes_seconds() {
        let seconds = |text| parse(text).map(|moment| moment.as_secs_f64());
        assert_eq!(seconds("00:05:00"), Some(300.0));
        assert_eq!(seconds("26:00:01.5"), Some(93_601.5));
        for wrong in [
            "",
            "5",
            "05:00",
            "00:60:00",
            "00:00:60",
            "00:00:1e1",
            "-1:00:00",
            "00:00:00:00",
            "::",
        ] {
            assert_eq!(seconds(wrong), None, "{wrong}");
        }
    }
}
