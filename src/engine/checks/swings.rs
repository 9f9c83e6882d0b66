//! The swings of headspace pressure and level that a hookup's lines are judged by, and the two gains that they say.
//!
//! A swing of 10 σ tells its gain to ±0.14 by itself, so that not their number decides but the standard errors; three
//! must agree, because what a stated flow or a pump's signal gets wrong no standard error knows. Lines change: where
//! no one pair of gains explains all swings that are remembered, the oldest are left out until one does.

use super::fit::Fit;
use std::time::Duration;

/// A swing counts so long.
pub const REMEMBERED: Duration = Duration::from_secs(3 * 86_400);
/// Kept of either input, so that much filling does not push out what the headspace did.
const KEPT: usize = 6;
const CORRELATED: f64 = 0.9;
/// Of the least movement; common practice, no source.
const STAYS: f64 = 0.7;
/// Swings that speak for a verdict at least.
pub const FEWEST: usize = 3;
/// Swings agree with their gains where what is left scatters by no more than this share of what moved, or than noise.
const AGREES: f64 = 0.15;

/// Changes from one mean over a period to another.
#[derive(Clone, Copy, Debug)]
pub struct Swing {
    pub at: Duration,
    pub difference_pa: f64,
    pub headspace_pa: Option<f64>,
    /// Of the liquid by anything but the hookup: ρ·g·Δh.
    pub head_pa: Option<f64>,
    /// By how much the difference can be off from what the two make of it, k = 1.
    pub sigma_pa: f64,
    /// Neither the flow nor the largest flow was known.
    pub loose: bool,
    /// The level was measured or seen, not worked out from flow.
    pub measured: bool,
}

/// From how much on an input has moved when a swing is taken.
#[derive(Clone, Copy, Debug)]
pub struct Least {
    pub headspace_pa: f64,
    pub head_pa: f64,
}

/// The two gains as far as they are known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gains {
    pub headspace: Option<Gain>,
    pub level: Option<Gain>,
    /// Both moved, but together.
    pub together: bool,
    pub loose: bool,
    pub measured: bool,
}

/// A gain with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gain {
    pub value: f64,
    pub error: f64,
    /// Swings of its input, up and down.
    pub up: usize,
    pub down: usize,
}

/// Memory of one hookup's swings; under 1 kB.
#[derive(Clone, Copy, Debug, Default)]
pub struct Swings {
    /// In which the headspace moved, and in which the level alone did.
    kept: [[Option<Swing>; KEPT]; 2],
    next: [usize; 2],
}

impl Swings {
    pub fn add(&mut self, of_headspace: bool, swing: Swing) {
        let ring = usize::from(!of_headspace);
        self.kept[ring][self.next[ring]] = Some(swing);
        self.next[ring] = (self.next[ring] + 1) % KEPT;
    }

    pub fn gains(&self, up: Duration, least: Least) -> Gains {
        let all = self.kept.iter().flatten().flatten();
        let recent = all.filter(|swing| up.saturating_sub(swing.at) <= REMEMBERED);
        let mut sorted: [Option<Swing>; 2 * KEPT] = [None; 2 * KEPT];
        let mut count = 0;
        for (place, swing) in sorted.iter_mut().zip(recent) {
            *place = Some(*swing);
            count += 1;
        }
        let sorted = &mut sorted[..count];
        sorted.sort_unstable_by_key(|swing| swing.map(|swing| swing.at));
        let since = |from: usize| Series {
            swings: &sorted[from..],
            least,
        };
        let alike = (0..count).map(|from| since(from).fitted());
        let mut alike = alike.filter(|(gains, agree)| *agree && gains.is_told());
        match alike.next() {
            Some((gains, _)) => gains,
            None => since(0).fitted().0,
        }
    }
}

/// Swings in the order of their times.
#[derive(Clone, Copy)]
struct Series<'a> {
    swings: &'a [Option<Swing>],
    least: Least,
}

