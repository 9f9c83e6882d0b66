//! The plan: everything the engine needs to know of a site, already checked, in SI units.
//!
//! The site file's check builds it; nothing in it can be inconsistent, so the engine never refuses one.

use super::ids::{ContactId, LinkId, TransmitterId};
use crate::physics::liquid::{Gas, Liquid};
use crate::physics::vessel::Vessel;
use crate::quantity::{
    AbsolutePressure, Acceleration, Length, Temperature, Unit, VolumeRate, metres,
};
use std::sync::Arc;
use std::time::Duration;

#[derive(Clone, Debug)]
pub struct Plan {
    /// The site's name as written, and folded for topics and labels.
    pub site: Arc<str>,
    pub site_folded: Arc<str>,
    /// Fingerprint of the site file that this plan was made from.
    pub fingerprint: Arc<str>,
    pub gravity: Acceleration,
    /// k = 2.
    pub gravity_uncertainty: Acceleration,
    pub ambient: Ambient,
    pub links: Vec<LinkPlan>,
    pub transmitters: Vec<TransmitterPlan>,
    pub contacts: Vec<ContactPlan>,
    pub tanks: Vec<TankPlan>,
}

/// The air around the site.
#[derive(Clone, Debug)]
pub struct Ambient {
    pub temperature: Source,
    /// Station pressure at `pressure_at`, never reduced to sea level.
    pub pressure: Source,
    /// Height of the barometer above the tank datum.
    pub pressure_at: Length,
    /// Taken where a tag gives no value: a temperature in K and a pressure in Pa.
    pub temperature_otherwise: Temperature,
    pub pressure_otherwise: AbsolutePressure,
}

/// Where a changing quantity comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum Source {
    /// A number in SI units (absolute pressures for pressures).
    Fixed(f64),
    Ambient,
    /// The mean of one or more transmitters.
    Tags(Vec<TransmitterId>),
}

#[derive(Clone, Debug)]
pub struct LinkPlan {
    pub name: Arc<str>,
    pub poll_every: Duration,
}

/// What a transmitter reads; the dimension of its value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reads {
    Pressure(Measures),
    Temperature,
    Density,
    Flow,
    Level,
}

/// What a pressure transmitter's number is counted from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measures {
    Gauge,
    Absolute,
    Differential,
    /// Gauge against the pressure that it was sealed at.
    SealedGauge(AbsolutePressure),
}

