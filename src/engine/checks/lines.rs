//! Impulse lines: what a change of headspace pressure and a change of level each do to the difference.
//!
//! ```text
//!     ΔDP = a·ΔP + b·ρ·g·Δh + e
//! ```
//!
//! A closed differential has a = 0 and b = 1, a transmitter against the air on a closed tank a = 1. A plugged
//! high side makes (−1, 0) of the first, a plugged low side (1, 1), both (0, 0), a passing equaliser (0, 0…1). ΔP
//! comes from a headspace transmitter of its own, Δh from meters and pumps through the vessel, or from another
//! hookup. A window ends once one of the two has moved by 10 σ and what it did has had time to show: a
//! partial plug is a lag, not a gain. A gain is decided where it is off by more than 0.3 and 4 standard errors;
//! nothing is where the two inputs move together (correlation above 0.9).
//!
//! Where flow is not known, a window counts if the headspace moved by ten times what the largest flow can
//! make. Where that is not known either only a = −1 is told: filling raises level and headspace together and
//! looks like a = +1, but nothing common looks like −1 both ways.

use super::finding::{Ability, Confidence, Fault, Finding};
use super::fit::Fit;
use super::noise::Noise;
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
/// A window counts so long.
const REMEMBERED: Duration = Duration::from_secs(3 * 86_400);
/// Windows that are fitted: of either input, so that much filling does not push out what the headspace did.
const WINDOWS: usize = 6;
const OFF: f64 = 0.3;
const STANDARD_ERRORS: f64 = 4.0;
const CORRELATED: f64 = 0.9;
/// Windows that moved an input before its gain is judged, and before that is probable.
const POSSIBLE: usize = 3;
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
    noise: Noise,
    headspace_noise: Noise,
    anchor: Option<LineBlock>,
    moved: u32,
    /// In which the headspace moved, and in which the level alone did.
    windows: [[Option<Window>; WINDOWS]; 2],
    next: [usize; 2],
    /// What they say, as last worked out, and when.
    gains: Gains,
    judged: Duration,
}

#[derive(Clone, Copy, Debug)]
struct Window {
    at: Duration,
    difference_pa: f64,
    headspace_pa: Option<f64>,
    head_pa: Option<f64>,
    /// Neither the flow nor the largest flow was known.
    loose: bool,
    /// The level is another hookup's.
    by_hookup: bool,
}

/// The two gains as far as they are known, with their standard errors.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gains {
    pub headspace: Option<Gain>,
    pub level: Option<Gain>,
    /// Both moved, but together.
    pub together: bool,
    loose: bool,
    by_hookup: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gain {
    pub value: f64,
    pub error: f64,
    /// Windows in which its input moved, up and down.
    pub up: usize,
    pub down: usize,
}

