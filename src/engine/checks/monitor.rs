//! The noise monitor: whether a line still lets the noise of its tank through.
//!
//! r = (xₜ − 2xₜ₋₁ + xₜ₋₂)/√6, of which no steady movement is a part; blocks of 5 min, v = ln(Σr²/N). For each
//! mode (which streams run) a baseline is learnt while the lines are known to be clear: at least 200
//! blocks over at least three days, then it stands. An EWMA of z = (v − mean)/σ, drawn in to ±4, tells a
//! fall (the line damps: it plugs) and a rise; its limit is what the baseline itself passes once in ten
//! years (`bootstrap`), and two standard errors of its mean more. A block over a change of mode, over bad data or without
//! enough new numbers says nothing. Transmitter damping takes the noise away before it can be
//! heard: 2 s leave some 5 % of the variance of noise of 0.1 s.

use super::bootstrap;
use super::ewma::Ewma;
use super::finding::{Ability, Confidence, Fault};
use crate::engine::Now;
use crate::engine::memory::{ModeMemory, NoiseMemory};
use crate::quantity::Timestamp;
use std::time::Duration;

const CHECK: &str = "noise of the line";
const BLOCK: Duration = Duration::from_secs(300);
const BLOCK_S: f64 = 300.0;
/// New numbers that a block needs.
const FRESH: u32 = 60;
const LEARNT: usize = 200;
const LEARNT_OVER: Duration = Duration::from_secs(3 * 86_400);
/// Blocks of three days: more are not kept.
const KEPT: usize = 864;
const LAMBDA: f64 = 0.1;
const DRAWN_IN: f64 = 4.0;
/// Blocks between false alarms: ten years of them.
const INTERVAL: f64 = 10.0 * 365.25 * 86_400.0 / BLOCK_S;
/// A baseline whose σ is less than this share of a step is rounding.
const COARSE: f64 = 0.3;
/// Modes that are told apart; a tank with more of them learns those that come first.
const MODES: usize = 4;
/// ln of a variance, in thousandths: what the baseline is kept in.
const SCALE: f64 = 1000.0;
/// Blocks between two times that what is learnt is stored.
const STORED_EVERY: u32 = 12;

/// Memory of one hookup: 2 kB a mode while it learns, 100 bytes after, four modes at most.
#[derive(Clone, Debug, Default)]
pub struct NoiseMonitor {
    block: Block,
    modes: Vec<Mode>,
    current: Option<usize>,
    unsaved: u32,
}

#[derive(Clone, Copy, Debug, Default)]
struct Block {
    begun: Option<Duration>,
    mode: u32,
    last: [f64; 2],
    count: u32,
    fresh: u32,
    squares: f64,
    step: f64,
    spoilt: bool,
}

#[derive(Clone, Debug)]
struct Mode {
    mode: u32,
    since: Timestamp,
    step: f64,
    learning: Vec<i16>,
    baseline: Option<Baseline>,
    ewma: Ewma,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Baseline {
    mean: f64,
    sd: f64,
    limit: f64,
}

impl NoiseMonitor {
    /// Takes a sample; none: there is none that can be trusted.
    pub fn take(&mut self, now: Now, value: Option<f64>, mode: u32) {
        let block = &mut self.block;
        let Some(value) = value else {
            block.spoilt = true;
            return;
        };
        let over = block
            .begun
            .is_some_and(|begun| now.up.saturating_sub(begun) >= BLOCK);
        if over {
            let full = std::mem::take(block);
            self.close(now, &full);
        }
        let block = &mut self.block;
        if block.begun.is_none() {
            block.begun = Some(now.up);
            block.mode = mode;
            block.step = f64::INFINITY;
        }
        block.spoilt |= block.mode != mode;
        if block.count == 0 {
            block.fresh = 1;
        } else {
            let apart = (value - block.last[1]).abs();
            if apart > 0.0 {
                block.fresh += 1;
                block.step = block.step.min(apart);
            }
        }
        if block.count >= 2 {
            let r = block.last[0] - 2.0 * block.last[1] + value;
            block.squares += r * r / 6.0;
        }
        block.last = [block.last[1], value];
        block.count += 1;
    }

