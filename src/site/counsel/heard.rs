//! What was heard of the transmitters: the noise of each, from the samples of a journal or of a recording.
//!
//! The noise is measured window by window by second differences, which a steady rise does not touch, and by those
//! of means of five, which see what comes in waves. Nine of ten windows are no noisier than what is told.

use crate::engine::TransmitterId;
use crate::engine::checks::noise::Noise;
use crate::engine::plan::Plan;

/// Samples in a window.
const WINDOW: usize = 128;
/// A last window of fewer tells nothing.
const FEWEST: usize = 32;
/// The share of windows that are no noisier than what is told. Common practice, no source.
const COVERED: f64 = 0.9;
/// After a pause of so many times the usual interval what follows does not continue what was before.
const PAUSE: f64 = 5.0;

#[derive(Clone, Debug)]
pub struct Heard {
    from: String,
    tracks: Vec<Track>,
}

#[derive(Clone, Debug, Default)]
struct Track {
    noise: Noise,
    count: usize,
    /// Time of the last sample and the interval before it, s.
    last_s: Option<f64>,
    interval_s: Option<f64>,
    sigmas: Vec<f64>,
}

impl Heard {
    /// `from`: in words, what it was heard from.
    pub fn new(plan: &Plan, from: impl Into<String>) -> Self {
        Self {
            from: from.into(),
            tracks: vec![Track::default(); plan.transmitters.len()],
        }
    }

    pub fn from(&self) -> &str {
        &self.from
    }

    /// A good value in SI units; in the order of their times.
    pub fn take(&mut self, id: TransmitterId, time_s: f64, value: f64) {
        if value.is_finite() {
            self.tracks[id.index()].take(time_s, value);
        }
    }

    /// σ of one sample; none where too few were heard.
    pub fn sigma(&self, id: TransmitterId) -> Option<f64> {
        self.tracks[id.index()].sigma()
    }

    pub fn is_empty(&self) -> bool {
        self.tracks.iter().all(|track| track.sigma().is_none())
    }
}

impl Track {
    fn take(&mut self, time_s: f64, value: f64) {
        let interval_s = self.last_s.map(|last_s| time_s - last_s);
        if let (Some(now_s), Some(usual_s)) = (interval_s, self.interval_s)
            && now_s > PAUSE * usual_s
        {
            self.noise.interrupt();
        } else {
            self.interval_s = interval_s.filter(|interval_s| *interval_s > 0.0);
        }
        self.last_s = Some(time_s);
        self.noise.take(value);
        self.count += 1;
        if self.count == WINDOW {
            self.sigmas.extend(sigma(&self.noise));
            self.noise = Noise::default();
            self.count = 0;
        }
    }

    fn sigma(&self) -> Option<f64> {
        let open = sigma(&self.noise).filter(|_| self.count >= FEWEST);
        let mut sigmas: Vec<f64> = self.sigmas.iter().copied().chain(open).collect();
        sigmas.sort_by(f64::total_cmp);
        let place = (COVERED * sigmas.len() as f64).ceil() as usize;
        sigmas.get(place.checked_sub(1)?).copied()
    }
}

/// White noise by its samples; what comes in waves by its means of five, whose difference has twice the variance.
fn sigma(noise: &Noise) -> Option<f64> {
    let of_means = noise.sigma_of_difference()? / 2.0_f64.sqrt();
    Some(noise.sigma()?.max(of_means))
}
