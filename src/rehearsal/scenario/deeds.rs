//! The entries of a script as deeds on the plant of a site.

use super::{Scene, top_of};
use crate::engine::TransmitterId;
use crate::engine::plan::{Hookup, Leg, LegFill, Reads, TankPlan};
use crate::plant::{Fault, LinkFault, Setting, Side};
use crate::quantity::Dimension;
use crate::rehearsal::script::{Action, Ailment, Disturbance, Entry, Named, Placed};
use crate::rehearsal::timeline::{Deed, Due};
use crate::site::problem::Problem;

impl Scene<'_> {
    pub(super) fn due(&self) -> Vec<Due> {
        self.script
            .entries
            .iter()
            .flat_map(|entry| self.due_of(entry))
            .collect()
    }

    fn due_of(&self, entry: &Entry) -> Vec<Due> {
        let over = entry.until.unwrap_or(entry.time) - entry.time;
        let mut due = Vec::new();
        for action in &entry.actions {
            let mut add = |time, deed| {
                due.push(Due {
                    time,
                    every: entry.every,
                    deed,
                })
            };
            match action {
                Action::TankFault { .. } | Action::TransmitterFault { .. } => {
                    for (transmitter, fault) in self.faults(action) {
                        add(entry.time, Deed::Inflict { transmitter, fault });
                        if let Some(until) = entry.until {
                            add(until, Deed::Mend { transmitter, fault });
                        }
                    }
                }
                Action::LinkFault {
                    link,
                    fault,
                    lasting,
                } => {
                    let fault = match fault {
                        Disturbance::Silent => LinkFault::Silent,
                        Disturbance::Exception(code) => LinkFault::Exception(*code),
                    };
                    if let Some(link) = self.link_place(link) {
                        add(
                            entry.time,
                            Deed::Disturb {
                                link,
                                fault,
                                lasting: *lasting,
                            },
                        );
                    }
                }
                Action::Command(asked) => {
                    self.check_command(asked);
                    add(entry.time, Deed::Ask(asked.value.clone()));
                }
                Action::Clock(by_s) => add(entry.time, Deed::StepClock(*by_s)),
                Action::Contact { contact, on } => {
                    let on = *on;
                    if let Some(contact) = self.contact_place(contact) {
                        add(entry.time, Deed::Switch { contact, on });
                        if let Some(until) = entry.until {
                            add(until, Deed::Switch { contact, on: !on });
                        }
                    }
                }
                _ => {
                    if let Some((tank, setting, to)) = self.turn(action) {
                        add(
                            entry.time,
                            Deed::Turn {
                                tank,
                                setting,
                                to,
                                over,
                            },
                        );
                    }
                }
            }
        }
        due
    }

    fn turn(&self, action: &Action) -> Option<(usize, Setting, f64)> {
        match action {
            Action::Inflow { tank, value } => {
                Some((self.tank_place(tank)?, Setting::Inflow, *value))
            }
            Action::Outflow { tank, value } => {
                Some((self.tank_place(tank)?, Setting::Outflow, *value))
            }
            Action::LiquidTemperature { tank, value } => {
                Some((self.tank_place(tank)?, Setting::LiquidTemperature, *value))
            }
            Action::Headspace { tank, value } => {
                let place = self.tank_place(tank)?;
                let plan = &self.site.plan.tanks[place];
                self.check_closed(plan, &value.place);
                let pressure = self.absolute(value.value, top_of(plan));
                Some((place, Setting::Headspace, pressure.0.value))
            }
            _ => None,
        }
    }

    /// Transmitters and their faults that an ailment comes to.
    fn faults(&self, action: &Action) -> Vec<(usize, Fault)> {
        match action {
            Action::TankFault { tank, fault } => {
                let plan = self
                    .tank_place(tank)
                    .map(|place| &self.site.plan.tanks[place]);
                plan.map(|plan| self.tank_faults(plan, fault))
                    .unwrap_or_default()
            }
            Action::TransmitterFault { transmitter, fault } => {
                let place = self.transmitter_place(transmitter);
                place
                    .and_then(|place| self.transmitter_fault(place, fault))
                    .into_iter()
                    .collect()
            }
            _ => Vec::new(),
        }
    }

    fn tank_faults(&self, plan: &TankPlan, fault: &Placed<Ailment>) -> Vec<(usize, Fault)> {
        let hookup = &plan.hookups[0].hookup;
        let sides = Sides::of(hookup);
        let refuse = |why: &str, cure: &str| {
            let message = format!("tank \"{}\" {why}", plan.name);
            self.report(Problem::new(fault.place.clone(), message).cure(cure));
            Vec::new()
        };
        match fault.value {
            Ailment::Plugged { low: true, .. } if sides.low.is_none() => {
                refuse("has no low side that could plug", "plug its \"high\" side")
            }
            Ailment::Plugged { high, low } => {
                let plugged = [
                    high.then_some(sides.high),
                    sides.low.filter(|_| low).map(|low| (low.0, low.1)),
                ];
                plugged
                    .into_iter()
                    .flatten()
                    .map(|(id, side)| (id.index(), Fault::Plugged(side)))
                    .collect()
            }
            Ailment::WetLegLost(height) => match sides.low {
                Some((
                    id,
                    side,
                    Leg {
                        fill: LegFill::Filled(_),
                        ..
                    },
                )) => {
                    vec![(id.index(), Fault::LegLost(side, height.value))]
                }
                _ => refuse(
                    "has no wet low leg that could lose its fill",
                    "name a tank whose low leg is filled",
                ),
            },
            Ailment::Condensate(_) | Ailment::LowLegFlooded => match sides.low {
                Some((
                    id,
                    side,
                    Leg {
                        fill: LegFill::Gas, ..
                    },
                )) => {
                    // A line holds no more than its own height.
                    let height_m = match fault.value {
                        Ailment::Condensate(height) => height.value,
                        _ => f64::INFINITY,
                    };
                    vec![(id.index(), Fault::Condensate(side, height_m))]
                }
                _ => refuse(
                    "has no dry low leg that condensate could stand in",
                    "name a tank whose low leg is dry",
                ),
            },
            Ailment::EqualiserOpen if !has_equaliser(hookup) => refuse(
                "has no equaliser",
                "name a tank with a differential transmitter",
            ),
            _ => self
                .transmitter_fault(sides.high.0.index(), fault)
                .into_iter()
                .collect(),
        }
    }

    fn transmitter_fault(&self, place: usize, fault: &Placed<Ailment>) -> Option<(usize, Fault)> {
        let reads = self.site.plan.transmitters[place].reads;
        match fault.value {
            Ailment::Frozen => Some((place, Fault::Frozen)),
            Ailment::Nan => Some((place, Fault::Failed)),
            Ailment::EqualiserOpen => Some((place, Fault::EqualiserOpen)),
            Ailment::Drift {
                per_second,
                dimension,
            } => {
                let is_of_it = matches!(
                    (reads, dimension),
                    (Reads::Pressure(_), Dimension::Pressure)
                        | (Reads::Temperature, Dimension::TemperatureDifference)
                );
                if !is_of_it {
                    let message = format!(
                        "{} does not read that",
                        self.site.plan.transmitters[place].tag
                    );
                    let cure = "a pressure drifts by a pressure, a temperature by kelvin";
                    self.report(Problem::new(fault.place.clone(), message).cure(cure));
                }
                is_of_it.then_some((place, Fault::Drift(per_second)))
            }
            Ailment::Plugged { .. }
            | Ailment::WetLegLost(_)
            | Ailment::Condensate(_)
            | Ailment::LowLegFlooded => None,
        }
    }

    fn transmitter_place(&self, named: &Named) -> Option<usize> {
        let tags = || {
            self.site
                .plan
                .transmitters
                .iter()
                .map(|transmitter| &*transmitter.tag)
        };
        self.place(
            "transmitter",
            named,
            tags().position(|tag| tag == named.name),
            tags(),
        )
    }

    fn link_place(&self, named: &Named) -> Option<usize> {
        let names = || self.site.links.iter().map(|link| link.name.as_str());
        self.place(
            "link",
            named,
            names().position(|name| name == named.name),
            names(),
        )
    }

    fn contact_place(&self, named: &Named) -> Option<usize> {
        let tags = || self.site.plan.contacts.iter().map(|contact| &*contact.tag);
        self.place(
            "contact",
            named,
            tags().position(|tag| tag == named.name),
            tags(),
        )
    }
}

