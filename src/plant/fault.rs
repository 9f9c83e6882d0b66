//! What can be wrong with a transmitter and its lines.

/// Which of a transmitter's lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The line of the high port, or the only one.
    High,
    Low,
}

/// Numbers are in SI units of what the transmitter reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// The pressure of the moment is trapped. A shut liquid presses on a diaphragm of stiffness 0.
    Plugged(Side),
    /// The same, with the stiffness of what the trapped liquid presses on, Pa.
    PluggedStiff(Side, f64),
    /// Nearly plugged: the pressure comes through with this time constant, s.
    Lag(Side, f64),
    /// The fill freezes while the line is colder than this, K.
    Freezes(Side, f64),
    /// A height of the fill is gone from the top of the line, m.
    LegLost(Side, f64),
    /// The fill stands so high above the tap, m.
    Overfilled(Side, f64),
    /// A height of the tank's liquid stands in a dry line, m.
    Condensate(Side, f64),
    /// A height of gas stands in the line and stays, m.
    Gas(Side, f64),
    /// A dip tube's purge is gone: its pressure falls to that of the gas with this time constant, s.
    PurgeLost(f64),
    /// A dip tube is plugged: the purge lifts its pressure by so much a second, Pa/s.
    TubePlugged(f64),
    /// High and low side are joined, by this share: 1 is wide open, less a valve that passes.
    Equaliser(f64),
    /// The tube that brings the outside air to a gauge transmitter is shut, with the air of this moment.
    ReferenceBlocked,
    /// The number stays.
    Frozen,
    /// The register says failure.
    Failed,
    /// The same, by a current below the measuring band.
    FailedLow,
    /// The value runs away by so much a second.
    Drift(f64),
    /// The number is so many times what it was: another unit.
    Scaled(f64),
}

impl Fault {
    pub const EQUALISER_OPEN: Fault = Fault::Equaliser(1.0);

    /// A share of it, while it grows; the whole, where it has no size.
    #[must_use]
    pub fn grown(self, share: f64) -> Self {
        match self {
            Fault::LegLost(side, height) => Fault::LegLost(side, height * share),
            Fault::Overfilled(side, height) => Fault::Overfilled(side, height * share),
            Fault::Condensate(side, height) => Fault::Condensate(side, height * share),
            Fault::Gas(side, height) => Fault::Gas(side, height * share),
            Fault::Lag(side, time) => Fault::Lag(side, time * share),
            Fault::Equaliser(passing) => Fault::Equaliser(passing * share),
            other => other,
        }
    }
}