    /// The block that is being heard says nothing.
    pub fn interrupt(&mut self) {
        self.block.spoilt = true;
    }

    fn close(&mut self, now: Now, block: &Block) {
        self.current = None;
        if block.spoilt || block.count < FRESH {
            return;
        }
        let place = match self.modes.iter().position(|mode| mode.mode == block.mode) {
            Some(place) => place,
            None if self.modes.len() < MODES => {
                self.modes.push(Mode::new(block.mode, now.utc));
                self.modes.len() - 1
            }
            None => return,
        };
        self.current = Some(place);
        let mode = &mut self.modes[place];
        let variance = block.squares / f64::from(block.count - 2);
        if mode.baseline.is_none() {
            // Rounded or repeated numbers are no noise to learn from; a line that went quiet is heard by it.
            if block.fresh < FRESH {
                return;
            }
            mode.step = mode.step.min(block.step);
            mode.learn(variance, now.utc);
            self.unsaved += 1;
        } else {
            mode.judge(variance);
        }
    }

    /// What is to be kept over a restart, where that has changed enough.
    pub fn to_keep(&mut self) -> Option<NoiseMemory> {
        let begins = self
            .modes
            .iter()
            .any(|mode| mode.baseline.is_some() && !mode.learning.is_empty());
        if self.unsaved < STORED_EVERY && !begins {
            return None;
        }
        self.unsaved = 0;
        for mode in &mut self.modes {
            if mode.baseline.is_some() {
                mode.learning = Vec::new();
            }
        }
        Some(NoiseMemory {
            modes: self.modes.iter().map(Mode::memory).collect(),
        })
    }

    pub fn restored(memory: &NoiseMemory) -> Self {
        Self {
            modes: memory
                .modes
                .iter()
                .take(MODES)
                .map(Mode::restored)
                .collect(),
            ..Self::default()
        }
    }

    pub fn finding(&self) -> Option<(Fault, Confidence, String)> {
        let modes = self
            .modes
            .iter()
            .filter_map(|mode| Some((mode, mode.baseline?)));
        let beyond = modes.filter(|(mode, baseline)| mode.ewma.value.abs() > baseline.limit);
        let worst = beyond.max_by(|a, b| a.0.ewma.value.abs().total_cmp(&b.0.ewma.value.abs()));
        let (mode, baseline) = worst?;
        let shift = mode.ewma.value;
        let fault = if shift < 0.0 {
            Fault::NoiseFell
        } else {
            Fault::NoiseRose
        };
        let evidence = format!(
            "the variance of its noise is {:.2} of what it was while the lines were clear; {:.2} and {:.2} are the limits",
            (shift * baseline.sd).exp(),
            (-baseline.limit * baseline.sd).exp(),
            (baseline.limit * baseline.sd).exp()
        );
        // The process can have grown quiet too: one check alone.
        Some((fault, Confidence::Possible, evidence))
    }