#[derive(Clone, Debug)]
pub struct TransmitterPlan {
    pub tag: Arc<str>,
    pub link: LinkId,
    pub poll_every: Duration,
    pub reads: Reads,
    /// The unit that its number is in once scaled; SI by `unit.to_si`.
    pub unit: &'static Unit,
    /// Register number to number in `unit`: `(raw − raw0)·slope + value0`.
    pub scale: Option<LinearScale>,
    /// Where the register is a loop current: the two raw numbers at 4 and 20 mA, for NE 43.
    pub loop_current: Option<LoopCurrent>,
    /// Set range and sensor limits in SI units, low ≤ high.
    pub span: Option<(f64, f64)>,
    pub limits: Option<(f64, f64)>,
    /// Half-width of the accuracy, in SI units (a share of the span is already worked out).
    pub accuracy: Option<f64>,
    /// Half-width of the temperature effect per kelvin away from calibration, SI per K.
    pub temperature_effect: Option<f64>,
    /// Half-width of the drift per second since `calibrated`, SI per s.
    pub stability: Option<f64>,
    /// Day of the last calibration, as the site file says.
    pub calibrated: Option<jiff::civil::Date>,
    /// Age at the start of the run; none until whoever reads the clock has filled it in.
    pub since_calibration: Option<Duration>,
    /// Subtracted from the value, in SI units.
    pub zero: f64,
    pub damping: Duration,
    pub resolution: Option<f64>,
    /// Raw numbers that mean failure.
    pub failed: Vec<f64>,
    /// No new reading for this long: uncertain; for that long: bad.
    pub uncertain_after: Duration,
    pub bad_after: Duration,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinearScale {
    pub raw: (f64, f64),
    pub value: (f64, f64),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopCurrent {
    /// Raw numbers at 4 mA and at 20 mA.
    pub raw: (f64, f64),
    /// False where the card cannot go below 4 mA: the low failure band cannot be seen.
    pub live_zero: bool,
}

/// An on/off input.
#[derive(Clone, Debug)]
pub struct ContactPlan {
    pub tag: Arc<str>,
    pub link: LinkId,
    pub poll_every: Duration,
    /// On is 0.
    pub invert: bool,
    /// What people are told for on and for off.
    pub on_means: Option<Arc<str>>,
    pub off_means: Option<Arc<str>>,
    /// As of a transmitter.
    pub uncertain_after: Duration,
    pub bad_after: Duration,
}

impl ContactPlan {
    pub fn means(&self, on: bool) -> Option<&Arc<str>> {
        if on {
            self.on_means.as_ref()
        } else {
            self.off_means.as_ref()
        }
    }
}

/// A contact in one of its two states: "HS-101 on".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Condition {
    pub contact: ContactId,
    pub on: bool,
}

#[derive(Clone, Debug)]
pub struct TankPlan {
    pub name: Arc<str>,
    pub title: Arc<str>,
    pub vessel: Vessel,
    /// Height of the site's own zero above the vessel's lowest inside point; taps, marks, alarms and
    /// shown levels count from it.
    pub zero: Length,
    pub marks: Marks,
    pub liquid: LiquidPlan,
    pub gas: GasPlan,
    pub hookup: Hookup,
    /// k = 2 of each elevation.
    pub elevation_uncertainty: Length,
    pub correction: Correction,
    pub streams: Vec<Stream>,
    pub jump: Option<JumpCheck>,
    /// The tank's alarms; the last one is always measurement-failed.
    pub alarms: Vec<AlarmPlan>,
}

/// `level shown = gain · level + offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correction {
    pub gain: f64,
    pub offset: Length,
}

impl Default for Correction {
    fn default() -> Self {
        Self {
            gain: 1.0,
            offset: metres(0.0),
        }
    }
}

/// Levels that the site works to, from the site's zero.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Marks {
    pub critical_high: Option<Length>,
    pub critical_low: Option<Length>,
    pub overflow: Option<Length>,
    pub working_high: Option<Length>,
    pub working_low: Option<Length>,
    pub heel: Option<Length>,
}

#[derive(Clone, Debug)]
pub struct LiquidPlan {
    pub liquid: Liquid,
    pub temperature: Source,
}

#[derive(Clone, Debug)]
pub struct GasPlan {
    pub gas: Gas,
    pub temperature: Source,
    /// Absolute pressure of the gas; a tag by what its transmitter measures.
    pub pressure: Source,
    /// False where the site file says nothing and air at ambient is taken.
    pub given: bool,
}

/// What fills a leg between tap and diaphragm.
#[derive(Clone, Debug)]
pub enum LegFill {
    /// The tank's own liquid, at ambient temperature.
    OwnLiquid,
    /// The gas above the liquid, at ambient temperature: a dry leg.
    Gas,
    Filled(LiquidPlan),
}

#[derive(Clone, Debug)]
pub struct Leg {
    pub tap: Length,
    pub fill: LegFill,
}

/// How transmitters are connected; each is one way to fill in the balance.
#[derive(Clone, Debug)]
pub enum Hookup {
    /// Gauge transmitter, low side open to the air; `vent` where the gas above the liquid is not air.
    Vented {
        transmitter: TransmitterId,
        at: Length,
        high: Leg,
        vent: Option<Length>,
    },
    /// One differential transmitter; `reversed`: its high port is on the low leg.
    Differential {
        transmitter: TransmitterId,
        at: Length,
        high: Leg,
        low: Leg,
        reversed: bool,
    },
    /// A transmitter at the bottom and one in the headspace.
    TwoTransmitter { bottom: Port, headspace: Port },
}

/// A transmitter of its own at the end of a leg.
#[derive(Clone, Debug)]
pub struct Port {
    pub transmitter: TransmitterId,
    pub at: Length,
    pub leg: Leg,
}

