//! Floods: from the moment that the last ten minutes hold ten annunciations to the moment that they hold
//! fewer than five (ISA-18.2, from memory).

use std::collections::VecDeque;

const WINDOW_S: f64 = 600.0;
const BEGINS: usize = 10;
const ENDS: usize = 5;

#[derive(Clone, Debug, Default)]
pub struct Floods {
    pub count: u64,
    pub total_s: f64,
    pub longest_s: f64,
    /// Of the last ten minutes.
    recent: VecDeque<f64>,
    since_s: Option<f64>,
}

impl Floods {
    /// Takes an annunciation; times never go back by more than a clock step, and then count as now.
    pub fn take(&mut self, at_s: f64) {
        let at_s = self.recent.back().map_or(at_s, |last| at_s.max(*last));
        self.forget(at_s);
        self.recent.push_back(at_s);
        if self.recent.len() >= BEGINS && self.since_s.is_none() {
            self.since_s = Some(at_s);
            self.count += 1;
        }
    }

    /// The span is over.
    pub fn end(&mut self, at_s: f64) {
        self.forget(at_s);
        self.close(at_s);
    }

    /// Lets go of what is older than ten minutes; a flood ends when that leaves too few.
    fn forget(&mut self, now_s: f64) {
        while let Some(oldest_s) = self.recent.front().copied() {
            if now_s - oldest_s < WINDOW_S {
                break;
            }
            self.recent.pop_front();
            if self.recent.len() < ENDS {
                self.close(oldest_s + WINDOW_S);
            }
        }
    }

    fn close(&mut self, at_s: f64) {
        if let Some(since_s) = self.since_s.take() {
            let lasted_s = (at_s - since_s).max(0.0);
            self.total_s += lasted_s;
            self.longest_s = self.longest_s.max(lasted_s);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_flood_goes_from_ten_in_ten_minutes_to_fewer_than_five() {
        let mut floods = Floods::default();
        // One every 30 s from 0 to 570 s: the tenth comes at 270 s.
        (0..20).for_each(|place| floods.take(f64::from(place) * 30.0));
        floods.end(7200.0);
        // Four are left when the one of 450 s leaves: at 1,050 s.
        assert_eq!(floods.count, 1);
        assert_relative_eq!(floods.longest_s, 1050.0 - 270.0);
    }

    #[test]
    fn nine_in_ten_minutes_are_none() {
        let mut floods = Floods::default();
        (0..100).for_each(|place| floods.take(f64::from(place) * 66.7));
        floods.end(7200.0);
        assert_eq!((floods.count, floods.total_s > 0.0), (0, false));
    }
}
