//! What each transmitter of a site is connected to in the plant, and how its number stands in the registers.

use super::Scene;
use crate::engine::plan::{
    Hookup, Leg, LegFill, LoopCurrent, Measures, Port, Reads, Source, TankPlan, TransmitterPlan,
};
use crate::engine::{ContactId, TransmitterId};
use crate::plant::{
    ContactModel, Fill, LineModel, Number, Order, OutputModel, Senses, Space, TransmitterModel,
};
use crate::quantity::Length;
use crate::site::settings::{self, NumberType, Point, WordOrder};

/// Currents that a loop signal stays within while it measures, and one that says failure, mA: the bands
/// of NAMUR NE 43 are 3.8 to 20.5 for a measured value and from 21 for failure (from memory).
const LEAST_MA: f64 = 3.8;
const MOST_MA: f64 = 20.5;
const FAILURE_MA: f64 = 21.5;

pub(super) fn has_seal(hookup: &Hookup) -> bool {
    legs(hookup).any(|leg| matches!(leg.fill, LegFill::Filled(_)))
}

fn legs(hookup: &Hookup) -> impl Iterator<Item = &Leg> {
    let (first, second) = match hookup {
        Hookup::Vented { high, .. } => (high, None),
        Hookup::Differential { high, low, .. } => (high, Some(low)),
        Hookup::TwoTransmitter { bottom, headspace } => (&bottom.leg, Some(&headspace.leg)),
    };
    std::iter::once(first).chain(second)
}

impl Scene<'_> {
    /// All transmitters, and what there is to say of those that nothing feeds.
    pub(super) fn transmitters(&self) -> (Vec<TransmitterModel>, Vec<String>) {
        let mut notes = Vec::new();
        let transmitters = (0..)
            .map(TransmitterId)
            .zip(&self.site.plan.transmitters)
            .filter_map(|(id, plan)| {
                let (senses, tank) = self.senses(id, plan);
                if senses == Senses::Nothing {
                    notes.push(format!(
                        "{} is connected to nothing here: its register says failure",
                        plan.tag
                    ));
                }
                let output = self.output(id, plan)?;
                let truth = tank.map(|tank| self.truth(tank)).unwrap_or_default();
                let is_of_hookup =
                    tank.is_some_and(|tank| tank.hookup.transmitters().next() == Some(id));
                Some(TransmitterModel {
                    tag: plan.tag.to_string(),
                    senses,
                    noise: truth.noise.unwrap_or(0.0),
                    zero_offset: truth
                        .transmitter_zero
                        .filter(|_| is_of_hookup)
                        .unwrap_or(plan.zero),
                    damping: plan.damping,
                    output,
                })
            })
            .collect();
        (transmitters, notes)
    }

    /// The contacts of the site, all off.
    pub(super) fn contacts(&self) -> Vec<ContactModel> {
        let links = self.site.links.iter().enumerate();
        let mut contacts: Vec<(ContactId, ContactModel)> = links
            .flat_map(|(link, settings)| settings.bits.iter().map(move |bit| (link, bit)))
            .map(|(link, bit)| {
                let plan = &self.site.plan.contacts[bit.contact.index()];
                let model = ContactModel {
                    tag: bit.tag.clone(),
                    link,
                    device: bit.device,
                    space: space(bit.register.space),
                    address: bit.register.address,
                    bit: bit.bit,
                    inverted: plan.invert,
                    on: false,
                };
                (bit.contact, model)
            })
            .collect();
        // The plant counts them as the site does.
        contacts.sort_by_key(|(id, _)| *id);
        contacts.into_iter().map(|(_, model)| model).collect()
    }

    /// What a transmitter senses; the tank, if that is a pressure of a tank.
    fn senses(&self, id: TransmitterId, plan: &TransmitterPlan) -> (Senses, Option<&TankPlan>) {
        let tanks = || self.site.plan.tanks.iter().enumerate();
        match plan.reads {
            Reads::Pressure(measures) => {
                let pressed = tanks().find_map(|(place, tank)| {
                    Some((self.pressed(place, tank, id, measures)?, Some(tank)))
                });
                let is_barometer = is_tag(&self.site.plan.ambient.pressure, id);
                pressed.unwrap_or((
                    if is_barometer {
                        Senses::AirPressure
                    } else {
                        Senses::Nothing
                    },
                    None,
                ))
            }
            Reads::Temperature => {
                let of_liquid = tanks().find(|(_, tank)| is_tag(&tank.liquid.temperature, id));
                let is_of_air = is_tag(&self.site.plan.ambient.temperature, id);
                let is_of_gas = tanks().any(|(_, tank)| is_tag(&tank.gas.temperature, id));
                match of_liquid {
                    // The gas of a plant has the temperature of the air.
                    _ if is_of_air => (Senses::AirTemperature, None),
                    Some((tank, _)) => (Senses::LiquidTemperature { tank }, None),
                    None if is_of_gas => (Senses::AirTemperature, None),
                    None => (Senses::Nothing, None),
                }
            }
            Reads::Density | Reads::Flow | Reads::Level => (Senses::Nothing, None),
        }
    }

    /// Its place in a tank's hookup, or at the top of the tank's vessel where it gives the gas's pressure.
    fn pressed(
        &self,
        place: usize,
        tank: &TankPlan,
        id: TransmitterId,
        measures: Measures,
    ) -> Option<Senses> {
        let line = |leg: &Leg, diaphragm| self.line(tank, leg, diaphragm);
        match &tank.hookup {
            Hookup::Vented {
                transmitter,
                at,
                high,
                ..
            } if *transmitter == id => {
                return Some(single(place, line(high, *at), measures));
            }
            Hookup::Differential {
                transmitter,
                at,
                high,
                low,
                reversed,
            } if *transmitter == id => {
                let (high, low) = (line(high, *at), line(low, *at));
                let (high, low) = if *reversed { (low, high) } else { (high, low) };
                return Some(Senses::Differential {
                    tank: place,
                    high,
                    low,
                });
            }
            Hookup::TwoTransmitter { bottom, headspace } => {
                let port = [bottom, headspace]
                    .into_iter()
                    .find(|port| port.transmitter == id);
                if let Some(Port { at, leg, .. }) = port {
                    return Some(single(place, line(leg, *at), measures));
                }
            }
            Hookup::Vented { .. } | Hookup::Differential { .. } => {}
        }
        let top = tank.vessel.top() - tank.zero;
        let at_top = LineModel::Tapped {
            tap: top,
            diaphragm: top,
            fill: Fill::Gas,
        };
        is_tag(&tank.gas.pressure, id).then(|| single(place, at_top, measures))
    }

    fn line(&self, tank: &TankPlan, leg: &Leg, diaphragm: Length) -> LineModel {
        let fill = match &leg.fill {
            LegFill::OwnLiquid => Fill::Liquid,
            LegFill::Gas => Fill::Gas,
            LegFill::Filled(fill) => match self.truth(tank).leg_density {
                Some(density) => Fill::Seal(density.value),
                None => Fill::seal(&fill.liquid, self.temperature(&fill.temperature), &self.air),
            },
        };
        LineModel::Tapped {
            tap: leg.tap,
            diaphragm,
            fill,
        }
    }

    fn output(&self, id: TransmitterId, plan: &TransmitterPlan) -> Option<OutputModel> {
        let (link, point) = self
            .site
            .links
            .iter()
            .enumerate()
            .find_map(|(link, settings)| {
                Some((
                    link,
                    settings
                        .points
                        .iter()
                        .find(|point| point.transmitter == id)?,
                ))
            })?;
        Some(OutputModel {
            link,
            device: point.device,
            space: space(point.register.space),
            address: point.register.address,
            number: number(point.number),
            order: order(point.order),
            unit: plan.unit,
            scale: plan
                .scale
                .map(|scale| [(scale.raw.0, scale.value.0), (scale.raw.1, scale.value.1)]),
            saturates: plan.loop_current.map(|loop_current| {
                let least = if loop_current.live_zero {
                    LEAST_MA
                } else {
                    4.0
                };
                let (low, high) = (raw_at(loop_current, least), raw_at(loop_current, MOST_MA));
                (low.min(high), low.max(high))
            }),
            failure: failure(plan, point),
        })
    }
}