impl Hookup {
    pub fn name(&self) -> &'static str {
        match self {
            Hookup::Vented { .. } => "vented",
            Hookup::Differential { .. } => "differential",
            Hookup::TwoTransmitter { .. } => "two-transmitter",
        }
    }
    /// The transmitters whose pressures make the level.
    pub fn transmitters(&self) -> impl Iterator<Item = TransmitterId> + '_ {
        let (first, second) = match self {
            Hookup::Vented { transmitter, .. } | Hookup::Differential { transmitter, .. } => {
                (*transmitter, None)
            }
            Hookup::TwoTransmitter { bottom, headspace } => {
                (bottom.transmitter, Some(headspace.transmitter))
            }
        };
        std::iter::once(first).chain(second)
    }
}

#[derive(Clone, Debug)]
pub struct Stream {
    pub name: Arc<str>,
    pub fills: bool,
    pub at_most: Option<VolumeRate>,
}

#[derive(Clone, Copy, Debug)]
pub struct JumpCheck {
    pub fill_at_most: VolumeRate,
    pub draw_at_most: VolumeRate,
}

#[derive(Clone, Debug)]
pub struct AlarmPlan {
    pub code: Arc<str>,
    pub watch: Watch,
    pub limit: Limit,
    /// In SI units of the watched quantity, like the limit.
    pub deadband: f64,
    pub on_delay: Duration,
    pub off_delay: Duration,
    pub priority: Priority,
    pub on_bad: OnBad,
    /// Stays after the process is back, until it is acknowledged and reset.
    pub latch: bool,
    /// Annunciates again if it is still active so long after it was acknowledged.
    pub re_alarm: Option<Duration>,
    /// The longest time on the shelf; none: it cannot be shelved.
    pub shelve_at_most: Option<Duration>,
    pub suppress: Option<Suppress>,
    /// The unit that limit and value are shown in.
    pub unit: Option<&'static Unit>,
    pub record: Arc<Record>,
}

/// When an alarm is suppressed by design.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Suppress {
    /// All of them hold.
    pub when: Vec<Condition>,
    /// How long it goes on after they do not hold any more.
    pub hold: Duration,
    /// It ends after this time even if they still hold.
    pub at_most: Option<Duration>,
}

/// What an alarm looks at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watch {
    Level,
    Fill,
    Volume,
    Ullage,
    Mass,
    Density,
    Temperature,
    Rate,
    NetFlow,
    Uncertainty,
    /// Whether there is a reading at all.
    Measurement,
    Contact(ContactId),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    Above(f64),
    Below(f64),
    Outside(f64, f64),
    /// Of `Watch::Measurement`: quality is bad.
    BadQuality,
    /// Of `Watch::Contact`: on or off.
    Is(bool),
}

impl Limit {
    /// The one limit, or of two the one that is nearer to the value.
    pub fn nearest(self, value: Option<f64>) -> Option<f64> {
        match self {
            Limit::Above(limit) | Limit::Below(limit) => Some(limit),
            Limit::Outside(low, high) => {
                let nearer_low =
                    value.is_some_and(|value| (value - low).abs() < (value - high).abs());
                Some(if nearer_low { low } else { high })
            }
            Limit::BadQuality | Limit::Is(_) => None,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Priority {
    Low,
    Medium,
    High,
    Highest,
}

impl Priority {
    pub fn name(self) -> &'static str {
        match self {
            Priority::Low => "low",
            Priority::Medium => "medium",
            Priority::High => "high",
            Priority::Highest => "highest",
        }
    }
    /// Severity on the scale 1 to 1000 of OPC UA (IEC 62541-5, 6.4.2).
    pub fn severity(self) -> u16 {
        match self {
            Priority::Low => 200,
            Priority::Medium => 400,
            Priority::High => 700,
            Priority::Highest => 900,
        }
    }
}

/// What bad quality does to an alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnBad {
    Hold,
    Annunciate,
    Clear,
}

/// An alarm's record from its rationalisation; shown at annunciation.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    pub cause: Option<String>,
    pub consequence: Option<String>,
    pub response: Option<String>,
    pub respond_within: Option<Duration>,
    pub basis: Option<String>,
    pub class: Option<String>,
    pub test_every: Option<Duration>,
}
