//! The transmitters and contacts of a site in the plant, and how their numbers stand in the registers.

use super::Scene;
use crate::engine::plan::{LegFill, LoopCurrent, TankPlan, TransmitterPlan};
use crate::engine::{ContactId, TransmitterId};
use crate::plant::{ContactModel, Number, Order, OutputModel, Senses, Space, TransmitterModel};
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
                let per_pa = tank.map_or(1.0, |tank| self.per_pascal(tank, &senses));
                let is_of_hookup = tank.is_some_and(|tank| tank.hookups[0].hookup.leading() == id);
                Some(TransmitterModel {
                    tag: plan.tag.to_string(),
                    senses,
                    noise: truth.noise.unwrap_or(0.0) * per_pa,
                    zero_offset: truth
                        .transmitter_zero
                        .filter(|_| is_of_hookup)
                        .map_or(plan.zero, |zero_pa| zero_pa * per_pa),
                    span_error: if is_of_hookup { truth.span_error } else { 0.0 },
                    resolution: if is_of_hookup {
                        truth.resolution * per_pa
                    } else {
                        0.0
                    },
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
