//! Movement of a tank at rest: the slope of its mass, not of its level, which warmth moves too.
//!
//! Standard error σ·√(12/Neff)/T, with Neff = N·(1 − ρ)/(1 + ρ) from the residuals' correlation from one to the
//! next; and a floor from what the transmitter's temperature effect can feign over the stretch. What is
//! below four standard errors or below the floor is not told. Beside it stands what is usual at the same hours of
//! other days (`usual`): a movement is probable only where it is clearly more. This is no leak detection in the sense of a regulation.

use super::finding::{Ability, Confidence, Fault};
use super::fit::Fit;
use super::usual::{RestHour, Usual};
use std::time::Duration;

const CHECK: &str = "movement at rest";
/// A tank that has just come to rest still swings. Common practice, no source.
const SETTLES: Duration = Duration::from_secs(600);
/// Points kept; where they are full, two become one of twice the time.
const POINTS: usize = 128;
const SHORTEST: Duration = Duration::from_secs(60);
/// For so long the mass may be unknown while nothing flows. Common practice, no source.
const LONGEST_GAP: Duration = Duration::from_secs(3600);
const STANDARD_ERRORS: f64 = 4.0;
const POSSIBLE: Duration = Duration::from_secs(2 * 3600);
const PROBABLE: Duration = Duration::from_secs(8 * 3600);
/// Points that a slope needs.
const FEWEST: usize = 24;
/// By how much the ambient may have moved where nobody measures it. Common practice, no source.
const AMBIENT_K: f64 = 10.0;
/// Beyond this a movement is probable: times of the limit.
const CLEARLY: f64 = 2.0;

/// A tank at rest over a period.
#[derive(Clone, Copy, Debug)]
pub struct RestBlock {
    pub up: Duration,
    /// Of the day, UTC.
    pub hour: u8,
    pub mass_kg: f64,
    pub ambient_k: Option<f64>,
}

/// What turns masses into what people read, and pressures into masses.
#[derive(Clone, Copy, Debug)]
pub struct RestTerms {
    pub density_kg_m3: f64,
    /// kg for each Pa at the transmitter: A/g.
    pub kg_per_pa: f64,
    /// Of the transmitter, Pa/K.
    pub effect_pa_k: Option<f64>,
    /// What the site file lets it move by, m³/s.
    pub allowed_m3_s: Option<f64>,
}

/// Memory of a stretch of rest; 2 kB of points, 1.3 kB beside them, most of it what is usual.
#[derive(Clone, Debug, Default)]
pub struct IdleWatch {
    begun: Option<Duration>,
    last: Duration,
    points: Vec<(f64, f64)>,
    each: Duration,
    open: (f64, f64, u32),
    opened: Duration,
    ambient_k: Option<(f64, f64)>,
    ambient_unknown: bool,
    slope: Option<Slope>,
    pub usual: Usual,
    against: Against,
}

/// The whole hours of this stretch, against what is usual at them.
#[derive(Clone, Copy, Debug, Default)]
struct Against {
    hours: u32,
    /// Of one of them it is not known what is usual.
    unknown: bool,
    moved_kg_s: f64,
    usual_kg_s: f64,
    variance: f64,
}

/// Of the mass, kg/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    pub per_second: f64,
    pub standard_error: f64,
    pub seconds: f64,
}

impl IdleWatch {
    /// A new one that knows what is usual.
    pub fn knowing(usual: Usual) -> Self {
        Self {
            usual,
            ..Self::default()
        }
    }

