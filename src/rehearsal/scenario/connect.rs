//! What each transmitter of a site is connected to in the plant, and how its number stands in the registers.

use super::{Scene, top_of};
use crate::engine::plan::{
    Hookup, Leg, LegFill, LoopCurrent, Measures, Reads, Source, TankPlan, TransmitterPlan,
};
use crate::engine::tank::in_percent;
use crate::engine::{ContactId, TransmitterId};
use crate::plant::{
    ContactModel, Fill, LineModel, Number, Order, OutputModel, Senses, Space, TransmitterModel,
};
use crate::quantity::Length;
use crate::site::settings::{self, NumberType, Point, WordOrder};

/// Currents that a loop signal stays within while it measures, and two that say failure, mA: the bands
/// of NAMUR NE 43 are 3.8 to 20.5 for a measured value, up to 3.6 and from 21 for failure (from memory).
const LEAST_MA: f64 = 3.8;
const MOST_MA: f64 = 20.5;
const FAILURE_MA: f64 = 21.5;
const FAILURE_LOW_MA: f64 = 3.5;

pub(super) fn has_seal(tank: &TankPlan) -> bool {
    tank.hookups
        .iter()
        .flat_map(|hookup| hookup.hookup.fills())
        .any(|fill| matches!(fill, LegFill::Filled(_)))
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
                let is_of_hookup = tank.is_some_and(|tank| tank.hookups[0].hookup.leading() == id);
                Some(TransmitterModel {
                    tag: plan.tag.to_string(),
                    senses,
                    noise: truth.noise.unwrap_or(0.0),
                    zero_offset: truth
                        .transmitter_zero
                        .filter(|_| is_of_hookup)
                        .unwrap_or(plan.zero),
                    span_error: if is_of_hookup { truth.span_error } else { 0.0 },
                    resolution: if is_of_hookup { truth.resolution } else { 0.0 },
                    damping: truth
                        .damping
                        .filter(|_| is_of_hookup)
                        .unwrap_or(plan.damping),
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
            // The plant shows the true level: no percent of a range, no error of a density.
            Reads::Level if !in_percent(plan) => tanks()
                .find(|(_, tank)| {
                    tank.hookups.iter().any(|hookup| {
                        matches!(hookup.hookup, Hookup::Level { transmitter, ranged_for: None, .. } if transmitter == id)
                    })
                })
                .map_or((Senses::Nothing, None), |(place, tank)| {
                    (Senses::Level { tank: place }, Some(tank))
                }),
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
        let sensed = tank
            .hookups
            .iter()
            .find_map(|hookup| self.hooked(place, tank, &hookup.hookup, id, measures));
        if sensed.is_some() {
            return sensed;
        }
        let top = top_of(tank);
        let at_top = LineModel::Tapped {
            tap: top,
            diaphragm: top,
            fill: Fill::Gas,
        };
        is_tag(&tank.gas.pressure, id).then(|| single(place, at_top, measures))
    }

    fn hooked(
        &self,
        place: usize,
        tank: &TankPlan,
        hookup: &Hookup,
        id: TransmitterId,
        measures: Measures,
    ) -> Option<Senses> {
        if !hookup.transmitters().any(|of| of == id) {
            return None;
        }
        let line = |leg: &Leg, diaphragm| self.line(tank, leg, diaphragm);
        match hookup {
            Hookup::Vented { at, high, .. } => Some(single(place, line(high, *at), measures)),
            Hookup::Barometer { at, .. } => {
                let diaphragm = LineModel::Tapped {
                    tap: *at,
                    diaphragm: *at,
                    fill: Fill::Liquid,
                };
                Some(single(place, diaphragm, measures))
            }
            Hookup::Differential {
                at,
                high,
                low,
                reversed,
                ..
            } => {
                let (high, low) = (line(high, *at), line(low, *at));
                let (high, low) = if *reversed { (low, high) } else { (high, low) };
                Some(Senses::Differential {
                    tank: place,
                    high,
                    low,
                })
            }
            Hookup::TwoTransmitter { bottom, headspace } => [bottom, headspace]
                .into_iter()
                .find(|port| port.transmitter == id)
                .map(|port| single(place, line(&port.leg, port.at), measures)),
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => [bottom, middle, headspace]
                .into_iter()
                .find(|port| port.transmitter == id)
                .map(|port| single(place, line(&port.leg, port.at), measures)),
            Hookup::DipTube {
                at,
                tube_end,
                purge,
                low,
                ..
            } => {
                let top = top_of(tank);
                let tube = LineModel::Tapped {
                    tap: *tube_end,
                    diaphragm: *at,
                    fill: Fill::purge(purge, self.gas_pressure(tank, top), &self.air),
                };
                Some(match low {
                    Some(low) => Senses::Differential {
                        tank: place,
                        high: tube,
                        low: line(low, *at),
                    },
                    None => single(place, tube, measures),
                })
            }
            // A plant's tank holds one liquid.
            Hookup::Interface { .. } | Hookup::Level { .. } => None,
        }
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
            failure_low: plan
                .loop_current
                .map(|loop_current| raw_at(loop_current, FAILURE_LOW_MA)),
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
