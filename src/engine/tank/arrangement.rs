//! A hookup as the two legs of the balance, the liquid between its taps, and what its upper tap does.

use crate::engine::plan::{Hookup, Leg as LegPlan, LegFill, Port};
use crate::physics::balance::UpperTap;
use crate::physics::liquid::Gas;
use crate::quantity::Length;

/// How one hookup fills in the balance.
#[derive(Debug)]
pub struct Arrangement<'a> {
    pub high: End<'a>,
    /// A tap of its own between bottom and headspace, where there is one.
    pub middle: Option<End<'a>>,
    pub low: End<'a>,
    pub upper: UpperTap,
    pub layers: Layers<'a>,
}

/// A tap, the diaphragm that it is led to, and what stands between them.
#[derive(Debug)]
pub struct End<'a> {
    pub tap: Length,
    pub at: Length,
    pub fill: Fill<'a>,
}

#[derive(Clone, Copy, Debug)]
pub enum Fill<'a> {
    Leg(&'a LegFill),
    /// The air outside.
    OpenAir,
    /// Purge gas at the pressure of its tube.
    Purge(&'a Gas),
}

/// What the balance takes for liquid, and for what is above it.
#[derive(Clone, Copy, Debug)]
pub enum Layers<'a> {
    LiquidAndGas,
    /// The transmitter's own range has no gas in it.
    LiquidAlone,
    Liquids {
        lower: &'a LegFill,
        upper: &'a LegFill,
    },
}

impl<'a> Arrangement<'a> {
    /// Of a vessel from `bottom` to `top`, and a barometer `barometer_at`; all from the site's zero.
    pub fn of(hookup: &'a Hookup, (bottom, top): (Length, Length), barometer_at: Length) -> Self {
        // With air above the liquid zL drops out; otherwise it is the vent.
        let open_at = hookup.vent().unwrap_or(top);
        let open = |high: End<'a>, at: Length| Self {
            high,
            middle: None,
            low: End {
                tap: open_at,
                at,
                fill: Fill::OpenAir,
            },
            upper: UpperTap::Open,
            layers: Layers::LiquidAndGas,
        };
        let closed = |high: End<'a>, low: &'a LegPlan, at: Length| Self {
            high,
            middle: None,
            low: end(low, at),
            upper: upper_tap(low, at),
            layers: Layers::LiquidAndGas,
        };
        match hookup {
            Hookup::Vented { at, high, .. } => open(end(high, *at), *at),
            Hookup::Barometer { at, .. } => open(at_tap(*at), barometer_at),
            Hookup::Differential { at, high, low, .. } => closed(end(high, *at), low, *at),
            Hookup::TwoTransmitter { bottom, headspace } => {
                closed(port(bottom), &headspace.leg, headspace.at)
            }
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => Self {
                middle: Some(port(middle)),
                ..closed(port(bottom), &headspace.leg, headspace.at)
            },
            Hookup::DipTube {
                at,
                tube_end,
                purge,
                low,
                ..
            } => {
                let tube = End {
                    tap: *tube_end,
                    at: *at,
                    fill: Fill::Purge(purge),
                };
                match low {
                    Some(low) => closed(tube, low, *at),
                    None => open(tube, *at),
                }
            }
            Hookup::Interface {
                at,
                high,
                low,
                lower,
                upper,
                ..
            } => Self {
                upper: UpperTap::Saturates,
                layers: Layers::Liquids { lower, upper },
                ..closed(
                    match high.fill {
                        LegFill::OwnLiquid => End {
                            tap: high.tap,
                            at: *at,
                            fill: Fill::Leg(lower),
                        },
                        _ => end(high, *at),
                    },
                    low,
                    *at,
                )
            },
            Hookup::Level { zero, .. } => {
                let zero = zero.unwrap_or(bottom);
                Self {
                    low: at_tap(zero),
                    layers: Layers::LiquidAlone,
                    ..open(at_tap(zero), zero)
                }
            }
        }
    }

    /// Its low side is open to the air: no line leads there.
    pub fn low_is_open(&self) -> bool {
        matches!(self.low.fill, Fill::OpenAir) || matches!(self.layers, Layers::LiquidAlone)
    }

    /// The tank's own liquid stands in its high leg, and so in its density.
    pub fn high_is_own_liquid(&self) -> bool {
        matches!(self.high.fill, Fill::Leg(LegFill::OwnLiquid))
            || matches!((self.high.fill, self.layers), (Fill::Leg(fill), Layers::Liquids { lower, .. }) if std::ptr::eq(fill, lower))
    }
}

fn end(leg: &LegPlan, at: Length) -> End<'_> {
    End {
        tap: leg.tap,
        at,
        fill: Fill::Leg(&leg.fill),
    }
}

fn port(port: &Port) -> End<'_> {
    end(&port.leg, port.at)
}

/// A diaphragm in the liquid itself.
fn at_tap<'a>(at: Length) -> End<'a> {
    End {
        tap: at,
        at,
        fill: Fill::Leg(&LegFill::OwnLiquid),
    }
}

/// A dry leg with any length below its tap floods; every other one saturates.
fn upper_tap(leg: &LegPlan, at: Length) -> UpperTap {
    match leg.fill {
        LegFill::Gas if leg.tap > at => UpperTap::Floods,
        _ => UpperTap::Saturates,
    }
}
