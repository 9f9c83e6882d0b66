//! The signal's own noise, measured while the level moves: from second differences, which a steady
//! slope does not touch.
//!
//! Of white noise, `x₋₂ − 2x₋₁ + x` has the variance 6σ². Noise that is correlated from sample to sample
//! (a damped transmitter) hides in neighbouring samples, so the same is measured on means of five, which
//! count where they are clearly noisier than white noise would make them. Wild values are drawn in to three σ. A
//! value that stands still to the last digit (a hand value, a frozen one) teaches nothing: what comes after it would
//! look wild.

/// How many values the estimate remembers; until then it is their plain mean.
const MEMORY: u32 = 128;
/// How much larger the noise of means must be than white noise would make it to count as correlated.
const CORRELATED: f64 = 1.5;
/// Values are drawn in to this many σ.
const WINSOR: f64 = 3.0;
/// How many values a first estimate takes.
const FIRST: u32 = 6;
/// After so many values in a row without any difference a signal stands still.
const STILL: u32 = 5;
/// Samples in a mean.
const GROUP: u32 = 5;
/// Differences up to this are no step of a register: temperature and rounding move a level by them, m.
const ROUNDING: f64 = 1e-5;
const FEWEST_STEPS: u32 = 3;
/// A variance of so many values is right within a half or so.
const SETTLED: u32 = 16;
/// So many wild values in a row are no wild values: the noise is another one.
const OTHER: u32 = 4;

#[derive(Clone, Copy, Debug, Default)]
pub struct Noise {
    samples: Differences,
    means: Differences,
    group_sum: f64,
    group_count: u32,
    last: Option<f64>,
    /// The smallest difference of two neighbours that was more than rounding, and how many such were seen.
    step: f64,
    steps: u32,
}

impl Noise {
    pub fn take(&mut self, value: f64) {
        if let Some(last) = self.last.replace(value) {
            let difference = (value - last).abs();
            if difference > ROUNDING {
                self.step = match self.steps {
                    0 => difference,
                    _ => self.step.min(difference),
                };
                self.steps = self.steps.saturating_add(1);
            }
        }
        self.samples.take(value);
        self.group_sum += value;
        self.group_count += 1;
        if self.group_count == GROUP {
            self.means.take(self.group_sum / f64::from(GROUP));
            self.group_sum = 0.0;
            self.group_count = 0;
        }
    }

    /// The step that the value goes in, as far as it shows: of a fine one it is as good as nothing. None before a few
    /// were seen.
    pub fn step(&self) -> Option<f64> {
        (self.steps >= FEWEST_STEPS).then_some(self.step)
    }

    /// What follows does not continue what was before; what was learnt stays.
    pub fn interrupt(&mut self) {
        self.last = None;
        self.samples.interrupt();
        self.means.interrupt();
        self.group_sum = 0.0;
        self.group_count = 0;
    }

    /// σ of one sample; none until enough were seen.
    pub fn sigma(&self) -> Option<f64> {
        self.samples.second.root()
    }

    /// The usual difference of two neighbouring samples, and of two neighbouring means of five, however they come about:
    /// a surface that sways moves by more than its second differences show.
    pub fn usual_moves(&self) -> (f64, f64) {
        // Of few, one step is most of it.
        let usual = |of: &Differences| match of.first.is_settled {
            true => of.first.mean.sqrt(),
            false => 0.0,
        };
        (usual(&self.samples), usual(&self.means))
    }

    /// Enough was seen to tell what it can't make.
    pub fn is_settled(&self) -> bool {
        self.samples.second.is_settled
    }

    /// σ of the difference of two neighbouring means of five: σ√(2/5) if the noise is white.
    pub fn sigma_of_difference(&self) -> Option<f64> {
        let white = self.sigma()? * (2.0 / f64::from(GROUP)).sqrt();
        let measured = self
            .means
            .second
            .root()
            .map_or(0.0, |of_mean| of_mean * 2.0_f64.sqrt());
        Some(if measured > CORRELATED * white {
            measured
        } else {
            white
        })
    }
}

/// Differences of neighbours, and what is left of them where they go on steadily.
#[derive(Clone, Copy, Debug, Default)]
struct Differences {
    last: [f64; 2],
    held: u32,
    first: MeanSquare,
    second: MeanSquare,
}

impl Differences {
    fn take(&mut self, value: f64) {
        if self.held > 0 {
            self.first.learn((value - self.last[1]).powi(2));
        }
        if self.held == 2 {
            // r = (x₋₂ − 2x₋₁ + x)/√6
            let r = (self.last[0] - 2.0 * self.last[1] + value) / 6.0_f64.sqrt();
            self.second.learn(r * r);
        }
        self.last = [self.last[1], value];
        self.held = (self.held + 1).min(2);
    }

