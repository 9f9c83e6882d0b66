//! Faults of one tag counted: a fault that mends itself and comes back is one of its own.

use super::finding::{Confidence, Fault, Finding};
use std::sync::Arc;
use std::time::Duration;

/// How many onsets are remembered.
const REMEMBERED: usize = 8;
/// Within this time they count together. Common practice, no source.
const WITHIN: Duration = Duration::from_secs(86_400);
const POSSIBLE: usize = 3;
const PROBABLE: usize = 6;

/// The last onsets of faults, newest last; 144 bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Recurrence {
    onsets: [Duration; REMEMBERED],
    /// Since the start of the run.
    count: u32,
}

impl Recurrence {
    pub fn begins(&mut self, up: Duration) {
        self.onsets.rotate_left(1);
        self.onsets[REMEMBERED - 1] = up;
        self.count = self.count.saturating_add(1);
    }

    /// How many began lately; no more than are remembered.
    pub fn lately(&self, up: Duration) -> usize {
        let known = (self.count as usize).min(REMEMBERED);
        let known = self.onsets[REMEMBERED - known..].iter();
        known
            .filter(|onset| up.saturating_sub(**onset) <= WITHIN)
            .count()
    }

    pub fn finding(&self, tag: &Arc<str>, up: Duration) -> Option<Finding> {
        let lately = self.lately(up);
        if lately < POSSIBLE {
            return None;
        }
        let confidence = if lately >= PROBABLE {
            Confidence::Probable
        } else {
            Confidence::Possible
        };
        let more = if lately == REMEMBERED { " or more" } else { "" };
        let evidence = format!(
            "{lately}{more} faults began and went within a day, {} since the start of the run",
            self.count
        );
        Some(Finding::of(Fault::Recurring, tag, confidence, evidence))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_that_come_back_are_counted_for_a_day() {
        let (mut faults, tag) = (Recurrence::default(), Arc::from("LT-101"));
        let hours = |hours: u64| Duration::from_secs(3600 * hours);
        for hour in [1, 2] {
            faults.begins(hours(hour));
            assert_eq!(faults.finding(&tag, hours(hour)), None);
        }
        faults.begins(hours(3));
        let found = faults.finding(&tag, hours(3)).expect("the third");
        assert_eq!(found.confidence, Confidence::Possible);
        assert!(found.evidence.starts_with("3 faults"), "{}", found.evidence);
        (4..20).for_each(|hour| faults.begins(hours(hour)));
        let found = faults.finding(&tag, hours(20)).expect("many");
        assert_eq!(found.confidence, Confidence::Probable);
        assert!(found.evidence.contains("8 or more"), "{}", found.evidence);
        assert_eq!(faults.finding(&tag, hours(50)), None, "a day later");
    }
}
