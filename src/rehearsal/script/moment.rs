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

/// The two moments that a key lists, the earlier first; none where it is left out or, reported, wrong.
pub(super) fn moments(table: &Table<'_>, key: &'static str) -> Option<(Duration, Duration)> {
    if !table.has(key) {
        return None;
    }
    let listed = table.texts(key);
    let parsed: Vec<Duration> = listed.iter().filter_map(|(text, _)| parse(text)).collect();
    match parsed[..] {
        [first, last] if listed.len() == 2 && first < last => Some((first, last)),
        _ => {
            let message = format!("`{key}` must be two moments from the start, the earlier first");
            let problem = table.problem_at(key, message);
            table.report(problem.cure(format!("for example {}", table.example(key))));
            None
        }
    }
}

/// A moment as scripts have it: "00:05:00", with tenths where it has any.
pub fn shown(moment: Duration) -> String {
    let tenths = (moment.as_millis() + 50) / 100;
    let (seconds, tenth) = (tenths / 10, tenths % 10);
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    match tenth {
        0 => format!("{hours:02}:{minutes:02}:{seconds:02}"),
        _ => format!("{hours:02}:{minutes:02}:{seconds:02}.{tenth}"),
    }
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
    fn moments_are_shown_as_they_are_written() {
        for text in ["00:05:00", "26:59:07", "00:00:01.5"] {
            assert_eq!(parse(text).map(shown).as_deref(), Some(text));
        }
    }

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
