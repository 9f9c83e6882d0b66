//! The signal's own noise, measured while the level moves: from second differences, which a steady
//! slope does not touch.
//!
//! Of white noise, `x₋₂ − 2x₋₁ + x` has the variance 6σ². Noise that is correlated from sample to sample
//! (a damped transmitter) hides in neighbouring samples, so the same is measured on means of five, which
//! count where they are clearly noisier than white noise would make them. Wild values are drawn in to three σ. A
//! value that stands still to the last digit (a hand value, a frozen one) teaches nothing: what comes after it would
//! look wild.

/// How many values the estimate remembers; until then it is their plain mean.
const MEMORY: u16 = 128;
/// How much larger the noise of means must be than white noise would make it to count as correlated.
const CORRELATED: f64 = 1.5;
/// Values are drawn in to this many σ.
const WINSOR: f64 = 3.0;
/// How many values a first estimate takes.
const FIRST: u16 = 6;
/// After so many values in a row without any difference a signal stands still.
const STILL: u8 = 5;
/// So many wild values in a row are no wild values: the noise is another one.
const OTHER: u8 = 4;
/// Samples in a mean.
const GROUP: u16 = 5;
/// Of fewer differences one step is most of what they usually are.
const SETTLED: u16 = 16;
/// Differences up to this are no step of a register: temperature and rounding move a level by them, m.
const ROUNDING: f64 = 1e-5;
const FEWEST_STEPS: u8 = 3;

/// σ of one sample.
#[derive(Clone, Copy, Debug, Default)]
pub struct SampleNoise {
    last: [f64; 2],
    held: u8,
    squares: MeanSquare,
}

impl SampleNoise {
    pub fn take(&mut self, value: f64) {
        if self.held == 2 {
            // r² = (x₋₂ − 2x₋₁ + x)²/6
            let second = self.last[0] - 2.0 * self.last[1] + value;
            self.squares.learn(second * second / 6.0);
        }
        self.last = [self.last[1], value];
        self.held = (self.held + 1).min(2);
    }

    /// What follows does not continue what was before; what was learnt stays.
    pub fn interrupt(&mut self) {
        self.held = 0;
        self.squares.still = 0;
    }

    /// None until enough were seen.
    pub fn sigma(&self) -> Option<f64> {
        (self.squares.seen >= FIRST).then(|| self.squares.mean.sqrt())
    }
}

/// σ of one sample, and of means of five.
#[derive(Clone, Copy, Debug, Default)]
pub struct Noise {
    samples: SampleNoise,
    means: SampleNoise,
    group_sum: f64,
    group_count: u16,
}

impl Noise {
    /// The mean that it completes, if it does.
    pub fn take(&mut self, value: f64) -> Option<f64> {
        self.samples.take(value);
        self.group_sum += value;
        self.group_count += 1;
        if self.group_count < GROUP {
            return None;
        }
        let mean = self.group_sum / f64::from(GROUP);
        self.means.take(mean);
        (self.group_sum, self.group_count) = (0.0, 0);
        Some(mean)
    }

    /// What follows does not continue what was before; what was learnt stays.
    pub fn interrupt(&mut self) {
        self.samples.interrupt();
        self.means.interrupt();
        (self.group_sum, self.group_count) = (0.0, 0);
    }

    /// σ of one sample; none until enough were seen.
    pub fn sigma(&self) -> Option<f64> {
        self.samples.sigma()
    }

    /// σ of the difference of two neighbouring means of five: σ√(2/5) if the noise is white.
    pub fn sigma_of_difference(&self) -> Option<f64> {
        let white = self.sigma()? * (2.0 / f64::from(GROUP)).sqrt();
        let measured = self
            .means
            .sigma()
            .map_or(0.0, |of_mean| of_mean * 2.0_f64.sqrt());
        Some(if measured > CORRELATED * white {
            measured
        } else {
            white
        })
    }
}

/// How far a value usually moves from one sample to the next, however that comes about: a surface that sways moves by
/// more than its second differences show.
#[derive(Clone, Copy, Debug, Default)]
pub struct UsualMove {
    last: Option<f64>,
    squares: MeanSquare,
}

