//! What a level does by itself: noise, a surface that sways, the steps of a coarse number. No jump is made of that.

use super::noise::{LevelStep, Noise, UsualMove};
use crate::quantity::Length;
use std::time::Duration;

/// How many standard deviations a step must pass.
const SIGMAS: f64 = 6.0;
/// And how many times what it usually moves by: a sway never moves by more than √2 of that.
const SWAYS: f64 = 2.5;
/// Samples that are so much noisier than those before: of five, one in a thousand by chance.
const RISEN: f64 = 2.5;
/// So long nothing is judged: noise that is slower than the polls looks like a movement at first. Common practice, no
/// source.
const LISTENS: Duration = Duration::from_secs(8);

/// Learnt from every sample.
#[derive(Clone, Copy, Debug, Default)]
pub struct Allowance {
    noise: Noise,
    usual: UsualMove,
    usual_mean: UsualMove,
    step: LevelStep,
    since: Option<Duration>,
}

impl Allowance {
    pub fn take(&mut self, up: Duration, level: Length) {
        self.since.get_or_insert(up);
        let level_m = level.value;
        if let Some(mean_m) = self.noise.take(level_m) {
            self.usual_mean.take(mean_m);
        }
        self.usual.take(level_m);
        self.step.take(level_m);
    }

    /// What follows does not continue what was before; what was learnt stays.
    pub fn interrupt(&mut self) {
        self.noise.interrupt();
        self.usual.interrupt();
        self.usual_mean.interrupt();
        self.step.interrupt();
    }

    /// For the difference of two neighbouring samples, m; none before enough were heard.
    pub fn of_samples(&self, up: Duration) -> Option<f64> {
        let sigma_m = self.noise.sigma()?;
        let heard = up.saturating_sub(self.since?) >= LISTENS;
        let noise_m = SIGMAS * 2.0_f64.sqrt() * sigma_m;
        let usual_m = SWAYS * self.usual.root_mean_square();
        heard.then(|| noise_m.max(usual_m) + self.step_m())
    }

    /// For the difference of two neighbouring means of five, m; by noise alone.
    pub fn of_means_by_noise(&self) -> Option<f64> {
        Some(SIGMAS * self.noise.sigma_of_difference()?)
    }

    /// The same by all of it. Noise that has just risen shows in the newest samples themselves.
    pub fn of_means(&self, newest: &[Length]) -> Option<f64> {
        let now_m = sigma_of(newest);
        let risen_m = match now_m > RISEN * self.noise.sigma()? {
            true => SIGMAS * now_m * (2.0 / newest.len() as f64).sqrt(),
            false => 0.0,
        };
        let usual_m = SWAYS * self.usual_mean.root_mean_square();
        let noise_m = self.of_means_by_noise()?;
        Some(noise_m.max(risen_m).max(usual_m) + self.step_m())
    }

    fn step_m(&self) -> f64 {
        self.step.least().unwrap_or(0.0)
    }
}

/// σ by second differences, which a slope does not touch.
fn sigma_of(levels: &[Length]) -> f64 {
    let squares = levels.windows(3).map(|three| {
        let second_m = (three[0] - 2.0 * three[1] + three[2]).value;
        second_m * second_m / 6.0
    });
    let count = levels.len().saturating_sub(2).max(1);
    (squares.sum::<f64>() / count as f64).sqrt()
}
