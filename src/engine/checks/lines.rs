//! Impulse lines: what a change of headspace pressure and a change of level each do to the difference.
//!
//! ```text
//!     ΔDP = a·ΔP + b·ρ·g·Δh + e
//! ```
//!
//! A closed differential has a = 0 and b = 1, a transmitter against the air on a closed tank a = 1. A plugged
//! high side makes (−1, 0) of the first, a plugged low side (1, 1), both (0, 0), a passing equaliser (0, 0…1). ΔP
//! comes from a headspace transmitter of its own; Δh from meters and pumps through the vessel, from another hookup,
//! or, where none of these tells it, from two entries of a sight glass or tape. A window ends once one of the two
//! has moved by 10 σ and what it did has had time to show: a partial plug is a lag, not a gain. A gain is decided
//! where it is off by more than 0.3 and 4 standard errors, and three windows speak for it; nothing is where the two
//! inputs move together (correlation above 0.9). Which windows count: `swings`.
//!
//! Where flow is not known, a window counts if the headspace moved by ten times what the largest flow can
//! make. Where that is not known either only a = −1 is told: filling raises level and headspace together and
//! looks like a = +1, but nothing common looks like −1 both ways.

use super::finding::{Ability, Confidence, Fault, Finding};
use super::noise::SampleNoise;
use super::swings::{FEWEST, Gain, Gains, Least, Swing, Swings};
use std::time::Duration;

const CHECK: &str = "impulse lines";
/// How many σ an input must move.
const SIGMAS: f64 = 10.0;
/// The least movement, Pa: below it lie rounding and non-linearity. Common practice, no source.
const LEAST_PA: f64 = 100.0;
/// Periods that a movement has to show after it was large enough. Common practice, no source.
const SETTLE: u32 = 3;
/// A window without movement is begun anew after this time: slow things would enter it.
const LONGEST: Duration = Duration::from_secs(3600);
/// The same where the liquid's movement is not known: it must stay small beside the headspace's.
const LONGEST_BLIND: Duration = Duration::from_secs(20);
/// Two entries further apart make no window.
const BETWEEN_ENTRIES: Duration = Duration::from_secs(86_400);
/// What was read so long ago belongs to an entry of now.
pub const JUST_NOW: Duration = Duration::from_secs(60);
const OFF: f64 = 0.3;
const STANDARD_ERRORS: f64 = 4.0;
/// Windows that moved an input before its gain is sure.
const PROBABLE: usize = 5;
/// How many times the largest liquid movement the headspace must move where flow is not known.
const OUTWEIGHS: f64 = 10.0;

/// From here on `source` is another hookup.
pub const OF_HOOKUP: u8 = 128;

/// What a hookup's lines are judged by over one period: means.
#[derive(Clone, Copy, Debug)]
pub struct LineBlock {
    pub up: Duration,
    pub difference_pa: f64,
    pub headspace_pa: Option<f64>,
    /// ρ·g·h of the liquid by anything but this hookup, from any zero; and which source that is.
    pub head_pa: Option<f64>,
    pub source: u8,
    /// The fastest that the largest flow can change it, Pa/s.
    pub fastest_pa_s: Option<f64>,
}

/// What the hookup is when all is well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reference {
    /// Low side on the headspace: a = 0.
    Headspace,
    /// Low side open to the air, or none: a = 1.
    Air,
}

/// Memory of one hookup's lines; under 1.5 kB.
#[derive(Clone, Copy, Debug, Default)]
pub struct LinesWatch {
    noise: SampleNoise,
    headspace_noise: SampleNoise,
    anchor: Option<LineBlock>,
    moved: u32,
    swings: Swings,
    /// What they say, as last worked out, and when.
    gains: Gains,
    judged: Duration,
    latest: Option<LineBlock>,
    seen: Option<SeenLevel>,
}

/// The level as somebody saw it, and what was read then.
#[derive(Clone, Copy, Debug)]
struct SeenLevel {
    block: LineBlock,
    head_pa: f64,
    sigma_pa: f64,
}