impl Series<'_> {
    fn each(&self) -> impl Iterator<Item = &Swing> + Clone {
        self.swings.iter().flatten()
    }

    /// How often an input moved, up and down.
    fn moved(&self, pa: fn(&Swing) -> Option<f64>, least_pa: f64) -> (usize, usize) {
        // What was large enough when it was taken stays so while the noise is learnt better.
        let least_pa = STAYS * least_pa;
        let moved = self.each().filter_map(pa);
        let up = moved.clone().filter(|pa| *pa >= least_pa).count();
        (up, moved.filter(|pa| *pa <= -least_pa).count())
    }

    /// The gains, and whether each swing agrees with them.
    fn fitted(&self) -> (Gains, bool) {
        let of_headspace = self.moved(|swing| swing.headspace_pa, self.least.headspace_pa);
        let of_level = self.moved(|swing| swing.head_pa, self.least.head_pa);
        let count = |(up, down): (usize, usize)| up + down;
        let points = self.each().map(|swing| {
            let (p, u) = (swing.headspace_pa, swing.head_pa);
            (p.unwrap_or(0.0), u.unwrap_or(0.0), swing.difference_pa)
        });
        let least_sd = self.each().map(|swing| swing.sigma_pa).fold(0.0, f64::max);
        let mut gains = Gains {
            loose: self.each().any(|swing| swing.loose),
            measured: self.each().any(|swing| swing.measured),
            ..Gains::default()
        };
        let inputs = usize::from(count(of_headspace) > 0) + usize::from(count(of_level) > 0);
        let chance = |fit: &Fit| by_chance(fit, inputs) * least_sd;
        // The noise is known; what is left of a few swings scatters much, and within chance says no more.
        let by_noise = |fit: &Fit| match fit.residual_sd <= chance(fit) {
            true => (least_sd / fit.residual_sd).min(1.0),
            false => 1.0,
        };
        let gain = |fit: &Fit, place: usize, (up, down)| Gain {
            value: fit.gains[place],
            error: fit.errors[place] * by_noise(fit),
            up,
            down,
        };
        let enough = count(of_headspace) + count(of_level) >= FEWEST;
        let fit = match (count(of_headspace), count(of_level)) {
            (1.., 1..) if enough => {
                let fit = Fit::of(points.clone(), least_sd);
                let fit = fit.filter(|fit| fit.correlation.abs() <= CORRELATED);
                gains.together = fit.is_none();
                gains.headspace = fit.map(|fit| gain(&fit, 0, of_headspace));
                gains.level = fit.map(|fit| gain(&fit, 1, of_level));
                fit
            }
            (FEWEST.., 0) => {
                let fit = Fit::of_one(points.clone().map(|(p, _, y)| (p, y)), least_sd);
                gains.headspace = fit.map(|fit| gain(&fit, 0, of_headspace));
                fit
            }
            (0, FEWEST..) => {
                let fit = Fit::of_one(points.clone().map(|(_, u, y)| (u, y)), least_sd);
                gains.level = fit.map(|fit| gain(&fit, 0, of_level));
                fit
            }
            _ => None,
        };
        let squares: f64 = points.map(|(p, u, _)| (p.abs() + u.abs()).powi(2)).sum();
        let moved = (squares / self.swings.len().max(1) as f64).sqrt();
        let agrees = |fit: Fit| fit.residual_sd <= (AGREES * moved).max(chance(&fit));
        (gains, fit.is_some_and(agrees))
    }
}

/// How many times the noise the scatter of what is left may be by chance, ν values being free: 1 + 2/√ν is passed once in
/// some 300 (χ², for ν from 1 to 10).
fn by_chance(fit: &Fit, gains: usize) -> f64 {
    let freedom = fit.count.saturating_sub(gains).max(1) as f64;
    1.0 + 2.0 / freedom.sqrt()
}

impl Gains {
    fn is_told(&self) -> bool {
        self.headspace.is_some() || self.level.is_some()
    }
}

impl Gain {
    pub fn count(self) -> usize {
        self.up + self.down
    }
}
