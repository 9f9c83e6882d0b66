//! Time along, level up: where they stand in the picture, and where a round number is written to them.

use std::time::Duration;

/// The part of the picture that time goes along.
pub const LEFT: f64 = 150.0;
pub const RIGHT: f64 = LEFT + super::columns::COLUMNS as f64;

/// Time from the start, to the right.
#[derive(Clone, Copy, Debug)]
pub struct Along {
    pub last: Duration,
}

impl Along {
    pub fn x(self, at: Duration) -> f64 {
        let share = at.div_duration_f64(self.last);
        LEFT + (RIGHT - LEFT) * share.clamp(0.0, 1.0)
    }

    /// Round moments, ten or so.
    pub fn ticks(self) -> Vec<Duration> {
        const MOST: u64 = 12;
        const STEPS_S: [u64; 18] = [
            1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200,
            86_400,
        ];
        let last_s = self.last.as_secs();
        let step = STEPS_S.into_iter().find(|step| last_s / step <= MOST);
        // Longer than twelve days: whole days, twelve of them at most.
        let step = step.unwrap_or_else(|| last_s.div_ceil(MOST * 86_400) * 86_400);
        (0..=last_s / step)
            .map(|place| Duration::from_secs(place * step))
            .collect()
    }
}

/// Numbers of the shown unit, upward.
#[derive(Clone, Copy, Debug)]
pub struct Upward {
    pub low: f64,
    pub high: f64,
    pub top: f64,
    pub height: f64,
}

impl Upward {
    pub fn y(self, number: f64) -> f64 {
        let share = (number - self.low) / (self.high - self.low);
        self.top + self.height * (1.0 - share.clamp(0.0, 1.0))
    }

    pub fn holds(self, number: f64) -> bool {
        (self.low..=self.high).contains(&number)
    }

    /// Round numbers within, with the decimals that they need.
    pub fn ticks(self) -> (Vec<f64>, usize) {
        let rough = (self.high - self.low) / 5.0;
        let decade = 10.0_f64.powf(rough.log10().floor());
        let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * decade);
        let step = steps.into_iter().find(|step| *step >= rough);
        let step = step.unwrap_or(10.0 * decade);
        let decimals = (-step.log10().floor()).max(0.0) as usize;
        let (first, last) = ((self.low / step).ceil(), (self.high / step).floor());
        let count = (last - first).max(0.0) as usize;
        let ticks = (0..=count).map(|place| (first + place as f64) * step);
        (ticks.collect(), decimals)
    }
}

/// Heights of labels moved apart so that none covers another; in their order from the top.
pub fn apart(heights: &mut [f64], least: f64) {
    for place in 1..heights.len() {
        heights[place] = heights[place].max(heights[place - 1] + least);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_few() {
        let count = |last_s| {
            let last = Duration::from_secs(last_s);
            Along { last }.ticks().len()
        };
        for last_s in [1, 7, 59, 1200, 7200, 86_400, 40 * 86_400] {
            assert!((2..=13).contains(&count(last_s)), "{last_s}");
        }
        let upward = |low, high| Upward {
            low,
            high,
            top: 0.0,
            height: 100.0,
        };
        let (ticks, decimals) = upward(4.51, 4.83).ticks();
        assert_eq!(decimals, 1);
        assert_eq!(ticks.len(), 3);
        assert!((ticks[0] - 4.6).abs() < 1e-9 && (ticks[2] - 4.8).abs() < 1e-9);
        assert_eq!(upward(-1200.0, 3000.0).ticks().1, 0);
        assert!(upward(1.0, 1.0005).ticks().0.len() >= 3);
    }

    #[test]
    fn time_and_level_stay_in_the_picture() {
        let along = Along {
            last: Duration::from_secs(100),
        };
        assert!((along.x(Duration::from_secs(50)) - (LEFT + RIGHT) / 2.0).abs() < 1e-9);
        assert!((along.x(Duration::MAX) - RIGHT).abs() < 1e-9);
        let upward = Upward {
            low: 1.0,
            high: 3.0,
            top: 10.0,
            height: 100.0,
        };
        let heights = [upward.y(3.0), upward.y(2.0), upward.y(9.0)];
        assert!((heights[0] - 10.0).abs() < 1e-9 && (heights[1] - 60.0).abs() < 1e-9);
        assert!((heights[2] - 10.0).abs() < 1e-9 && upward.holds(2.0) && !upward.holds(9.0));
    }
}