/// Which line of which transmitter is a tank's high and low side, as the site file names them.
struct Sides<'p> {
    high: (TransmitterId, Side),
    low: Option<(TransmitterId, Side, &'p Leg)>,
}

impl<'p> Sides<'p> {
    fn of(hookup: &'p Hookup) -> Self {
        let (high, low) = match hookup {
            Hookup::Differential {
                transmitter,
                low,
                reversed: true,
                ..
            } => (Side::Low, Some((*transmitter, Side::High, low))),
            Hookup::Differential {
                transmitter, low, ..
            }
            | Hookup::Interface {
                transmitter, low, ..
            }
            | Hookup::DipTube {
                transmitter,
                low: Some(low),
                ..
            } => (Side::High, Some((*transmitter, Side::Low, low))),
            Hookup::TwoTransmitter { headspace, .. }
            | Hookup::ThreeTransmitter { headspace, .. } => (
                Side::High,
                Some((headspace.transmitter, Side::High, &headspace.leg)),
            ),
            Hookup::Vented { .. }
            | Hookup::Barometer { .. }
            | Hookup::DipTube { .. }
            | Hookup::Level { .. } => (Side::High, None),
        };
        Self {
            high: (hookup.leading(), high),
            low,
        }
    }
}

/// Whether its manifold joins two ports of one transmitter.
fn has_equaliser(hookup: &Hookup) -> bool {
    matches!(
        hookup,
        Hookup::Differential { .. }
            | Hookup::Interface { .. }
            | Hookup::DipTube { low: Some(_), .. }
    )
}