impl LinesWatch {
    pub fn take(&mut self, block: LineBlock) {
        self.latest = Some(block);
        self.noise.take(block.difference_pa);
        if let Some(headspace_pa) = block.headspace_pa {
            self.headspace_noise.take(headspace_pa);
        }
        if block.up.saturating_sub(self.judged) >= LONGEST {
            self.judge(block.up);
        }
        let continues = self.anchor.is_some_and(|anchor| {
            block.up.saturating_sub(anchor.up) <= LONGEST
                && anchor.source == block.source
                && anchor.headspace_pa.is_some() == block.headspace_pa.is_some()
                && anchor.head_pa.is_some() == block.head_pa.is_some()
        });
        let Some(anchor) = self.anchor.filter(|_| continues) else {
            self.begin(block);
            return;
        };
        let step = |to: Option<f64>, from: Option<f64>| to.zip(from).map(|(to, from)| to - from);
        let headspace_pa = step(block.headspace_pa, anchor.headspace_pa);
        let head_pa = step(block.head_pa, anchor.head_pa);
        let is_large =
            |moved: Option<f64>, least_pa: f64| moved.is_some_and(|pa| pa.abs() >= least_pa);
        let of_headspace = is_large(headspace_pa, self.least_headspace_pa());
        let large = of_headspace || is_large(head_pa, self.least_pa());
        let age = block.up.saturating_sub(anchor.up);
        if self.moved == 0 && !large {
            if head_pa.is_none() && age >= LONGEST_BLIND {
                self.begin(block);
            }
            return;
        }
        self.moved += 1;
        if self.moved <= SETTLE {
            return;
        }
        let seconds = age.as_secs_f64();
        let outweighed = block
            .fastest_pa_s
            .zip(headspace_pa)
            .map(|(fastest, moved)| moved.abs() >= OUTWEIGHS * fastest * seconds);
        if large && (head_pa.is_some() || outweighed != Some(false)) {
            let swing = Swing {
                at: block.up,
                difference_pa: block.difference_pa - anchor.difference_pa,
                headspace_pa,
                head_pa,
                sigma_pa: self.noise_of_two_pa(),
                loose: head_pa.is_none() && outweighed.is_none(),
                measured: block.source >= OF_HOOKUP && head_pa.is_some(),
            };
            self.swings.add(of_headspace, swing);
            self.judge(block.up);
        }
        self.begin(block);
    }

    /// Somebody saw the level just now: what lies between two entries is a window, where nothing else tells how the
    /// liquid moved. `head_pa`: ρ·g·h of it, `sigma_pa` its uncertainty, k = 1.
    pub fn saw(&mut self, up: Duration, head_pa: f64, sigma_pa: f64) {
        let latest = self
            .latest
            .filter(|block| up.saturating_sub(block.up) <= JUST_NOW);
        let Some(block) = latest.filter(|block| block.head_pa.is_none()) else {
            self.seen = None;
            return;
        };
        let now = SeenLevel {
            block,
            head_pa,
            sigma_pa,
        };
        let before = self.seen.filter(|before| {
            block.up.saturating_sub(before.block.up) <= BETWEEN_ENTRIES
                && block.headspace_pa.is_some() == before.block.headspace_pa.is_some()
        });
        let Some(before) = before else {
            self.seen = Some(now);
            return;
        };
        let headspace_pa = block.headspace_pa.zip(before.block.headspace_pa);
        let headspace_pa = headspace_pa.map(|(to, from)| to - from);
        let (moved_pa, sigma_pa) = (head_pa - before.head_pa, sigma_pa.hypot(before.sigma_pa));
        let of_headspace = headspace_pa.is_some_and(|pa| pa.abs() >= self.least_headspace_pa());
        if !of_headspace && moved_pa.abs() < self.least_pa().max(SIGMAS * sigma_pa) {
            // The earlier one stays: two small movements may be a large one.
            return;
        }
        let swing = Swing {
            at: block.up,
            difference_pa: block.difference_pa - before.block.difference_pa,
            headspace_pa,
            head_pa: Some(moved_pa),
            sigma_pa: sigma_pa.hypot(self.noise_of_two_pa()),
            loose: false,
            measured: true,
        };
        self.swings.add(of_headspace, swing);
        self.judge(block.up);
        self.seen = Some(now);
    }

