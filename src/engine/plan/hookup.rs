//! How transmitters are connected: each hookup is one way to fill in the pressure balance.

use super::{LiquidPlan, TransmitterId};
use crate::physics::liquid::Gas;
use crate::quantity::{DifferentialPressure, Length, MassDensity, Timestamp, metres};
use std::sync::Arc;
use std::time::Duration;

/// One hookup of a tank, and what holds for its level.
#[derive(Clone, Debug)]
pub struct HookupPlan {
    /// Its name within the tank; its kind where it has none.
    pub name: Arc<str>,
    pub gives: Gives,
    pub hookup: Hookup,
    /// k = 2 of each elevation.
    pub elevation_uncertainty: Length,
    pub correction: Correction,
}

/// What a hookup tells: the level, or the boundary between two liquids.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gives {
    Level,
    Interface,
}

impl Gives {
    pub fn name(self) -> &'static str {
        match self {
            Gives::Level => "level",
            Gives::Interface => "interface",
        }
    }
}

/// `level shown = gain · level + offset`.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    pub gain: f64,
    pub offset: Length,
    /// Who found it.
    pub by: Option<Arc<str>>,
    /// The last day, in UTC, that it is good for; then it is to be found anew.
    pub until: Option<jiff::civil::Date>,
}

impl Correction {
    /// Whether its last day is over.
    pub fn is_overdue(&self, now: Timestamp) -> bool {
        let today = jiff::tz::TimeZone::UTC.to_datetime(now).date();
        self.until.is_some_and(|until| until < today)
    }

    /// Whether it changes anything.
    pub fn is_set(&self) -> bool {
        *self != Self::default()
    }

    pub fn applied(&self, level: Length) -> Length {
        level * self.gain + self.offset
    }
}

impl Default for Correction {
    fn default() -> Self {
        Self {
            gain: 1.0,
            offset: metres(0.0),
            by: None,
            until: None,
        }
    }
}

/// Which of several hookups makes the tank's level; by their places in the tank's list.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    pub level: Choose,
    /// Taken where the chosen one is bad.
    pub instead: Option<usize>,
    pub disagree: Option<Disagree>,
}

impl Choice {
    /// Of a tank with one hookup only.
    pub const ONLY: Choice = Choice {
        level: Choose::One(0),
        instead: None,
        disagree: None,
    };
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choose {
    One(usize),
    Higher,
    Lower,
    /// The one in the middle; of an even count, the lower of the two.
    Middle,
    Mean,
}

/// How far, and for how long, the levels may differ before it is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disagree {
    pub by: Length,
    pub lasting: Duration,
}

/// What fills a leg between tap and diaphragm.
#[derive(Clone, Debug)]
pub enum LegFill {
    /// The tank's own liquid, at ambient temperature; of an interface, the lower one.
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

/// A transmitter of its own at the end of a leg.
#[derive(Clone, Debug)]
pub struct Port {
    pub transmitter: TransmitterId,
    pub at: Length,
    pub leg: Leg,
}

/// What the purge gas of a dip tube loses on its way to the tube's end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Friction {
    pub pressure: DifferentialPressure,
    /// k = 2.
    pub uncertainty: DifferentialPressure,
}

impl Friction {
    pub fn none() -> Self {
        let nothing = DifferentialPressure::pascals(0.0);
        Self {
            pressure: nothing,
            uncertainty: nothing,
        }
    }
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
    /// Absolute transmitter under the liquid; the low side is the site's barometer at its own height.
    Barometer {
        transmitter: TransmitterId,
        at: Length,
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
    /// A third one a known height above the bottom: the density is measured while the level is more than
    /// `margin` above its tap.
    ThreeTransmitter {
        bottom: Port,
        middle: Port,
        headspace: Port,
        margin: Length,
    },
    /// Purge gas bubbles from the end of a tube; `low`: the side on the headspace of a closed tank.
    DipTube {
        transmitter: TransmitterId,
        at: Length,
        tube_end: Length,
        purge: Gas,
        friction: Friction,
        low: Option<Leg>,
        vent: Option<Length>,
    },
    /// The boundary of two liquids between taps that are both flooded.
    Interface {
        transmitter: TransmitterId,
        at: Length,
        high: Leg,
        low: Leg,
        lower: LegFill,
        upper: LegFill,
    },
    /// A transmitter that is ranged in level already, or in percent from `zero` to `full`.
    Level {
        transmitter: TransmitterId,
        zero: Option<Length>,
        full: Option<Length>,
        /// The density that it was ranged for; none: it tells the level whatever the density.
        ranged_for: Option<MassDensity>,
    },
}

impl Hookup {
    pub fn name(&self) -> &'static str {
        match self {
            Hookup::Vented { .. } => "vented",
            Hookup::Barometer { .. } => "barometer",
            Hookup::Differential { .. } => "differential",
            Hookup::TwoTransmitter { .. } => "two-transmitter",
            Hookup::ThreeTransmitter { .. } => "three-transmitter",
            Hookup::DipTube { .. } => "dip-tube",
            Hookup::Interface { .. } => "interface",
            Hookup::Level { .. } => "level",
        }
    }

    /// The transmitters whose readings make the level; the one on the liquid first.
    pub fn transmitters(&self) -> impl Iterator<Item = TransmitterId> + use<> {
        let ids = match self {
            Hookup::Vented { transmitter, .. }
            | Hookup::Barometer { transmitter, .. }
            | Hookup::Differential { transmitter, .. }
            | Hookup::DipTube { transmitter, .. }
            | Hookup::Interface { transmitter, .. }
            | Hookup::Level { transmitter, .. } => [Some(*transmitter), None, None],
            Hookup::TwoTransmitter { bottom, headspace } => {
                [Some(bottom.transmitter), Some(headspace.transmitter), None]
            }
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => [bottom, middle, headspace].map(|port| Some(port.transmitter)),
        };
        ids.into_iter().flatten()
    }

