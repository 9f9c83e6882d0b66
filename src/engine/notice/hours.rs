//! Hours: whether a moment lies in them, and when they next begin.
//!
//! Wall-clock times of the site: where a time does not exist (clocks go forward) the later one counts, where it
//! comes twice the earlier one (RFC 5545, 3.3.5; the way of `jiff`'s compatible disambiguation).

use super::plan::{Hours, NoticesPlan};
use crate::quantity::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use std::time::Duration;

/// Hours have one beginning in a week at least.
const DAYS_AHEAD: i8 = 8;

impl Hours {
    pub fn contain(&self, moment: Timestamp, timezone: &TimeZone) -> bool {
        let today = timezone.to_datetime(moment).date();
        let begun = |date: Date| {
            self.days[usize::from(date.weekday().to_monday_zero_offset() as u8)]
                && self
                    .on(date, timezone)
                    .is_some_and(|(from, to)| (from..to).contains(&moment))
        };
        begun(today) || today.yesterday().is_ok_and(begun)
    }

    /// When they next begin after a moment.
    pub fn next_begin(&self, after: Timestamp, timezone: &TimeZone) -> Option<Timestamp> {
        let today = timezone.to_datetime(after).date();
        let mut begins = days_from(today).filter_map(|date| {
            let is_day = self.days[usize::from(date.weekday().to_monday_zero_offset() as u8)];
            is_day.then(|| self.on(date, timezone)).flatten()
        });
        begins.find(|(from, _)| *from > after).map(|(from, _)| from)
    }

    fn on(&self, date: Date, timezone: &TimeZone) -> Option<(Timestamp, Timestamp)> {
        let last = match self.to > self.from {
            true => date,
            false => date.tomorrow().ok()?,
        };
        Some((at(date, self.from, timezone)?, at(last, self.to, timezone)?))
    }
}

fn at(date: Date, time: Time, timezone: &TimeZone) -> Option<Timestamp> {
    timezone.to_timestamp(date.to_datetime(time)).ok()
}

fn days_from(date: Date) -> impl Iterator<Item = Date> {
    let next = |date: &Date| date.tomorrow().ok();
    std::iter::successors(Some(date), next).take(DAYS_AHEAD as usize)
}

/// How long until a time of the day comes again.
pub fn until_time(time: Time, now: Timestamp, timezone: &TimeZone) -> Option<Duration> {
    let today = timezone.to_datetime(now).date();
    let mut moments = days_from(today).filter_map(|date| at(date, time, timezone));
    let next = moments.find(|moment| *moment > now)?;
    Duration::try_from(next.duration_since(now)).ok()
}

impl NoticesPlan {
    /// How long until a route's hours begin; none: they are now.
    pub(super) fn closed_for(&self, route: usize, now: Timestamp) -> Option<Duration> {
        let hours = self.routes[route].hours?;
        if hours.contain(now, &self.timezone) {
            return None;
        }
        let begin = hours.next_begin(now, &self.timezone)?;
        Duration::try_from(begin.duration_since(now)).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hours(from: (i8, i8), to: (i8, i8), days: [bool; 7]) -> Hours {
        let time = |(hour, minute)| Time::constant(hour, minute, 0, 0);
        Hours {
            from: time(from),
            to: time(to),
            days,
        }
    }

    fn london() -> TimeZone {
        TimeZone::get("Europe/London").expect("the machine has the time zone database")
    }

    fn utc(text: &str) -> Timestamp {
        text.parse().expect("a time")
    }

    #[test]
    fn a_night_belongs_to_the_day_on_which_it_begins() {
        let mut days = [false; 7];
        days[4] = true;
        let friday_night = hours((22, 0), (6, 0), days);
        // 2026-03-06 is a Friday (ISO 8601 calendar).
        for (moment, inside) in [
            ("2026-03-06T05:00:00Z", false),
            ("2026-03-06T22:00:00Z", true),
            ("2026-03-07T05:59:59Z", true),
            ("2026-03-07T06:00:00Z", false),
            ("2026-03-07T22:30:00Z", false),
        ] {
            assert_eq!(
                friday_night.contain(utc(moment), &london()),
                inside,
                "{moment}"
            );
        }
        let next = friday_night.next_begin(utc("2026-03-07T22:30:00Z"), &london());
        assert_eq!(next, Some(utc("2026-03-13T22:00:00Z")));
    }

    /// Clocks in London go forward on 2026-03-29 at 01:00 UTC and back on 2026-10-25 at 01:00 UTC (last Sundays
    /// of March and October: Summer Time Order 2002).
    #[test]
    fn nights_are_an_hour_shorter_or_longer_when_clocks_change() {
        let night = hours((22, 0), (6, 0), [true; 7]);
        let inside = |moment: &str| night.contain(utc(moment), &london());
        assert!(inside("2026-03-29T04:59:00Z") && !inside("2026-03-29T05:00:00Z"));
        assert!(inside("2026-10-25T05:59:00Z") && !inside("2026-10-25T06:00:00Z"));
        let begin = night.next_begin(utc("2026-03-29T06:00:00Z"), &london());
        assert_eq!(begin, Some(utc("2026-03-29T21:00:00Z")));
        // 01:30 does not exist that night: it counts as 02:30 BST.
        let odd = hours((1, 30), (3, 0), [true; 7]);
        assert!(!odd.contain(utc("2026-03-29T01:29:00Z"), &london()));
        assert!(odd.contain(utc("2026-03-29T01:30:00Z"), &london()));
        let time = Time::constant(8, 0, 0, 0);
        let wait = until_time(time, utc("2026-03-28T09:00:00Z"), &london());
        assert_eq!(
            wait,
            Some(Duration::from_secs(22 * 3600)),
            "one hour is missing"
        );
    }

    #[test]
    fn the_same_time_twice_is_all_day() {
        let always = hours((7, 0), (7, 0), [true; 7]);
        assert!(always.contain(utc("2026-03-06T06:59:59Z"), &london()));
        assert!(always.contain(utc("2026-03-06T07:00:00Z"), &london()));
    }
}
