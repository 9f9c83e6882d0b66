//! What a strip keeps of a tank: the whole script in a fixed number of columns, however long it lasts.

use super::super::trace::Moment;
use crate::engine::Quality;
use std::time::Duration;

/// One a unit of the picture's width.
pub const COLUMNS: usize = 920;

/// A tank over a script.
#[derive(Clone, Debug)]
pub struct Columns {
    /// How long one lasts.
    each: Duration,
    columns: Vec<Column>,
}

/// What was seen in one column's time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Column {
    pub truth: Option<Extent>,
    pub shown: Option<Extent>,
    /// The last bounds of a level that was known from one side only.
    pub at_least: Option<f64>,
    pub at_most: Option<f64>,
    /// There was a reading without a level.
    pub blank: bool,
    /// None where nothing was read.
    pub worst: Option<Quality>,
}

/// The lowest and the highest of some levels, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    pub low: f64,
    pub high: f64,
}

impl Extent {
    pub fn with(this: Option<Self>, level: f64) -> Self {
        let this = this.unwrap_or(Self {
            low: level,
            high: level,
        });
        Self {
            low: this.low.min(level),
            high: this.high.max(level),
        }
    }
}

impl Columns {
    pub fn new(last: Duration) -> Self {
        Self {
            each: last / COLUMNS as u32,
            columns: vec![Column::default(); COLUMNS],
        }
    }

    pub fn take(&mut self, moment: &Moment) {
        let place = moment.at.div_duration_f64(self.each) as usize;
        let column = &mut self.columns[place.min(COLUMNS - 1)];
        column.truth = Some(Extent::with(column.truth, moment.true_m));
        match moment.level_m {
            Some(level) => column.shown = Some(Extent::with(column.shown, level)),
            None => column.blank = true,
        }
        (column.at_least, column.at_most) = (moment.at_least_m, moment.at_most_m);
        column.worst = column.worst.max(Some(moment.quality));
    }

    /// In order, with the middle of each one's time; those in which nothing was read are left out.
    pub fn read(&self) -> impl Iterator<Item = (Duration, &Column)> {
        let all = (0u32..).zip(&self.columns);
        let read = all.filter(|(_, column)| column.worst.is_some());
        read.map(|(place, column)| (self.each * place + self.each / 2, column))
    }

    /// All levels, true and shown.
    pub fn extent(&self) -> Option<Extent> {
        let extents = self.columns.iter().flat_map(|one| [one.truth, one.shown]);
        extents.flatten().fold(None, |all, one| {
            Some(Extent::with(Some(Extent::with(all, one.low)), one.high))
        })
    }

    /// How far the true level moved, m.
    pub fn moved(&self) -> f64 {
        let truths = self.columns.iter().filter_map(|one| one.truth);
        let all = truths.fold(None, |all, one| {
            Some(Extent::with(Some(Extent::with(all, one.low)), one.high))
        });
        all.map_or(0.0, |all| all.high - all.low)
    }

    /// Spans of one quality, the worst of each column; the last one goes to the end.
    pub fn qualities(&self) -> Vec<(Duration, Duration, Quality)> {
        let end = self.each * COLUMNS as u32;
        let mut spans: Vec<(Duration, Duration, Quality)> = Vec::new();
        let half = self.each / 2;
        for (middle, column) in self.read() {
            let Some(quality) = column.worst else {
                continue;
            };
            match spans.last_mut() {
                Some(last) if last.2 == quality => {}
                other => {
                    if let Some(last) = other {
                        last.1 = middle - half;
                    }
                    spans.push((middle - half, end, quality));
                }
            }
        }
        spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Reasons;

    fn moment(at_s: u64, level_m: Option<f64>, quality: Quality) -> Moment {
        Moment {
            at: Duration::from_secs(at_s),
            true_m: at_s as f64 / 1000.0,
            interface_m: None,
            level_m,
            at_least_m: None,
            at_most_m: None,
            quality,
            reasons: Reasons::NONE,
        }
    }

    #[test]
    fn a_day_keeps_no_more_than_a_minute_and_loses_no_gap() {
        let mut columns = Columns::new(Duration::from_secs(86_400));
        for at_s in 0..=86_400 {
            let bad = at_s == 40_000;
            let (level, quality) = match bad {
                true => (None, Quality::Bad),
                false => (Some(1.0), Quality::Good),
            };
            columns.take(&moment(at_s, level, quality));
        }
        let blanks = columns.read().filter(|(_, column)| column.blank).count();
        assert_eq!((columns.read().count(), blanks), (COLUMNS, 1));
        let extent = columns.extent().expect("levels");
        assert!((extent.high - 86.4).abs() < 1e-9 && extent.low.abs() < 1e-9);
        assert!((columns.moved() - 86.4).abs() < 1e-9);
        let qualities = columns.qualities();
        let names: Vec<&str> = qualities.iter().map(|(_, _, one)| one.name()).collect();
        assert_eq!(names, ["good", "bad", "good"]);
        assert!(qualities[1].0 <= Duration::from_secs(40_000));
        assert!(qualities[1].1 > Duration::from_secs(40_000));
    }

    /// Polled once in many columns, nothing is missing between two readings.
    #[test]
    fn columns_without_a_reading_are_no_gaps() {
        let mut columns = Columns::new(Duration::from_secs(10));
        (0..=10).for_each(|at_s| columns.take(&moment(at_s, Some(1.0), Quality::Good)));
        assert_eq!(columns.read().count(), 11);
        assert_eq!(columns.qualities().len(), 1);
    }
}