fn is_tag(source: &Source, id: TransmitterId) -> bool {
    matches!(source, Source::Tags(tags) if tags.contains(&id))
}

fn single(tank: usize, line: LineModel, measures: Measures) -> Senses {
    let diaphragm = match line {
        LineModel::Tapped { diaphragm, .. } | LineModel::OpenToAir { diaphragm } => diaphragm,
    };
    match measures {
        Measures::Gauge => Senses::Gauge { tank, line },
        Measures::Absolute => Senses::Absolute { tank, line },
        Measures::SealedGauge(sealed_at) => Senses::SealedGauge {
            tank,
            line,
            sealed_at,
        },
        Measures::Differential => Senses::Differential {
            tank,
            high: line,
            low: LineModel::OpenToAir { diaphragm },
        },
    }
}

fn raw_at(loop_current: LoopCurrent, milliamperes: f64) -> f64 {
    let (at_4, at_20) = loop_current.raw;
    at_4 + (milliamperes - 4.0) / 16.0 * (at_20 - at_4)
}

/// Not-a-number in a floating-point register; else the failure current or a number that the site knows
/// to mean failure. An integer without either has its lowest number.
fn failure(plan: &TransmitterPlan, point: &Point) -> f64 {
    match (point.number, plan.loop_current) {
        (_, Some(loop_current)) => raw_at(loop_current, FAILURE_MA),
        (NumberType::F32 | NumberType::F64, None) => f64::NAN,
        _ => plan.failed.first().copied().unwrap_or(f64::NAN),
    }
}

fn number(number: NumberType) -> Number {
    match number {
        NumberType::I16 => Number::I16,
        NumberType::U16 => Number::U16,
        NumberType::I32 => Number::I32,
        NumberType::U32 => Number::U32,
        NumberType::F32 => Number::F32,
        NumberType::F64 => Number::F64,
    }
}

fn space(space: settings::Space) -> Space {
    match space {
        settings::Space::Input => Space::Input,
        settings::Space::Holding => Space::Holding,
        settings::Space::Discrete => Space::Discrete,
        settings::Space::Coil => Space::Coil,
    }
}

fn order(order: WordOrder) -> Order {
    match order {
        WordOrder::Abcd => Order::Abcd,
        WordOrder::Cdab => Order::Cdab,
        WordOrder::Badc => Order::Badc,
        WordOrder::Dcba => Order::Dcba,
    }
}
