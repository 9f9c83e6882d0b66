//! The plan: everything the engine needs to know of a site, already checked, in SI units.
//!
//! The site file's check builds it; nothing in it can be inconsistent, so the engine never refuses one.

mod checks;
mod hookup;
mod rounds;
mod uses;

pub use checks::{ChecksPlan, IdleCheck, JumpCheck, Stream, StreamFlow};
pub use hookup::{
    Choice, Choose, Correction, Disagree, Friction, Gives, Hookup, HookupPlan, Leg, LegFill, Port,
};

pub use rounds::{DipPlan, GlassPlan, RoundsPlan};

use super::ids::{ContactId, LinkId, TransmitterId};
use super::notice::NoticesPlan;
use crate::physics::liquid::{Gas, Liquid};
use crate::physics::vessel::Vessel;
use crate::quantity::{AbsolutePressure, Acceleration, Length, MassDensity, Temperature, Unit};
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
    /// The devices behind the links, and what is read of each.
    pub devices: Vec<DevicePlan>,
    pub tanks: Vec<TankPlan>,
    /// Who must be told.
    pub notices: NoticesPlan,
    /// Alarms of the system itself; each watches one [`Watch::System`].
    pub system: Vec<AlarmPlan>,
}

impl Plan {
    /// Fills in how old each calibration is on a day.
    pub fn age_on(&mut self, day: jiff::civil::Date) {
        for transmitter in &mut self.transmitters {
            let days = transmitter.calibrated.map(|date| (day - date).get_days());
            let days = days.and_then(|days| u64::try_from(days).ok());
            transmitter.since_calibration = days.map(|days| Duration::from_secs(days * 86_400));
        }
    }
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

/// One device on a link, by its Modbus unit identifier.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DevicePlan {
    pub link: LinkId,
    pub unit: u8,
    pub transmitters: Vec<TransmitterId>,
    pub contacts: Vec<ContactId>,
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
    /// So long its number may stand; none: as long as its noise lets it.
    pub frozen_after: Option<Duration>,
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
    /// Of the product in force.
    pub liquid: LiquidPlan,
    pub gas: GasPlan,
    /// What a person can say that it holds; none where it only ever holds one thing.
    pub products: Vec<Product>,
    /// Which of them is in force; of no meaning without any.
    pub product: usize,
    /// At least one; the choice says which of them makes the level.
    pub hookups: Vec<HookupPlan>,
    pub choice: Choice,
    pub streams: Vec<Stream>,
    pub jump: Option<JumpCheck>,
    pub checks: ChecksPlan,
    pub rounds: RoundsPlan,
    /// The tank's alarms; the last one is always measurement-failed.
    pub alarms: Vec<AlarmPlan>,
}

impl TankPlan {
    /// All transmitters whose readings make its level; one may come twice.
    pub fn transmitters(&self) -> impl Iterator<Item = TransmitterId> + '_ {
        self.hookups
            .iter()
            .flat_map(|hookup| hookup.hookup.transmitters())
    }

    /// The product in force, where there is a choice.
    pub fn product(&self) -> Option<&Product> {
        self.products.get(self.product)
    }

    /// Takes another product, by its place.
    pub fn take_product(&mut self, place: usize) {
        if let Some(product) = self.products.get(place) {
            self.liquid = product.liquid.clone();
            self.gas = product.gas.clone();
            self.product = place;
        }
    }

    /// Whether nothing but the boundary of two liquids is told of it.
    pub fn is_boundary(&self) -> bool {
        let mut hookups = self.hookups.iter();
        hookups.all(|hookup| hookup.gives == Gives::Interface)
    }

    /// Whether any of its hookups knows it as open to the air.
    pub fn is_open(&self) -> bool {
        self.hookups.iter().any(|hookup| hookup.hookup.is_open())
    }
}

/// Something that a tank can hold, and the gas above it.
#[derive(Clone, Debug)]
pub struct Product {
    pub name: Arc<str>,
    pub liquid: LiquidPlan,
    pub gas: GasPlan,
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

#[derive(Clone, Debug, PartialEq)]
pub struct LiquidPlan {
    /// With a measured density, what stands in for it.
    pub liquid: Liquid,
    pub temperature: Source,
    /// None: that of the vessel.
    pub pressure: Option<LiquidPressure>,
    pub measured: Option<MeasuredDensity>,
}

/// The pressure that a liquid of its own is under.
#[derive(Clone, Debug, PartialEq)]
pub enum LiquidPressure {
    /// Absolute; a tag by what its transmitter measures.
    Of(Source),
    /// Fixed, and counted from the air of the moment, Pa.
    AboveAir(f64),
}

/// A density that a transmitter reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredDensity {
    pub transmitter: TransmitterId,
    /// k = 2; the transmitter's accuracy where it is not given.
    pub uncertainty: Option<MassDensity>,
}

#[derive(Clone, Debug)]
pub struct GasPlan {
    pub gas: Gas,
    pub temperature: Source,
    /// Absolute pressure of the gas, and of everything in the vessel that says none of its own; a tag by what
    /// its transmitter measures.
    pub pressure: Source,
    /// False where the site file says nothing and air at ambient is taken.
    pub given: bool,
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
    TimeToOverflow,
    /// Whether there is a reading at all.
    Measurement,
    /// Whether a transfer should have been stopped by now.
    Transfer,
    Contact(ContactId),
    /// A part of the system itself.
    System(SystemPart),
}

/// The parts of the system itself that have an alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SystemPart {
    /// Nothing answers on the link.
    Link(LinkId),
    /// The device answers exceptions, or not at all though its link is up; by its place in the plan.
    Device(usize),
    /// The journal can't be written.
    Journal,
    /// The journal could not be read; a new one was started.
    JournalReplaced,
    /// The wall clock was stepped, or stands where it can't be right.
    Clock,
    /// A notice could not be delivered.
    Notice,
    /// A changed site file was refused; the one before stays in force.
    SiteFile,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    Above(f64),
    Below(f64),
    Outside(f64, f64),
    /// Of `Watch::Measurement`: quality is bad.
    BadQuality,
    /// Of `Watch::Transfer`: it still runs.
    Overdue,
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
            Limit::BadQuality | Limit::Overdue | Limit::Is(_) => None,
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