    /// The elevation of a transmitter's diaphragm; none where it has no place in this hookup.
    pub fn elevation_of(&self, id: TransmitterId) -> Option<Length> {
        let ports: [Option<(TransmitterId, Length)>; 3] = match self {
            Hookup::Vented {
                transmitter, at, ..
            }
            | Hookup::Barometer {
                transmitter, at, ..
            }
            | Hookup::Differential {
                transmitter, at, ..
            }
            | Hookup::DipTube {
                transmitter, at, ..
            }
            | Hookup::Interface {
                transmitter, at, ..
            } => [Some((*transmitter, *at)), None, None],
            Hookup::TwoTransmitter { bottom, headspace } => {
                let port = |port: &Port| Some((port.transmitter, port.at));
                [port(bottom), port(headspace), None]
            }
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => [bottom, middle, headspace].map(|port| Some((port.transmitter, port.at))),
            Hookup::Level { .. } => [None; 3],
        };
        let mut ports = ports.into_iter().flatten();
        ports.find(|(of, _)| *of == id).map(|(_, at)| at)
    }

    /// The transmitter on the liquid: a new number of its makes a new reading.
    pub fn leading(&self) -> TransmitterId {
        self.transmitters()
            .next()
            .expect("every hookup has a transmitter")
    }

    /// What stands in its tubes, and the liquids of an interface.
    pub fn fills(&self) -> impl Iterator<Item = &LegFill> {
        let fills: [Option<&LegFill>; 4] = match self {
            Hookup::Vented { high, .. } => [Some(&high.fill), None, None, None],
            Hookup::Differential { high, low, .. } => {
                [Some(&high.fill), Some(&low.fill), None, None]
            }
            Hookup::TwoTransmitter { bottom, headspace } => [
                Some(&bottom.leg.fill),
                Some(&headspace.leg.fill),
                None,
                None,
            ],
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => [
                Some(&bottom.leg.fill),
                Some(&middle.leg.fill),
                Some(&headspace.leg.fill),
                None,
            ],
            Hookup::DipTube { low, .. } => [low.as_ref().map(|low| &low.fill), None, None, None],
            Hookup::Interface {
                high,
                low,
                lower,
                upper,
                ..
            } => [Some(&high.fill), Some(&low.fill), Some(lower), Some(upper)],
            Hookup::Barometer { .. } | Hookup::Level { .. } => [None; 4],
        };
        fills.into_iter().flatten()
    }

    /// The low leg and the diaphragm that it is led to; none where the low side is open to the air.
    pub fn low_leg(&self) -> Option<(&Leg, Length)> {
        match self {
            Hookup::Differential { low, at, .. } | Hookup::Interface { low, at, .. } => {
                Some((low, *at))
            }
            Hookup::TwoTransmitter { headspace, .. }
            | Hookup::ThreeTransmitter { headspace, .. } => Some((&headspace.leg, headspace.at)),
            Hookup::DipTube { low, at, .. } => low.as_ref().map(|low| (low, *at)),
            Hookup::Vented { .. } | Hookup::Barometer { .. } | Hookup::Level { .. } => None,
        }
    }

    /// Whether the low side is open to the air: the gas of the tank is that of its vent.
    pub fn is_open(&self) -> bool {
        matches!(
            self,
            Hookup::Vented { .. } | Hookup::Barometer { .. } | Hookup::DipTube { low: None, .. }
        )
    }

    /// The elevation that the air is met at, where it is open and the site file says so.
    pub fn vent(&self) -> Option<Length> {
        match self {
            Hookup::Vented { vent, .. }
            | Hookup::Barometer { vent, .. }
            | Hookup::DipTube { vent, .. } => *vent,
            _ => None,
        }
    }

    /// Lower tap, or what stands for one; none where it sees down to the vessel's bottom.
    pub fn lower_tap(&self) -> Option<Length> {
        match self {
            Hookup::Vented { high, .. }
            | Hookup::Differential { high, .. }
            | Hookup::Interface { high, .. } => Some(high.tap),
            Hookup::Barometer { at, .. } => Some(*at),
            Hookup::TwoTransmitter { bottom, .. } | Hookup::ThreeTransmitter { bottom, .. } => {
                Some(bottom.leg.tap)
            }
            Hookup::DipTube { tube_end, .. } => Some(*tube_end),
            Hookup::Level { zero, .. } => *zero,
        }
    }

    /// The tap on the gas, or what else ends its sight; none where that is open to the air.
    pub fn upper_tap(&self) -> Option<Length> {
        match self {
            Hookup::Differential { low, .. } | Hookup::Interface { low, .. } => Some(low.tap),
            Hookup::TwoTransmitter { headspace, .. }
            | Hookup::ThreeTransmitter { headspace, .. } => Some(headspace.leg.tap),
            Hookup::DipTube { low, .. } => low.as_ref().map(|low| low.tap),
            Hookup::Level { full, .. } => *full,
            Hookup::Vented { .. } | Hookup::Barometer { .. } => None,
        }
    }

    /// Whether its one transmitter feels the difference turned round.
    pub fn is_reversed(&self) -> bool {
        matches!(self, Hookup::Differential { reversed: true, .. })
    }
}