    /// What comes next does not belong to what was.
    pub fn interrupt(&mut self) {
        self.anchor = None;
        (self.latest, self.seen) = (None, None);
        self.noise.interrupt();
        self.headspace_noise.interrupt();
    }

    fn begin(&mut self, block: LineBlock) {
        self.anchor = Some(block);
        self.moved = 0;
    }

    fn least_pa(&self) -> f64 {
        (SIGMAS * self.noise.sigma().unwrap_or(f64::INFINITY)).max(LEAST_PA)
    }

    fn least_headspace_pa(&self) -> f64 {
        let of_headspace = self.headspace_noise.sigma().unwrap_or(f64::INFINITY);
        (SIGMAS * of_headspace).max(self.least_pa())
    }

    /// The difference of two means, each with the noise of a period: its own, and the headspace's, which a gain of ±1
    /// brings in.
    fn noise_of_two_pa(&self) -> f64 {
        let own = self.noise.sigma().unwrap_or(0.0);
        own.hypot(self.headspace_noise.sigma().unwrap_or(0.0)) * 2.0_f64.sqrt()
    }

    fn judge(&mut self, up: Duration) {
        self.judged = up;
        let least = Least {
            headspace_pa: self.least_headspace_pa(),
            head_pa: self.least_pa(),
        };
        self.gains = self.swings.gains(up, least);
    }

    pub fn finding(&self, reference: Reference) -> Option<(Fault, Confidence, String)> {
        let gains = self.gains;
        let fault = verdict(&gains, reference)?;
        let mut evidence = Vec::new();
        let healthy = if reference == Reference::Air {
            1.0
        } else {
            0.0
        };
        if let Some(gain) = gains.headspace {
            evidence.push(format!(
                "of a change of headspace pressure the difference shows {:+.2} ± {:.2}, {healthy:.0} is right ({} windows)",
                gain.value, 2.0 * gain.error, gain.count()
            ));
        }
        if let Some(gain) = gains.level {
            evidence.push(format!(
                "of a change of level {:.2} ± {:.2}, 1 is right ({} windows)",
                gain.value,
                2.0 * gain.error,
                gain.count()
            ));
        }
        if gains.loose {
            evidence.push("what flowed meanwhile is not known".to_owned());
        }
        Some((
            fault,
            confidence(&gains, fault, reference),
            evidence.join("; "),
        ))
    }

    pub fn ability(&self, name: &str, terms: &LineTerms) -> Ability {
        let gains = self.gains;
        let mut can = Vec::new();
        let mut cannot = Vec::new();
        match terms.headspace {
            Ok(()) => can.push(format!(
                "what {:.1} kPa of headspace pressure do, {FEWEST} times",
                self.least_headspace_pa() / 1e3
            )),
            Err(why) => cannot.push(why),
        }
        match terms.level {
            Ok(()) => can.push(format!(
                "what {:.1} kPa of liquid do, {FEWEST} times",
                self.least_pa() / 1e3
            )),
            Err(_) if self.seen.is_some() => {
                can.push("what liquid does from one entry of rounds to the next".to_owned());
            }
            Err(why) => cannot.push(why),
        }
        if gains.together {
            cannot.push("headspace and level move together so far");
        }
        if can.is_empty() {
            return Ability::cannot(CHECK, format!("{name}: {}", cannot.join("; ")));
        }
        let not = if cannot.is_empty() {
            String::new()
        } else {
            format!("; not: {}", cannot.join("; "))
        };
        if self.noise.sigma().is_none() {
            return Ability::cannot(CHECK, format!("{name}: the noise is not known yet"));
        }
        Ability::can(CHECK, format!("{name}: {}{not}", can.join("; ")))
    }
}

/// Whether a hookup has what the two gains need, or why not.
#[derive(Clone, Copy, Debug)]
pub struct LineTerms {
    pub headspace: Result<(), &'static str>,
    pub level: Result<(), &'static str>,
}

