//! What a tank at rest should not follow: the temperature of the air, and the weather.
//!
//! Means of half an hour over two days and more without movement, freed of their trend: where the head, legs and gas
//! taken off as they are worked out, goes with the ambient temperature (|r| > 0.8) by more than three times what the
//! transmitter is specified for, liquid is trapped in a line, or a leg is not as warm, or does not expand, as the site
//! file says. The difference itself may follow: a sound wet leg of 4 m can make 20 Pa of a kelvin. Where a transmitter against the air
//! goes with the barometer, its vent tube is blocked or its gauge is sealed. Readings may be missing for two hours; a
//! half hour without any leaves a hole.

use super::finding::{Ability, Confidence, Fault};
use std::time::Duration;

const TEMPERATURE: &str = "ambient temperature";
const WEATHER: &str = "weather";
const EACH: Duration = Duration::from_secs(1800);
const POINTS: usize = 128;
/// Two days.
const FEWEST: usize = 96;
const LONGEST_GAP: Duration = Duration::from_secs(7200);
const CORRELATED: f64 = 0.8;
const SPECIFICATIONS: f64 = 3.0;
/// By how much the outside must have moved: K and Pa. Common practice, no source.
const LEAST_K: f64 = 3.0;
const LEAST_PA: f64 = 300.0;
/// Of a change of the barometer a sealed gauge shows all, a healthy one nothing.
const SHARE: f64 = 0.3;

#[derive(Clone, Copy, Debug)]
pub struct OutsideBlock {
    pub up: Duration,
    /// Of the liquid above the tap.
    pub head_pa: f64,
    pub ambient_k: Option<f64>,
    pub barometer_pa: Option<f64>,
}

/// Memory of a hookup at rest; 1.5 kB of points and 200 bytes.
#[derive(Clone, Debug, Default)]
pub struct OutsideWatch {
    opened: Option<Duration>,
    last: Duration,
    /// Of head, ambient temperature, barometer, each with how many are known.
    sums: [(f64, u32); 3],
    /// The same, the head from the first one on; not a number where unknown.
    points: Vec<[f32; 3]>,
    zero_pa: f64,
    /// With the ambient temperature and with the barometer, as last worked out.
    goes_with: [Option<Going>; 2],
}

/// How one thing goes with another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Going {
    pub slope: f64,
    pub correlation: f64,
    /// From the lowest to the highest of the outside.
    pub range: f64,
}

impl OutsideWatch {
    /// None: it is not at rest. Where nothing is known for a while, nothing is to be said.
    pub fn take(&mut self, block: Option<OutsideBlock>) {
        let too_long = |block: &OutsideBlock| block.up.saturating_sub(self.last) > LONGEST_GAP;
        let goes_on = block.is_some_and(|block| !too_long(&block));
        if !goes_on {
            self.points.clear();
            self.goes_with = [None; 2];
            (self.opened, self.sums) = (None, Default::default());
        }
        let Some(block) = block else { return };
        self.last = block.up;
        let mut opened = *self.opened.get_or_insert(block.up);
        while block.up.saturating_sub(opened) >= EACH {
            opened += EACH;
            self.close();
            self.opened = Some(opened);
        }
        let values = [Some(block.head_pa), block.ambient_k, block.barometer_pa];
        for ((sum, count), value) in self.sums.iter_mut().zip(values) {
            *sum += value.unwrap_or(0.0);
            *count += u32::from(value.is_some());
        }
    }

    fn close(&mut self) {
        let sums = std::mem::take(&mut self.sums);
        let blocks = sums[0].1;
        let [head_pa, ambient_k, barometer_pa] = sums.map(|(sum, count)| {
            let known = count > 0 && 2 * count >= blocks;
            if known {
                sum / f64::from(count)
            } else {
                f64::NAN
            }
        });
        if self.points.is_empty() {
            self.zero_pa = head_pa;
        }
        if self.points.len() == POINTS {
            self.points.remove(0);
        }
        let point = [head_pa - self.zero_pa, ambient_k, barometer_pa];
        self.points.push(point.map(|value| value as f32));
        self.goes_with = [self.going(1), self.going(2)];
    }

    /// The half hours in which the head was known.
    fn known(&self) -> usize {
        self.points
            .iter()
            .filter(|point| point[0].is_finite())
            .count()
    }

    /// How the head goes with the ambient temperature (1) or the barometer (2).
    fn going(&self, outside: usize) -> Option<Going> {
        let points = self.points.iter().enumerate().filter_map(|(place, point)| {
            let [x, y] = [point[outside], point[0]].map(f64::from);
            (x.is_finite() && y.is_finite()).then_some([place as f64, x, y])
        });
        going(points)
    }