    /// None: it is not at rest. Where its mass is not known for a while, nothing is to be said.
    pub fn take(&mut self, block: Option<RestBlock>) {
        let gap = block.map(|block| block.up.saturating_sub(self.last));
        if gap.is_some_and(|gap| gap > LONGEST_GAP) {
            self.take(None);
        }
        let Some(block) = block else {
            if self.begun.is_some() {
                let points = std::mem::take(&mut self.points);
                let usual = std::mem::take(&mut self.usual);
                *self = Self {
                    points,
                    ..Self::knowing(usual)
                };
                self.points.clear();
                self.usual.interrupt();
            }
            return;
        };
        self.last = block.up;
        let begun = *self.begun.get_or_insert(block.up);
        if block.up.saturating_sub(begun) < SETTLES {
            return;
        }
        match block.ambient_k {
            Some(k) => {
                let (low, high) = self.ambient_k.unwrap_or((k, k));
                self.ambient_k = Some((low.min(k), high.max(k)));
            }
            None => self.ambient_unknown = true,
        }
        let up_s = block.up.as_secs_f64();
        if let Some(over) = self.usual.take(block.hour, up_s, block.mass_kg) {
            self.against.take(over, &self.usual);
            self.usual.learn(over);
        }
        if self.points.capacity() == 0 {
            self.points.reserve_exact(POINTS);
        }
        if self.open.2 == 0 {
            self.opened = block.up;
            self.each = self.each.max(SHORTEST);
        }
        self.open.0 += block.up.as_secs_f64();
        self.open.1 += block.mass_kg;
        self.open.2 += 1;
        if block.up.saturating_sub(self.opened) >= self.each {
            let count = f64::from(self.open.2);
            self.points.push((self.open.0 / count, self.open.1 / count));
            self.open = (0.0, 0.0, 0);
            self.slope = slope(&self.points);
            if self.points.len() == POINTS {
                self.halve();
            }
        }
    }

    fn halve(&mut self) {
        for place in 0..POINTS / 2 {
            let (first, second) = (self.points[2 * place], self.points[2 * place + 1]);
            self.points[place] = (
                f64::midpoint(first.0, second.0),
                f64::midpoint(first.1, second.1),
            );
        }
        self.points.truncate(POINTS / 2);
        self.each *= 2;
    }

    pub fn slope(&self) -> Option<Slope> {
        self.slope
    }

    /// The smallest movement that counts, kg/s.
    fn limit(&self, slope: &Slope, terms: &RestTerms) -> f64 {
        let moved_k = match self.ambient_k {
            Some((low, high)) if !self.ambient_unknown => high - low,
            _ => AMBIENT_K,
        };
        let floor = terms.effect_pa_k.unwrap_or(0.0) * moved_k * terms.kg_per_pa / slope.seconds;
        let allowed = terms.allowed_m3_s.unwrap_or(0.0) * terms.density_kg_m3;
        (STANDARD_ERRORS * slope.standard_error)
            .max(floor)
            .max(allowed)
    }

    pub fn finding(&self, terms: &RestTerms) -> Option<(Fault, Confidence, String)> {
        let slope = self
            .slope
            .filter(|slope| slope.seconds >= POSSIBLE.as_secs_f64())?;
        let limit = self.limit(&slope, terms);
        let size = slope.per_second.abs();
        if size <= limit {
            return None;
        }
        let is_more = |(moved, usual, error): (f64, f64, f64)| {
            let more = (moved - usual) * slope.per_second.signum();
            more > (STANDARD_ERRORS * error).max(limit)
        };
        let usual = self.against.usual();
        let sure = slope.seconds >= PROBABLE.as_secs_f64()
            && size > CLEARLY * limit
            // What warmth can feign is not known: it may be all of it.
            && terms.effect_pa_k.is_some()
            && usual.is_none_or(is_more);
        let litres = |kg_s: f64| kg_s / terms.density_kg_m3 * 3.6e6;
        let mut text = format!(
            "{:+.2} ± {:.2} L/h over {:.1} h in which nothing should flow; {:.2} L/h is the least that counts",
            litres(slope.per_second),
            litres(2.0 * slope.standard_error),
            slope.seconds / 3600.0,
            litres(limit)
        );
        if let Some((moved, usual, error)) = usual {
            text += &format!(
                "; {:+.2} L/h by the hour, {:+.2} ± {:.2} is usual at these hours of other days",
                litres(moved),
                litres(usual),
                litres(2.0 * error)
            );
        }
        if terms.effect_pa_k.is_none() {
            text +=
                "; the transmitter's temperature_effect is not stated, so warmth may be what moves";
        }
        let fault = if slope.per_second < 0.0 {
            Fault::LosesAtRest
        } else {
            Fault::GainsAtRest
        };
        Some((
            fault,
            if sure {
                Confidence::Probable
            } else {
                Confidence::Possible
            },
            text,
        ))
    }

