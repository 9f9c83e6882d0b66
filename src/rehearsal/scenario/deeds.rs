//! The entries of a script as deeds on the plant of a site.

use super::{Scene, top_of};
use crate::plant::{LinkFault, Noise, Setting};
use crate::rehearsal::script::{Action, Disturbance, Entry, Named, Placed};
use crate::rehearsal::timeline::{Deed, Due, Knob};
use crate::site::problem::Problem;

/// Streams of the generator that say how late an entry is; the plant's own lie below.
const JITTER_STREAMS: u64 = 3 << 32;

impl Scene<'_> {
    pub(super) fn due(&self) -> Vec<Due> {
        (JITTER_STREAMS..)
            .zip(&self.script.entries)
            .flat_map(|(stream, entry)| self.due_of(entry, Noise::new(self.script.seed, stream)))
            .collect()
    }

    fn due_of(&self, entry: &Entry, chance: Noise) -> Vec<Due> {
        let over = entry.until.unwrap_or(entry.time) - entry.time;
        let mut due = Vec::new();
        let mut add = |time, deed| {
            let late = (entry.jitter, chance.clone());
            due.push(Due::new(time, entry.every, late, deed));
        };
        for action in &entry.actions {
            match action {
                Action::TankFault { .. } | Action::TransmitterFault { .. } => {
                    for (inflict, mend) in self.faults(action) {
                        add(entry.time, inflict);
                        if let Some(until) = entry.until {
                            add(until, mend);
                        }
                    }
                }
                Action::LinkFault {
                    link,
                    device,
                    fault,
                    share,
                    lasting,
                } => {
                    if let Some(link) = self.link_place(link) {
                        self.check_device(link, device.as_ref());
                        let deed = Deed::Disturb {
                            link,
                            fault: link_fault(*fault),
                            device: device.as_ref().map(|device| device.value),
                            share: *share,
                            lasting: *lasting,
                        };
                        add(entry.time, deed);
                    }
                }
                Action::Command(asked) => {
                    self.check_command(asked);
                    add(entry.time, Deed::Ask(asked.clone()));
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
                Action::Turn { .. }
                | Action::Headspace { .. }
                | Action::Weather { .. }
                | Action::Pipe { .. } => {
                    if let Some((knob, to)) = self.turn(action) {
                        add(entry.time, Deed::Turn { knob, to, over });
                    }
                }
            }
        }
        due
    }

    fn turn(&self, action: &Action) -> Option<(Knob, f64)> {
        match action {
            Action::Turn {
                tank,
                setting,
                value,
            } => {
                let place = self.tank_place(tank)?;
                if *setting == Setting::Interface {
                    self.check_layers(&self.site.plan.tanks[place], &tank.place, "interface");
                }
                Some((Knob::Tank(place, *setting), *value))
            }
            Action::Headspace { tank, value } => {
                let place = self.tank_place(tank)?;
                let plan = &self.site.plan.tanks[place];
                self.check_closed(plan, &value.place, "headspace");
                let pressure = self.absolute(value.value, top_of(plan));
                Some((Knob::Tank(place, Setting::Headspace), pressure.0.value))
            }
            Action::Pipe { pipe, share } => Some((Knob::Pipe(self.pipe_place(pipe)?), *share)),
            Action::Weather { weather, value } => Some((Knob::Weather(*weather), *value)),
            _ => None,
        }
    }

    pub(super) fn transmitter_place(&self, named: &Named) -> Option<usize> {
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

    fn check_device(&self, link: usize, device: Option<&Placed<u8>>) {
        let link = &self.site.links[link];
        let of_points = link.points.iter().map(|point| point.device);
        let mut known: Vec<u8> = of_points
            .chain(link.bits.iter().map(|bit| bit.device))
            .collect();
        known.sort_unstable();
        known.dedup();
        if let Some(device) = device.filter(|device| !known.contains(&device.value)) {
            let message = format!("link \"{}\" has no device {}", link.name, device.value);
            let known: Vec<String> = known.iter().map(u8::to_string).collect();
            let problem = Problem::new(device.place.clone(), message);
            self.report(problem.cure(format!("it has: {}", known.join(", "))));
        }
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

fn link_fault(fault: Disturbance) -> LinkFault {
    match fault {
        Disturbance::Silent => LinkFault::Silent,
        Disturbance::Reset => LinkFault::Reset,
        Disturbance::Dropped => LinkFault::Dropped,
        Disturbance::Late(by) => LinkFault::Late(by),
        Disturbance::Exception(code) => LinkFault::Exception(code),
        Disturbance::Torn(apart) => LinkFault::Torn(apart),
        Disturbance::Swapped => LinkFault::Swapped,
    }
}