    pub fn findings(
        &self,
        effect_pa_k: Option<f64>,
        open_to_air: bool,
    ) -> impl Iterator<Item = (Fault, Confidence, String)> {
        let warm = self.goes_with[0]
            .zip(effect_pa_k)
            .filter(|(going, effect)| {
                going.range >= LEAST_K
                    && going.correlation.abs() > CORRELATED
                    && going.slope.abs() > SPECIFICATIONS * effect
            });
        let warm = warm.map(|(going, effect)| {
            let text = format!(
                "at rest the head went by {:+.1} Pa with each kelvin of ambient temperature (r = {:.2}, over {:.1} K); the transmitter is specified for {effect:.1}",
                going.slope, going.correlation, going.range
            );
            (Fault::FollowsTemperature, Confidence::Possible, text)
        });
        let weather = self.goes_with[1].filter(|going| {
            open_to_air
                && going.range >= LEAST_PA
                && going.correlation.abs() > CORRELATED
                && going.slope.abs() > SHARE
        });
        let weather = weather.map(|going| {
            let text = format!(
                "at rest the head showed {:+.2} of each change of the barometer (r = {:.2}, over {:.1} hPa)",
                going.slope, going.correlation, going.range / 100.0
            );
            (Fault::FollowsWeather, Confidence::Possible, text)
        });
        warm.into_iter().chain(weather)
    }

    pub fn abilities(&self, name: &str, terms: &OutsideTerms) -> [Ability; 2] {
        let learning = || format!("{name}: {} of {FEWEST} half hours at rest", self.known());
        let temperature = match (terms.ambient, terms.effect_pa_k, terms.rest) {
            (false, _, _) => Ability::cannot(
                TEMPERATURE,
                format!("{name}: no transmitter is named for the ambient temperature"),
            ),
            (_, None, _) => Ability::cannot(
                TEMPERATURE,
                format!("{name}: the transmitter's temperature effect is not stated"),
            ),
            (_, _, false) => Ability::cannot(
                TEMPERATURE,
                format!("{name}: nothing says when nothing flows"),
            ),
            _ if self.known() < FEWEST => Ability::cannot(TEMPERATURE, learning()),
            (_, Some(effect), _) => Ability::can(
                TEMPERATURE,
                format!("{name}: {:.1} Pa for each kelvin", SPECIFICATIONS * effect),
            ),
        };
        let weather = match (terms.open_to_air, terms.barometer, terms.rest) {
            (false, _, _) => Ability::cannot(
                WEATHER,
                format!("{name}: it is not counted from the air outside"),
            ),
            (_, false, _) => Ability::cannot(WEATHER, format!("{name}: no barometer is named")),
            (_, _, false) => {
                Ability::cannot(WEATHER, format!("{name}: nothing says when nothing flows"))
            }
            _ if self.known() < FEWEST => Ability::cannot(WEATHER, learning()),
            _ => Ability::can(
                WEATHER,
                format!(
                    "{name}: {SHARE} of a change of the barometer by {:.0} hPa",
                    LEAST_PA / 100.0
                ),
            ),
        };
        [temperature, weather]
    }
}

/// What of the site these need.
#[derive(Clone, Copy, Debug)]
pub struct OutsideTerms {
    pub ambient: bool,
    pub barometer: bool,
    pub rest: bool,
    pub open_to_air: bool,
    pub effect_pa_k: Option<f64>,
}

/// Slope and correlation of what is outside and inside, each at its time and freed of its trend; none of too few.
fn going(points: impl Iterator<Item = [f64; 3]> + Clone) -> Option<Going> {
    if points.clone().count() < FEWEST {
        return None;
    }
    let values = |place: usize| points.clone().map(move |point| (point[0], point[place]));
    let (x, y) = (Trend::of(values(1))?, Trend::of(values(2))?);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for [time, outside, inside] in points.clone() {
        let (off_x, off_y) = (outside - x.at(time), inside - y.at(time));
        xx += off_x * off_x;
        xy += off_x * off_y;
        yy += off_y * off_y;
    }
    let outside = || values(1).map(|(_, outside)| outside);
    let range =
        outside().fold(f64::NEG_INFINITY, f64::max) - outside().fold(f64::INFINITY, f64::min);
    (xx > 0.0 && yy > 0.0).then(|| Going {
        slope: xy / xx,
        correlation: xy / (xx * yy).sqrt(),
        range,
    })
}

/// The least-squares line through values at their times.
struct Trend {
    mean: f64,
    slope: f64,
    middle: f64,
}

impl Trend {
    fn of(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<Self> {
        let count = points.clone().count() as f64;
        let sum = |pick: fn((f64, f64)) -> f64| points.clone().map(pick).sum::<f64>();
        let (middle, mean) = (sum(|point| point.0) / count, sum(|point| point.1) / count);
        let (mut tt, mut ty) = (0.0, 0.0);
        for (time, value) in points {
            let t = time - middle;
            tt += t * t;
            ty += t * (value - mean);
        }
        (tt > 0.0).then(|| Self {
            mean,
            slope: ty / tt,
            middle,
        })
    }

    fn at(&self, time: f64) -> f64 {
        self.mean + self.slope * (time - self.middle)
    }
}