impl LinesWatch {
    pub fn take(&mut self, block: LineBlock) {
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
            let ring = usize::from(!of_headspace);
            self.windows[ring][self.next[ring]] = Some(Window {
                at: block.up,
                difference_pa: block.difference_pa - anchor.difference_pa,
                headspace_pa,
                head_pa,
                loose: head_pa.is_none() && outweighed.is_none(),
                by_hookup: block.source >= OF_HOOKUP,
            });
            self.next[ring] = (self.next[ring] + 1) % WINDOWS;
            self.judge(block.up);
        }
        self.begin(block);
    }

    /// What comes next does not belong to what was.
    pub fn interrupt(&mut self) {
        self.anchor = None;
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

    fn recent(&self, up: Duration) -> impl Iterator<Item = &Window> + Clone {
        let all = self.windows.iter().flatten().flatten();
        all.filter(move |window| up.saturating_sub(window.at) <= REMEMBERED)
    }

    fn judge(&mut self, up: Duration) {
        self.judged = up;
        self.gains = self.fitted(up);
    }

    fn fitted(&self, up: Duration) -> Gains {
        let (least_pa, least_headspace_pa) = (self.least_pa(), self.least_headspace_pa());
        let count = |pa: fn(&Window) -> Option<f64>, least_pa: f64, sign: f64| {
            let moved = self.recent(up).filter_map(pa);
            moved.filter(|moved| moved * sign >= least_pa).count()
        };
        let both = |pa: fn(&Window) -> Option<f64>, least_pa: f64| {
            (count(pa, least_pa, 1.0), count(pa, least_pa, -1.0))
        };
        let of_headspace = both(|window| window.headspace_pa, least_headspace_pa);
        let of_level = both(|window| window.head_pa, least_pa);
        let judged = |(up, down): (usize, usize)| up + down >= POSSIBLE;
        let points = self.recent(up).map(|window| {
            let inputs = (
                window.headspace_pa.unwrap_or(0.0),
                window.head_pa.unwrap_or(0.0),
            );
            (inputs.0, inputs.1, window.difference_pa)
        });
        // The difference of two means, each with the noise of a period.
        let least_sd = self.noise.sigma().unwrap_or(0.0) * 2.0_f64.sqrt();
        let gain = |fit: &Fit, place: usize, (up, down)| Gain {
            value: fit.gains[place],
            error: fit.errors[place],
            up,
            down,
        };
        let loose = self.recent(up).any(|window| window.loose);
        let by_hookup = self.recent(up).any(|window| window.by_hookup);
        let none = Gains {
            loose,
            by_hookup,
            ..Gains::default()
        };
        match (judged(of_headspace), judged(of_level)) {
            (true, true) => match Fit::of(points, least_sd) {
                Some(fit) if fit.correlation.abs() <= CORRELATED => Gains {
                    headspace: Some(gain(&fit, 0, of_headspace)),
                    level: Some(gain(&fit, 1, of_level)),
                    ..none
                },
                _ => Gains {
                    together: true,
                    ..none
                },
            },
            (true, false) => Gains {
                headspace: Fit::of_one(points.map(|(p, _, y)| (p, y)), least_sd)
                    .map(|fit| gain(&fit, 0, of_headspace)),
                ..none
            },
            (false, true) => Gains {
                level: Fit::of_one(points.map(|(_, u, y)| (u, y)), least_sd)
                    .map(|fit| gain(&fit, 0, of_level)),
                ..none
            },
            (false, false) => none,
        }
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
                gain.value, 2.0 * gain.error, gain.up + gain.down
            ));
        }
        if let Some(gain) = gains.level {
            evidence.push(format!(
                "of a change of level {:.2} ± {:.2}, 1 is right ({} windows)",
                gain.value,
                2.0 * gain.error,
                gain.up + gain.down
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
                "what {:.1} kPa of headspace pressure do, {POSSIBLE} times",
                self.least_headspace_pa() / 1e3
            )),
            Err(why) => cannot.push(why),
        }
        match terms.level {
            Ok(()) => can.push(format!(
                "what {:.1} kPa of liquid do, {POSSIBLE} times",
                self.least_pa() / 1e3
            )),
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
        self.up + self.down >= PROBABLE
    }
}

fn verdict(gains: &Gains, reference: Reference) -> Option<Fault> {
    let (a, b) = (gains.headspace, gains.level);
    let a_is_near = |value: f64| a.is_some_and(|a| a.is_near(value));
    let b_is_off = b.is_some_and(|b| b.is_off(1.0));
    let b_is_near = |value: f64| b.is_some_and(|b| b.is_near(value));
    if reference == Reference::Air {
        let a_is_off = a.is_some_and(|a| a.is_off(1.0)) && a_is_near(0.0) && !gains.loose;
        let b_is_none = b_is_off && b_is_near(0.0) && (a.is_some() || gains.by_hookup);
        let fits = (a.is_none() || a_is_near(0.0)) && (b.is_none() || b_is_near(0.0));
        return ((a_is_off || b_is_none) && fits).then_some(Fault::LinePlugged);
    }
    let a_is_off = a.is_some_and(|a| a.is_off(0.0));
    match (a.is_some(), b.is_some()) {
        (true, true) if a_is_off && a_is_near(-1.0) && b_is_near(0.0) => {
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
        (false, true) if b_is_off && b_is_near(0.0) => {
            gains.by_hookup.then_some(Fault::LinePlugged)
        }
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
