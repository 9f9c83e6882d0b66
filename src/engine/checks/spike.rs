//! Spike: one sample that stands far from those before it and from the one after. A causal Hampel filter over the
//! last seven samples (Hampel, The influence curve and its role in robust estimation, J. Am. Stat. Assoc. 69 (1974)):
//!
//! ```text
//!     |x − median| > max(3 · 1.4826 · MAD, 6 σ, 3 steps) + what the largest flow moves since the median's sample
//! ```
//!
//! MAD alone is no measure: of seven samples of white noise it calls more than one in a hundred wild, and a
//! register that stands has none at all. So the signal's own noise (σ of second differences, about one false one in
//! 16 years of seconds) and the smallest step that its number made are a floor under it; while neither is known
//! nothing is judged. What lies beyond twice in a row on one side is no single sample: it is not flagged again,
//! and the jump check, which is shown every sample, judges it.

use super::finding::Ability;
use super::noise::SampleNoise;
use std::time::Duration;

const CHECK: &str = "single wild sample";
const WINDOW: usize = 7;
/// The median's place, and how many samples it is old where they rise steadily.
const MIDDLE: usize = WINDOW / 2;
/// How many scaled median absolute deviations, and the ratio of σ to one of them for a normal distribution.
const DEVIATIONS: f64 = 3.0;
const MAD_TO_SIGMA: f64 = 1.4826;
const SIGMAS: f64 = 6.0;
const STEPS: f64 = 3.0;

/// Memory of one tank's level; under 300 bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct SpikeWatch {
    /// When and what, the newest last.
    samples: [(Duration, f64); WINDOW],
    held: usize,
    noise: SampleNoise,
    /// The smallest step that the number ever made.
    step: Option<f64>,
    /// The newest one lies beyond, above (true) or below.
    beyond: Option<bool>,
    flagged: bool,
    counted: u32,
}

impl SpikeWatch {
    /// Takes one sample. `most`: how far the largest flow can move the level within a time, either way.
    pub fn take(&mut self, up: Duration, value: f64, most: impl Fn(Duration) -> f64) {
        if self.held > 0 {
            let step = (value - self.samples[WINDOW - 1].1).abs();
            if step > 0.0 {
                self.step = Some(self.step.map_or(step, |least| least.min(step)));
            }
        }
        self.samples.rotate_left(1);
        self.samples[WINDOW - 1] = (up, value);
        self.held = (self.held + 1).min(WINDOW);
        let before = self.beyond.take();
        self.flagged = false;
        if self.held == WINDOW
            && let Some(floor) = self.floor()
            && self.is_far(value, floor)
        {
            let (median, mad) = self.median_and_mad();
            let age = up.saturating_sub(self.samples[MIDDLE].0);
            let limit = (DEVIATIONS * MAD_TO_SIGMA * mad).max(floor) + most(age);
            let off = value - median;
            self.beyond = (off.abs() > limit).then_some(off > 0.0);
            self.flagged = self.beyond.is_some() && self.beyond != before;
            self.counted += u32::from(self.flagged);
        }
        self.noise.take(value);
    }

    /// What comes next does not belong to what was.
    pub fn interrupt(&mut self) {
        (self.held, self.beyond, self.flagged) = (0, None, false);
        self.noise.interrupt();
    }

    /// Whether the newest sample is taken for a wild one.
    pub fn is_flagged(&self) -> bool {
        self.flagged
    }

    pub fn counted(&self) -> u32 {
        self.counted
    }

    /// What noise and resolution can make of one sample.
    fn floor(&self) -> Option<f64> {
        let step = self.step?;
        Some((SIGMAS * self.noise.sigma()?).max(STEPS * step))
    }

    /// Whether it is further than that from any sample; from their median it is no further than from all.
    fn is_far(&self, value: f64, far: f64) -> bool {
        (self.samples.iter()).any(|(_, sample)| (value - sample).abs() > far)
    }

    fn median_and_mad(&self) -> (f64, f64) {
        let mut values = self.samples.map(|(_, value)| value);
        values.sort_unstable_by(f64::total_cmp);
        let median = values[MIDDLE];
        let mut apart = values.map(|value| (value - median).abs());
        apart.sort_unstable_by(f64::total_cmp);
        (median, apart[MIDDLE])
    }

