//! The largest value of the last one to two days, in the memory of two numbers.

use std::time::Duration;

/// How long a value counts at least; twice that at most.
pub const AGE: Duration = Duration::from_secs(86_400);

#[derive(Clone, Copy, Debug, Default)]
pub struct Largest {
    now: Option<f64>,
    before: Option<f64>,
    begun: Duration,
}

impl Largest {
    pub fn take(&mut self, up: Duration, value: f64) {
        let age = up.saturating_sub(self.begun);
        if age >= AGE {
            self.before = self.now.take().filter(|_| age < 2 * AGE);
            self.begun = up;
        }
        self.now = Some(self.now.map_or(value, |largest| largest.max(value)));
    }

    pub fn value(&self) -> Option<f64> {
        self.now.into_iter().chain(self.before).reduce(f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_counts_for_a_day_at_least_and_two_at_most() {
        let hours = |hours: u64| Duration::from_secs(3600 * hours);
        let mut largest = Largest::default();
        assert_eq!(largest.value(), None);
        largest.take(hours(20), 7.0);
        largest.take(hours(25), 3.0);
        largest.take(hours(43), 2.0);
        assert_eq!(largest.value(), Some(7.0));
        largest.take(hours(49), 1.0);
        assert_eq!(largest.value(), Some(3.0));
        largest.take(hours(120), 0.5);
        assert_eq!(largest.value(), Some(0.5));
    }
}
