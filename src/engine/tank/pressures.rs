//! What the transmitters of a hookup say, as the pressure differences that its balance is solved from.
//!
//! A gauge reads above the air at its own height, a sealed gauge above what it was sealed at, an absolute
//! one above vacuum. Where these meet in one hookup the barometer does not cancel.

use super::conditions::{Signals, Surroundings};
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{Hookup, Measures, Plan, Port, Reads, TransmitterPlan};
use crate::engine::quality::Reasons;
use crate::engine::signal::{Bound, SignalValue};
use crate::quantity::{AbsolutePressure, DifferentialPressure, Dimension, Length, MassDensity};

/// The differences of one hookup at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Pressures {
    /// High minus low, port to port; none where a pressure is missing.
    pub difference: Option<DifferentialPressure>,
    /// Bottom minus middle, where there is a middle transmitter that can be trusted.
    pub column: Option<DifferentialPressure>,
    pub bound: Bound,
    pub reasons: Reasons,
    /// Pascals of difference for one SI unit of the leading transmitter.
    pub per_reading: f64,
}

impl Pressures {
    fn of_one(said: SignalValue, difference: Option<DifferentialPressure>) -> Self {
        Self {
            difference,
            column: None,
            bound: said.bound,
            reasons: said.reasons,
            per_reading: 1.0,
        }
    }
}

/// What readings are counted from.
pub struct Readings<'a, S: Signals> {
    pub plan: &'a Plan,
    pub surroundings: &'a Surroundings,
    pub signals: &'a S,
    /// Lowest level of the vessel, from the site's zero.
    pub bottom: Length,
    /// Of the liquid, for a transmitter that was ranged for no density of its own.
    pub liquid: MassDensity,
}

impl<S: Signals> Readings<'_, S> {
    pub fn of(&self, hookup: &Hookup) -> Pressures {
        match hookup {
            Hookup::Vented {
                transmitter, at, ..
            } => self.open(*transmitter, *at),
            Hookup::Barometer { transmitter, .. } => {
                let said = self.signals.value(*transmitter);
                let barometer = self.surroundings.barometer;
                let high = self.absolute(*transmitter, said, barometer);
                Pressures::of_one(said, high.map(|high| high - barometer))
            }
            Hookup::Differential {
                transmitter,
                reversed,
                ..
            } => self.between_ports(*transmitter, *reversed),
            Hookup::Interface { transmitter, .. } => self.between_ports(*transmitter, false),
            Hookup::TwoTransmitter { bottom, headspace } => self.two(bottom, headspace),
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => {
                let column = self.two(bottom, middle);
                let trusted = column.bound == Bound::Exact;
                Pressures {
                    column: column.difference.filter(|_| trusted),
                    ..self.two(bottom, headspace)
                }
            }
            Hookup::DipTube {
                transmitter,
                at,
                friction,
                low,
                ..
            } => {
                let felt = match low {
                    Some(_) => self.between_ports(*transmitter, false),
                    None => self.open(*transmitter, *at),
                };
                // What the purge loses on its way down is not felt at the tube's end.
                Pressures {
                    difference: felt
                        .difference
                        .map(|difference| difference - friction.pressure),
                    ..felt
                }
            }
            Hookup::Level {
                transmitter,
                zero,
                full,
                ranged_for,
            } => self.ranged(
                *transmitter,
                zero.unwrap_or(self.bottom),
                *full,
                *ranged_for,
            ),
        }
    }

    /// Against the air at the diaphragm.
    fn open(&self, transmitter: TransmitterId, at: Length) -> Pressures {
        let said = self.signals.value(transmitter);
        let air = self.surroundings.air_pressure(self.plan, at);
        let high = self.absolute(transmitter, said, air);
        Pressures::of_one(said, high.map(|high| high - air))
    }

    fn between_ports(&self, transmitter: TransmitterId, reversed: bool) -> Pressures {
        let said = self.signals.value(transmitter);
        let difference = said.value.map(DifferentialPressure::pascals);
        if reversed {
            Pressures {
                bound: opposite(said.bound),
                per_reading: -1.0,
                ..Pressures::of_one(said, difference.map(|difference| -difference))
            }
        } else {
            Pressures::of_one(said, difference)
        }
    }

    fn two(&self, high: &Port, low: &Port) -> Pressures {
        let said = |port: &Port| self.signals.value(port.transmitter);
        let (high_said, low_said) = (said(high), said(low));
        let mut reasons = high_said.reasons;
        reasons.merge(low_said.reasons);
        let air = |at: Length| self.surroundings.air_pressure(self.plan, at);
        let p_high = self.absolute(high.transmitter, high_said, air(high.at));
        let p_low = self.absolute(low.transmitter, low_said, air(low.at));
        let bound = match (high_said.bound, opposite(low_said.bound)) {
            (bound, Bound::Exact) | (Bound::Exact, bound) => Some(bound),
            (first, second) if first == second => Some(first),
            // One pushes up, the other down: nothing is known.
            _ => None,
        };
        let difference = p_high.zip(p_low).map(|(high, low)| high - low);
        Pressures {
            difference: bound.and(difference),
            bound: bound.unwrap_or_default(),
            reasons,
            column: None,
            per_reading: 1.0,
        }
    }

    /// The difference that a transmitter ranged in level feels: its range run forwards, from its zero up.
    fn ranged(
        &self,
        transmitter: TransmitterId,
        zero: Length,
        full: Option<Length>,
        ranged_for: Option<MassDensity>,
    ) -> Pressures {
        let said = self.signals.value(transmitter);
        let share = in_percent(&self.plan.transmitters[transmitter.index()]);
        let (from_m, per_unit_m) = match full {
            Some(full) if share => (0.0, (full - zero).value),
            _ => (zero.value, 1.0),
        };
        // Δp = ρ·g·(h − zero) at the level that it shows
        let pa_per_m = self.plan.gravity.value * ranged_for.unwrap_or(self.liquid).value;
        Pressures {
            per_reading: pa_per_m * per_unit_m,
            ..Pressures::of_one(
                said,
                said.value.map(|value| {
                    DifferentialPressure::pascals(pa_per_m * per_unit_m * (value - from_m))
                }),
            )
        }
    }

    /// A pressure transmitter's value above vacuum.
    fn absolute(
        &self,
        id: TransmitterId,
        said: SignalValue,
        air: AbsolutePressure,
    ) -> Option<AbsolutePressure> {
        let value = said.value?;
        Some(match self.plan.transmitters[id.index()].reads {
            Reads::Pressure(Measures::Absolute) => AbsolutePressure::pascals(value),
            Reads::Pressure(Measures::SealedGauge(sealed)) => {
                AbsolutePressure::pascals(value + sealed.0.value)
            }
            _ => AbsolutePressure::pascals(value + air.0.value),
        })
    }
}

/// Whether a level transmitter shows a share of its range.
pub fn in_percent(transmitter: &TransmitterPlan) -> bool {
    transmitter.unit.dimension == Dimension::Ratio
}

fn opposite(bound: Bound) -> Bound {
    match bound {
        Bound::Exact => Bound::Exact,
        Bound::AtMost => Bound::AtLeast,
        Bound::AtLeast => Bound::AtMost,
    }
}
