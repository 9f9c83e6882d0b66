//! A flood: so many annunciations in so short a time that single notices would hide what matters.

use super::plan::FloodPlan;
use std::collections::VecDeque;
use std::time::Duration;

/// Remembers no more annunciations than begin a flood.
#[derive(Clone, Debug, Default)]
pub(super) struct Flood {
    latest: VecDeque<Duration>,
    is_on: bool,
}

impl Flood {
    pub fn is_on(&self) -> bool {
        self.is_on
    }

    /// An annunciation; answers whether a flood begins with it.
    pub fn note(&mut self, plan: &FloodPlan, up: Duration) -> bool {
        if self.latest.len() == plan.begins_at {
            self.latest.pop_front();
        }
        self.latest.push_back(up);
        let begins = !self.is_on
            && self.latest.len() == plan.begins_at
            && self
                .latest
                .front()
                .is_some_and(|first| up.saturating_sub(*first) <= plan.within);
        self.is_on |= begins;
        begins
    }

    /// When it ends if nothing more annunciates: then fewer than the end asks for lie within the time.
    pub fn end(&self, plan: &FloodPlan) -> Option<Duration> {
        let decisive = self.latest.len().checked_sub(plan.ends_below)?;
        let last = self.latest.get(decisive).filter(|_| self.is_on)?;
        Some(*last + plan.within)
    }

    /// Answers whether it ends by now.
    pub fn ends(&mut self, plan: &FloodPlan, up: Duration) -> bool {
        let ends = self.is_on && self.end(plan).is_none_or(|end| end <= up);
        self.is_on &= !ends;
        ends
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_begins_with_ten_in_ten_minutes_and_ends_with_fewer_than_five() {
        let (plan, mut flood) = (FloodPlan::default(), Flood::default());
        let s = Duration::from_secs;
        for number in 0..9 {
            assert!(!flood.note(&plan, s(60 * number)));
        }
        assert!(flood.note(&plan, s(600)), "ten within ten minutes");
        assert!(!flood.note(&plan, s(601)), "it has begun already");
        // The latest five: 360, 420, 480, 600, 601.
        assert_eq!(flood.end(&plan), Some(s(960)));
        assert!(!flood.ends(&plan, s(959)));
        assert!(flood.ends(&plan, s(960)) && !flood.is_on());
        let mut slow = Flood::default();
        assert!((0..100).all(|number| !slow.note(&plan, s(67 * number))));
    }
}