impl Gain {
    fn is_off(self, healthy: f64) -> bool {
        let off = (self.value - healthy).abs();
        off > OFF && off > STANDARD_ERRORS * self.error
    }

    fn is_near(self, value: f64) -> bool {
        (self.value - value).abs() <= OFF && self.error < OFF / 2.0
    }

    fn is_sure(self) -> bool {
        self.count() >= PROBABLE
    }
}

fn verdict(gains: &Gains, reference: Reference) -> Option<Fault> {
    let (a, b) = (gains.headspace, gains.level);
    let a_is_near = |value: f64| a.is_some_and(|a| a.is_near(value));
    let often = |gains: &[Option<Gain>]| {
        gains
            .iter()
            .flatten()
            .map(|gain| gain.count())
            .sum::<usize>()
            >= FEWEST
    };
    let b_is_off = often(&[b]) && b.is_some_and(|b| b.is_off(1.0));
    let b_is_near = |value: f64| b.is_some_and(|b| b.is_near(value));
    if reference == Reference::Air {
        let a_is_off =
            often(&[a]) && a.is_some_and(|a| a.is_off(1.0)) && a_is_near(0.0) && !gains.loose;
        let b_is_none = b_is_off && b_is_near(0.0) && (a.is_some() || gains.measured);
        let fits = (a.is_none() || a_is_near(0.0)) && (b.is_none() || b_is_near(0.0));
        return ((a_is_off || b_is_none) && fits).then_some(Fault::LinePlugged);
    }
    let a_is_off = often(&[a]) && a.is_some_and(|a| a.is_off(0.0));
    match (a.is_some(), b.is_some()) {
        // Both gains are off: windows of either speak for it.
        (true, true) if often(&[a, b]) && a_is_near(-1.0) && b_is_near(0.0) => {
            Some(Fault::HighSidePlugged)
        }
        (true, true) if a_is_off && a_is_near(1.0) && b_is_near(1.0) => Some(Fault::LowSidePlugged),
        (true, true) if b_is_off && a_is_near(0.0) && b_is_near(0.0) => {
            Some(Fault::BothSidesPlugged)
        }
        (true, true) if b_is_off && a_is_near(0.0) => {
            within(b, 0.0, 1.0).then_some(Fault::EqualiserPassing)
        }
        (true, false) if a_is_off && a_is_near(-1.0) => Some(Fault::HighSidePlugged),
        (true, false) if a_is_off && a_is_near(1.0) && !gains.loose => Some(Fault::LowSidePlugged),
        // That a level stands while liquid flows has a finding of its own.
        (false, true) if b_is_off && b_is_near(0.0) => gains.measured.then_some(Fault::LinePlugged),
        (false, true) if b_is_off => within(b, 0.0, 1.0).then_some(Fault::EqualiserPassing),
        _ => None,
    }
}

fn within(gain: Option<Gain>, low: f64, high: f64) -> bool {
    gain.is_some_and(|gain| low < gain.value && gain.value < high && gain.error < OFF / 2.0)
}

fn confidence(gains: &Gains, fault: Fault, reference: Reference) -> Confidence {
    let (a, b) = (gains.headspace, gains.level);
    let both_ways = a.is_some_and(|a| a.is_sure() && a.up > 0 && a.down > 0);
    let level = b.is_some_and(Gain::is_sure);
    let sure = match fault {
        // Pressing liquid out with gas looks like it, one way only.
        Fault::HighSidePlugged | Fault::LowSidePlugged => {
            both_ways && !gains.loose && (b.is_none() || level)
        }
        Fault::BothSidesPlugged => both_ways && level,
        Fault::LinePlugged if reference == Reference::Air => both_ways || level,
        // A stated flow that is wrong looks like it.
        _ => false,
    };
    if sure {
        Confidence::Probable
    } else {
        Confidence::Possible
    }
}

impl Finding {
    /// Of one hookup, by its name.
    pub fn of_hookup(
        name: &std::sync::Arc<str>,
        (fault, confidence, evidence): (Fault, Confidence, String),
    ) -> Self {
        Finding::of(fault, name, confidence, evidence)
    }
}