    fn interrupt(&mut self) {
        self.held = 0;
        (self.first.still, self.second.still) = (0, 0);
    }
}

/// A running mean of squares.
#[derive(Clone, Copy, Debug, Default)]
struct MeanSquare {
    mean: f64,
    seen: u32,
    still: u32,
    wild: u32,
    is_settled: bool,
}

impl MeanSquare {
    fn learn(&mut self, square: f64) {
        self.still = match square == 0.0 {
            true => self.still.saturating_add(1),
            false => 0,
        };
        if self.still > STILL && self.mean > 0.0 {
            return;
        }
        self.seen = self.seen.saturating_add(1);
        self.is_settled |= self.seen >= SETTLED;
        let most = WINSOR * WINSOR * self.mean;
        self.wild = if square > most { self.wild + 1 } else { 0 };
        if self.wild > OTHER {
            // What was learnt counts for little: it learns as at the start.
            self.seen = FIRST;
            self.wild = 0;
        }
        // A signal that was still must be able to learn: nothing is drawn in then.
        let drawn_in = if self.seen <= FIRST || self.mean == 0.0 {
            square
        } else {
            square.min(most)
        };
        self.mean += (drawn_in - self.mean) / f64::from(self.seen.min(MEMORY));
    }

    fn root(&self) -> Option<f64> {
        (self.seen >= FIRST).then(|| self.mean.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A repeatable noise of unit variance: ±√3·uniform by a linear congruence.
    fn uniform_noise() -> impl Iterator<Item = f64> {
        let mut state = 1_u32;
        std::iter::repeat_with(move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (f64::from(state) / f64::from(u32::MAX) * 2.0 - 1.0) * 3.0_f64.sqrt()
        })
    }

    #[test]
    fn a_slope_is_no_noise() {
        let mut noise = Noise::default();
        (0..100).for_each(|index| noise.take(f64::from(index) * 0.5));
        assert!(noise.sigma().expect("enough samples") < 1e-9);
    }

    #[test]
    fn white_noise_is_measured() {
        let mut noise = Noise::default();
        uniform_noise()
            .take(4000)
            .for_each(|value| noise.take(value));
        assert_relative_eq!(
            noise.sigma().expect("enough samples"),
            1.0,
            max_relative = 0.3
        );
    }

    #[test]
    fn noise_that_rises_is_learnt_within_a_few_samples_and_a_step_is_none() {
        let mut noise = Noise::default();
        uniform_noise()
            .take(400)
            .for_each(|value| noise.take(value));
        (0..20).for_each(|_| noise.take(1000.0));
        assert!(noise.sigma().expect("enough samples") < 2.0);
        let louder = uniform_noise().take(30).map(|value| 50.0 * value);
        louder.for_each(|value| noise.take(value));
        let after = noise.sigma().expect("enough samples");
        assert!((20.0..100.0).contains(&after), "{after}");
    }

    #[test]
    fn a_coarse_number_shows_its_step_and_a_fine_one_none() {
        let mut noise = Noise::default();
        for index in 0..400 {
            noise.take((f64::from(index) * 0.0007 / 0.01).round() * 0.01 + 1e-7 * f64::from(index));
        }
        assert_relative_eq!(noise.step().expect("some"), 0.01, max_relative = 1e-3);
        let mut noise = Noise::default();
        uniform_noise()
            .take(4000)
            .for_each(|value| noise.take(value));
        assert!(noise.step().expect("some") < 0.01);
    }

    #[test]
    fn a_value_that_stands_still_teaches_nothing() {
        let mut noise = Noise::default();
        uniform_noise()
            .take(400)
            .for_each(|value| noise.take(value));
        let before = noise.sigma().expect("enough samples");
        (0..3600).for_each(|_| noise.take(3.0));
        let after = noise.sigma().expect("enough samples");
        assert!(after > 0.9 * before, "{before} {after}");
    }

    #[test]
    fn a_damped_signal_shows_its_noise_in_the_means() {
        let (mut noise, mut damped) = (Noise::default(), 0.0);
        for value in uniform_noise().take(4000) {
            damped += 0.1 * (value - damped);
            noise.take(damped);
        }
        let white = noise.sigma().expect("enough samples") * (2.0_f64 / 5.0).sqrt();
        assert!(noise.sigma_of_difference().expect("enough samples") > 3.0 * white);
    }
}
