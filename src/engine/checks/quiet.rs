//! How often a healthy signal repeats its number: heard in blocks of samples, from its noise and its step.

use super::normal::within;

/// Samples in a block. Common practice, no source.
const SAMPLES: u32 = 900;
/// Steps up and down from the block's first number that are counted one by one.
const REACH: i32 = 8;
const LEVELS: usize = 2 * REACH as usize + 1;
/// A signal that drifts by more steps than this over a block moves: its steps would look like noise.
const DRIFT: f64 = 1.5;
/// Of noise larger than so many steps a movement is no part.
const FINE: f64 = 2.0;

/// What a block says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heard {
    /// The largest chance that a number repeats itself.
    Repeats(f64),
    /// It flickers between two neighbours: the noise can be anything up to half a step.
    TwoLevels,
    /// One number throughout.
    Still,
    /// It moved, and its noise can't be told from its steps.
    Moving,
}

#[derive(Clone, Copy, Debug, Default)]
pub struct QuietBlock {
    first: f64,
    last: [f64; 2],
    count: u32,
    squares: f64,
    /// Of the first and of the last third.
    thirds: [f64; 2],
    levels: [u16; LEVELS],
}

impl QuietBlock {
    /// Takes a number that is read in this step; what the block says once it is full.
    pub fn take(&mut self, number: f64, step: f64) -> Option<Heard> {
        if self.count == 0 {
            self.first = number;
        }
        if self.count >= 2 {
            // r = (x₋₂ − 2x₋₁ + x)/√6
            let r = self.last[0] - 2.0 * self.last[1] + number;
            self.squares += r * r / 6.0;
        }
        self.last = [self.last[1], number];
        let third = SAMPLES / 3;
        if self.count < third {
            self.thirds[0] += number - self.first;
        } else if self.count >= SAMPLES - third {
            self.thirds[1] += number - self.first;
        }
        let level = ((number - self.first) / step).round();
        if level.abs() <= f64::from(REACH) {
            self.levels[(level as i32 + REACH) as usize] += 1;
        }
        self.count += 1;
        if self.count < SAMPLES {
            return None;
        }
        let heard = self.hear(step);
        *self = Self::default();
        Some(heard)
    }

    fn hear(&self, step: f64) -> Heard {
        let samples = f64::from(SAMPLES);
        // Rounding to steps of q adds a variance of q²/12 (Sheppard).
        let variance = self.squares / (samples - 2.0) / (step * step) - 1.0 / 12.0;
        let sigma = variance.max(0.0).sqrt();
        let third = samples / 3.0;
        let drift = (self.thirds[1] - self.thirds[0]).abs() / third / step;
        // The difference of the means of two thirds has √(2/n)·σ.
        if sigma < FINE && drift > DRIFT + 4.0 * sigma * (2.0 / third).sqrt() {
            return Heard::Moving;
        }
        let occupied = self.levels.iter().filter(|count| **count > 0).count();
        let counted: u32 = self.levels.iter().map(|count| u32::from(*count)).sum();
        if counted == SAMPLES && occupied <= 1 {
            return Heard::Still;
        }
        if counted == SAMPLES && occupied == 2 {
            return Heard::TwoLevels;
        }
        // What lies outside the two fullest neighbours bounds the chance too, wherever the mean stands in
        // its step: with a share of f there, P is at least 1 − 2f. Two standard errors to the safe side.
        let neighbours = self.levels.windows(2);
        let two = neighbours
            .map(|pair| u32::from(pair[0]) + u32::from(pair[1]))
            .max();
        let outside = f64::from(SAMPLES - two.unwrap_or(0));
        let share = (outside - 2.0 * outside.sqrt()).max(0.0) / samples;
        if share <= 0.0 {
            return Heard::TwoLevels;
        }
        let by_noise = if sigma > 0.0 {
            within(0.5 / sigma)
        } else {
            1.0
        };
        Heard::Repeats(by_noise.max(1.0 - 2.0 * share))
    }
}
