//! Times and spans in arguments.

use crate::quantity::{Dimension, Timestamp, lasting};
use crate::site::Site;
use anyhow::{Context, anyhow};
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;

/// The zone of shown times: the site's, else UTC.
pub fn zone(site: &Site) -> TimeZone {
    let zone = site.timezone.as_deref();
    zone.and_then(|name| TimeZone::get(name).ok())
        .unwrap_or(TimeZone::UTC)
}

/// A time as RFC 3339, or a date or local time in a zone.
pub fn moment(text: &str, zone: &TimeZone) -> anyhow::Result<Timestamp> {
    if let Ok(time) = text.parse::<Timestamp>() {
        return Ok(time);
    }
    let local = text
        .parse::<DateTime>()
        .or_else(|_| text.parse::<Date>().map(DateTime::from));
    let local = local.with_context(|| {
        format!("\"{text}\" is no time; write 2026-03-04T05:06:07Z, or 2026-03-04 in the site's time zone")
    })?;
    Ok(zone.to_timestamp(local)?)
}

/// A time, or how long before the end: "7 d".
pub fn moment_before(text: &str, end: Timestamp, zone: &TimeZone) -> anyhow::Result<Timestamp> {
    if let Ok(time) = moment(text, zone) {
        return Ok(time);
    }
    let time = super::quantity(text, Dimension::Time)
        .with_context(|| format!("\"{text}\" is neither a time nor how long before the end"))?;
    let before = lasting(time.si).map_err(|range| anyhow!("a span must be {range}"))?;
    Ok(end.checked_sub(before)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hour_ahead() -> TimeZone {
        TimeZone::fixed(jiff::tz::offset(1))
    }

    #[test]
    fn times_are_utc_or_the_sites() {
        let time = |text| {
            moment(text, &hour_ahead())
                .map(|time| time.to_string())
                .ok()
        };
        assert_eq!(
            time("2026-03-04T05:06:07Z").as_deref(),
            Some("2026-03-04T05:06:07Z")
        );
        assert_eq!(time("2026-03-04").as_deref(), Some("2026-03-03T23:00:00Z"));
        assert_eq!(
            time("2026-03-04T05:06").as_deref(),
            Some("2026-03-04T04:06:00Z")
        );
        assert_eq!(time("yesterday"), None);
    }

    #[test]
    fn a_span_counts_back_from_the_end() {
        let end = "2026-03-08T00:00:00Z".parse().expect("a time");
        let time = |text| moment_before(text, end, &hour_ahead()).map(|time| time.to_string());
        assert_eq!(time("7 d").expect("a time"), "2026-03-01T00:00:00Z");
        assert_eq!(time("2026-03-04").expect("a time"), "2026-03-03T23:00:00Z");
        assert!(time("seven").is_err());
    }
}