    /// `poll_every`: how often its transmitter is read.
    pub fn ability(&self, name: &str, now: Now, is_on: bool, poll_every: Duration) -> Ability {
        if poll_every * FRESH > BLOCK {
            let reason = format!(
                "{name}: it is read each {}, and a block of 5 min needs {FRESH} new numbers",
                crate::quantity::span(poll_every)
            );
            return Ability::cannot(CHECK, reason);
        }
        if !is_on {
            let reason = format!(
                "{name}: say `plugging = {{}}` under [tank.checks] once the lines are known to be clear"
            );
            return Ability::cannot(CHECK, reason);
        }
        let Some(mode) = self
            .current
            .and_then(|place| self.modes.get(place))
            .or(self.modes.last())
        else {
            return Ability::cannot(CHECK, format!("{name}: nothing was learnt yet"));
        };
        let Some(baseline) = mode.baseline else {
            let days = now.utc.duration_since(mode.since).as_secs_f64() / 86_400.0;
            return Ability::cannot(
                CHECK,
                format!(
                    "{name}: still learning, {} of {LEARNT} blocks and {days:.1} of 3 days in this mode",
                    mode.learning.len()
                ),
            );
        };
        if baseline.limit >= DRAWN_IN || !baseline.limit.is_finite() {
            return Ability::cannot(
                CHECK,
                format!("{name}: its noise is not steady enough in this mode"),
            );
        }
        if (baseline.mean / 2.0).exp() < COARSE * mode.step {
            return Ability::cannot(
                CHECK,
                format!("{name}: its noise is less than {COARSE} of a step"),
            );
        }
        let ratio = (baseline.limit * baseline.sd).exp();
        Ability::can(
            CHECK,
            format!(
                "{name}: a variance below {:.2} or above {ratio:.2} of what was learnt; one a half beyond that in an hour",
                1.0 / ratio
            ),
        )
    }
}

impl Mode {
    fn new(mode: u32, since: Timestamp) -> Self {
        Self {
            mode,
            since,
            step: f64::INFINITY,
            learning: Vec::new(),
            baseline: None,
            ewma: Ewma::new(LAMBDA, 0.0),
        }
    }

    fn learn(&mut self, variance: f64, now: Timestamp) {
        let v = variance.max(f64::MIN_POSITIVE).ln();
        if self.learning.len() == KEPT {
            self.learning.remove(0);
        }
        self.learning
            .push((v * SCALE).clamp(-32_000.0, 32_000.0) as i16);
        let days = now.duration_since(self.since);
        let enough =
            self.learning.len() >= LEARNT && days.as_secs() >= LEARNT_OVER.as_secs() as i64;
        if enough {
            self.baseline = Some(Baseline::of(&self.learning));
            self.ewma.value = 0.0;
        }
    }

    fn judge(&mut self, variance: f64) {
        let Some(baseline) = self.baseline else {
            return;
        };
        if (baseline.mean / 2.0).exp() < COARSE * self.step {
            return;
        }
        let v = variance.max(f64::MIN_POSITIVE).ln();
        let z = (v - baseline.mean) / baseline.sd;
        self.ewma.take(z.clamp(-DRAWN_IN, DRAWN_IN));
    }

    fn memory(&self) -> ModeMemory {
        ModeMemory {
            mode: self.mode,
            since: self.since,
            step: Some(self.step).filter(|step| step.is_finite()),
            learning: self.learning.clone(),
            baseline: self
                .baseline
                .map(|baseline| [baseline.mean, baseline.sd, baseline.limit]),
        }
    }

    fn restored(kept: &ModeMemory) -> Self {
        Self {
            step: kept.step.unwrap_or(f64::INFINITY),
            learning: kept.learning.clone(),
            baseline: kept
                .baseline
                .map(|[mean, sd, limit]| Baseline { mean, sd, limit }),
            ..Self::new(kept.mode, kept.since)
        }
    }
}

impl Baseline {
    fn of(learnt: &[i16]) -> Self {
        let values = || learnt.iter().map(|value| f64::from(*value) / SCALE);
        let count = learnt.len() as f64;
        let mean = values().sum::<f64>() / count;
        let about = |value: f64| value - mean;
        let squares: f64 = values().map(|value| about(value).powi(2)).sum();
        // Not less than what 300 independent numbers would scatter: ln s² has √(2/n), three times that for
        // second differences, which hang together.
        let sd = (squares / (count - 1.0)).sqrt().max(0.05);
        let products: f64 = values()
            .zip(values().skip(1))
            .map(|(a, b)| about(a) * about(b))
            .sum();
        let correlation = (products / squares.max(f64::MIN_POSITIVE)).clamp(0.0, 0.95);
        let effective = count * (1.0 - correlation) / (1.0 + correlation);
        let standardised: Vec<f64> = values()
            .map(|value| (about(value) / sd).clamp(-DRAWN_IN, DRAWN_IN))
            .collect();
        let limit = bootstrap::limit(&standardised, LAMBDA, INTERVAL);
        Self {
            mean,
            sd,
            limit: limit + 2.0 / effective.max(1.0).sqrt(),
        }
    }
}