    pub fn ability(&self, is_on: bool) -> Ability {
        if !is_on {
            return Ability::cannot(CHECK, "say `spike = {}` under [tank.checks]");
        }
        match self.floor() {
            None => Ability::cannot(CHECK, "the level's noise and step are not known yet"),
            Some(floor) => Ability::can(
                CHECK,
                format!(
                    "one of {:.1} mm and more beyond what flow can make; {} so far",
                    floor * 1e3,
                    self.counted
                ),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise of unit variance by a linear congruence: twelve uniform numbers summed, as good as normal to 5 σ.
    fn noise(seed: u32) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(1);
        move || {
            let mut uniform = || {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f64::from(state) / f64::from(u32::MAX)
            };
            (0..12).map(|_| uniform()).sum::<f64>() - 6.0
        }
    }

    /// The seconds at which a sample was flagged; nobody knows how much can flow.
    fn flagged(seconds: u64, level: impl FnMut(u64) -> f64) -> Vec<u64> {
        flagged_with(seconds, level, 0.0)
    }

    fn flagged_with(seconds: u64, mut level: impl FnMut(u64) -> f64, most_per_s: f64) -> Vec<u64> {
        let mut watch = SpikeWatch::default();
        let mut seen = Vec::new();
        for second in 0..seconds {
            let most = |age: Duration| most_per_s * age.as_secs_f64();
            watch.take(Duration::from_secs(second), level(second), most);
            seen.extend(watch.is_flagged().then_some(second));
        }
        assert_eq!(watch.counted() as usize, seen.len());
        seen
    }

    #[test]
    fn one_wild_sample_is_flagged_alone_and_counted() {
        let mut noise = noise(1);
        let wild = |second: u64| match second {
            100 => 0.050,
            200 => -0.050,
            _ => 0.0,
        };
        let found = flagged(300, |second| 2.0 + 0.002 * noise() + wild(second));
        assert_eq!(found, [100, 200]);
    }

    /// 28 hours of seconds.
    #[test]
    fn noise_is_left_alone() {
        let mut noise = noise(2);
        assert_eq!(
            flagged(100_000, |_| 2.0 + 0.002 * noise()),
            Vec::<u64>::new()
        );
    }

    /// 20 mm a second, ten times the noise, begun and ended at once; the site file knows of it.
    #[test]
    fn a_fast_fill_is_left_alone() {
        for seed in 1..50 {
            let mut noise = noise(seed);
            let fill = |second: u64| 0.020 * second.clamp(100, 160) as f64;
            let found = flagged_with(300, |second| fill(second) + 0.002 * noise(), 0.020);
            assert!(found.is_empty(), "seed {seed}: {found:?}");
        }
    }

    /// Where no flow is stated its first sample alone is doubted.
    #[test]
    fn of_a_fill_that_nobody_announced_one_sample_is_flagged_at_most() {
        for seed in 1..50 {
            let mut noise = noise(seed);
            let fill = |second: u64| 0.020 * second.clamp(100, 160) as f64;
            let found = flagged(300, |second| fill(second) + 0.002 * noise());
            let begins = found.iter().filter(|second| (100..110).contains(*second));
            assert!(
                begins.count() <= 1 && found.len() <= 2,
                "seed {seed}: {found:?}"
            );
        }
    }

    #[test]
    fn a_step_that_stays_is_flagged_once() {
        let mut noise = noise(3);
        let step = |second: u64| if second < 100 { 0.0 } else { 0.100 };
        assert_eq!(flagged(200, |second| step(second) + 0.002 * noise()), [100]);
    }

    /// A number in steps of 10 mm that stands, flickers, and jumps for one sample by one step, by two and by five.
    #[test]
    fn a_number_that_stands_has_its_step_for_a_floor() {
        let level = |second: u64| match second {
            40 | 60 | 61 => 0.010,
            80 => 0.020,
            150 => 0.050,
            _ => 0.0,
        };
        assert_eq!(flagged(200, level), [150]);
        assert_eq!(flagged(200, |_| 1.0), Vec::<u64>::new());
    }
}