    pub fn ability(&self, terms: Option<&RestTerms>, rest_known: bool) -> Ability {
        if !rest_known {
            let reason = "nothing says when nothing flows: name `idle` under [tank.checks], or say of every stream what it carries";
            return Ability::cannot(CHECK, reason);
        }
        let Some((slope, terms)) = self.slope.zip(terms) else {
            return Ability::cannot(CHECK, "it has not been at rest for long enough");
        };
        let least = self.limit(&slope, terms) / terms.density_kg_m3 * 3.6e6;
        let usual = match self.usual.known() {
            0 => "; what is usual is known of no hour of the day yet".to_owned(),
            hours => format!("; what is usual is known of {hours} hours of the day"),
        };
        let unstated = if terms.effect_pa_k.is_none() {
            "; the transmitter's temperature effect is not stated"
        } else {
            ""
        };
        Ability::can(
            CHECK,
            format!(
                "{least:.2} L/h after {:.1} h of rest, less after a longer one{unstated}{usual}",
                slope.seconds / 3600.0
            ),
        )
    }
}

impl Against {
    fn take(&mut self, over: RestHour, usual: &Usual) {
        match usual.at(over.hour) {
            None => self.unknown = true,
            Some(usual) => {
                self.hours += 1;
                self.moved_kg_s += over.kg_s;
                self.usual_kg_s += usual.kg_s;
                self.variance += usual.sd_kg_s * usual.sd_kg_s;
            }
        }
    }

    /// What moved, what is usual and the standard error of their difference, kg/s: the mean of the hours.
    fn usual(&self) -> Option<(f64, f64, f64)> {
        let hours = f64::from(self.hours);
        (self.hours > 0 && !self.unknown).then(|| {
            (
                self.moved_kg_s / hours,
                self.usual_kg_s / hours,
                self.variance.sqrt() / hours,
            )
        })
    }
}

/// The slope of equally spaced points.
pub fn slope(points: &[(f64, f64)]) -> Option<Slope> {
    let (first, last) = (points.first()?, points.last()?);
    if points.len() < FEWEST {
        return None;
    }
    let (middle, from) = (f64::midpoint(first.0, last.0), first.1);
    let around = points
        .iter()
        .map(|(time_s, mass)| (1.0, time_s - middle, mass - from));
    let fit = Fit::of(around.clone(), 0.0)?;
    let residuals = || {
        around
            .clone()
            .map(|(one, x, y)| y - fit.gains[0] * one - fit.gains[1] * x)
    };
    let squares: f64 = residuals().map(|residual| residual * residual).sum();
    let products: f64 = residuals()
        .zip(residuals().skip(1))
        .map(|(a, b)| a * b)
        .sum();
    let correlation = if squares > 0.0 {
        (products / squares).clamp(0.0, 0.98)
    } else {
        0.0
    };
    // Neff = N·(1 − ρ)/(1 + ρ);   se = σ·√(12/Neff)/T
    let effective = (points.len() as f64 * (1.0 - correlation) / (1.0 + correlation)).max(3.0);
    let seconds = last.0 - first.0;
    Some(Slope {
        per_second: fit.gains[1],
        standard_error: fit.residual_sd * (12.0 / effective).sqrt() / seconds,
        seconds,
    })
}