impl UsualMove {
    pub fn take(&mut self, value: f64) {
        if let Some(last) = self.last.replace(value) {
            self.squares.learn((value - last).powi(2));
        }
    }

    pub fn interrupt(&mut self) {
        self.last = None;
        self.squares.still = 0;
    }

    /// Nothing while that is not known.
    pub fn root_mean_square(&self) -> f64 {
        match self.squares.is_settled {
            true => self.squares.mean.sqrt(),
            false => 0.0,
        }
    }
}

/// The step that a level goes in, as far as it shows.
#[derive(Clone, Copy, Debug, Default)]
pub struct LevelStep {
    last: Option<f64>,
    least_m: f64,
    seen: u8,
}

impl LevelStep {
    pub fn take(&mut self, level_m: f64) {
        let Some(last) = self.last.replace(level_m) else {
            return;
        };
        let step_m = (level_m - last).abs();
        if step_m > ROUNDING {
            self.least_m = match self.seen {
                0 => step_m,
                _ => self.least_m.min(step_m),
            };
            self.seen = self.seen.saturating_add(1);
        }
    }

    pub fn interrupt(&mut self) {
        self.last = None;
    }

    /// The smallest, m: of a fine number as good as nothing. None before a few were seen.
    pub fn least(&self) -> Option<f64> {
        (self.seen >= FEWEST_STEPS).then_some(self.least_m)
    }
}

/// A running mean of squares.
#[derive(Clone, Copy, Debug, Default)]
struct MeanSquare {
    mean: f64,
    seen: u16,
    still: u8,
    wild: u8,
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
        self.seen = (self.seen + 1).min(MEMORY);
        self.is_settled |= self.seen >= SETTLED;
        let most = WINSOR * WINSOR * self.mean;
        self.wild = if square > most { self.wild + 1 } else { 0 };
        if self.wild > OTHER {
            // What was learnt counts for little: it learns as at the start.
            (self.seen, self.wild) = (FIRST, 0);
        }
        // A signal that was still must be able to learn: nothing is drawn in then.
        let drawn_in = if self.seen <= FIRST || self.mean == 0.0 {
            square
        } else {
            square.min(most)
        };
        self.mean += (drawn_in - self.mean) / f64::from(self.seen);
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

    fn hear(noise: &mut Noise, values: impl IntoIterator<Item = f64>) {
        for value in values {
            noise.take(value);
        }
    }

    #[test]
    fn a_slope_is_no_noise() {
        let mut noise = Noise::default();
        hear(&mut noise, (0..100).map(|index| f64::from(index) * 0.5));
        assert!(noise.sigma().expect("enough samples") < 1e-9);
    }

    #[test]
    fn white_noise_is_measured() {
        let mut noise = Noise::default();
        hear(&mut noise, uniform_noise().take(4000));
        assert_relative_eq!(
            noise.sigma().expect("enough samples"),
            1.0,
            max_relative = 0.3
        );
    }

    #[test]
    fn noise_that_rises_is_learnt_within_a_few_samples_and_a_step_is_none() {
        let mut noise = Noise::default();
        hear(&mut noise, uniform_noise().take(400));
        hear(&mut noise, [1000.0; 20]);
        assert!(noise.sigma().expect("enough samples") < 2.0);
        let louder = uniform_noise().take(30).map(|value| 50.0 * value);
        hear(&mut noise, louder);
        let after = noise.sigma().expect("enough samples");
        assert!((20.0..100.0).contains(&after), "{after}");
    }

    #[test]
    fn a_coarse_number_shows_its_step_and_a_fine_one_none() {
        let mut step = LevelStep::default();
        for index in 0..400 {
            step.take((f64::from(index) * 0.0007 / 0.01).round() * 0.01 + 1e-7 * f64::from(index));
        }
        assert_relative_eq!(step.least().expect("some"), 0.01, max_relative = 1e-3);
        let mut step = LevelStep::default();
        uniform_noise()
            .take(4000)
            .for_each(|value| step.take(value));
        assert!(step.least().expect("some") < 0.01);
    }

    #[test]
    fn a_value_that_stands_still_teaches_nothing() {
        let mut noise = Noise::default();
        hear(&mut noise, uniform_noise().take(400));
        let before = noise.sigma().expect("enough samples");
        hear(&mut noise, [3.0; 3600]);
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
