//! The system itself: whether its links, devices, journal, clock and notices are well, each with an alarm.
//!
//! What always holds: a failure is told once. What follows from it (levels that cannot be measured) is
//! suppressed by design under its alarm and listed there, and shows by itself once that alarm is hidden.
//! Something that happens and is over at once (a step of the clock) counts as lasting for [`LINGERS`], so that it
//! goes through the same states as all else, and waits for an answer.

mod observe;
mod words;

use super::alarm::{Alarm, Judgement};
use super::ids::{ContactId, LinkId, TransmitterId};
use super::plan::{Plan, SystemPart, TankPlan, Watch};
use super::{ContactSample, Fault, Sample};
use std::sync::Arc;
use std::time::Duration;

/// How long something counts that happened and was over at once. Common practice, no source.
const LINGERS: Duration = Duration::from_secs(60);
/// So many polls after a link is back what followed from its failure may last: some have not been read yet.
const POLLS_AFTER: u32 = 3;

/// The system as the engine remembers it.
#[derive(Clone, Debug)]
pub(super) struct System {
    /// In the order of the plan, as are the parts.
    pub alarms: Vec<Alarm>,
    parts: Vec<Part>,
    /// The links and devices that a tank's level hangs on, and those of a contact: places in the plan.
    of_tank: Vec<Vec<usize>>,
    of_contact: Vec<Vec<usize>>,
    /// The device that each transmitter, and each contact, is behind.
    behind: (Vec<Option<usize>>, Vec<Option<usize>>),
    /// What the devices have said in one read; reused.
    tallies: Vec<Tally>,
}

/// One part, as last heard of.
#[derive(Clone, Debug)]
struct Part {
    /// Whether it is in trouble; none: not heard of yet.
    trouble: Option<bool>,
    /// What is the matter, or that it is well again.
    what: Arc<str>,
    /// An occurrence counts until then.
    lingers: Option<Duration>,
    /// Since when the last trouble is over.
    over: Option<Duration>,
}

/// What one device has said in one read.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    asked: bool,
    answered: bool,
    exception: Option<u8>,
}

impl System {
    pub fn new(plan: &Plan) -> Self {
        let of_tank = |tank: &TankPlan| {
            let hangs = |link: LinkId, device: Option<usize>| {
                tank.transmitters().any(|id| {
                    plan.transmitters[id.index()].link == link
                        && device.is_none_or(|at| plan.devices[at].transmitters.contains(&id))
                })
            };
            places(plan, hangs)
        };
        let of_contact = |id: ContactId| {
            let hangs = |link: LinkId, device: Option<usize>| {
                plan.contacts[id.index()].link == link
                    && device.is_none_or(|at| plan.devices[at].contacts.contains(&id))
            };
            places(plan, hangs)
        };
        let contacts = (0..plan.contacts.len() as u32).map(ContactId);
        let transmitters = (0..plan.transmitters.len() as u32).map(TransmitterId);
        let devices = || plan.devices.iter();
        let behind = (
            transmitters
                .map(|id| devices().position(|device| device.transmitters.contains(&id)))
                .collect(),
            contacts
                .clone()
                .map(|id| devices().position(|device| device.contacts.contains(&id)))
                .collect(),
        );
        Self {
            behind,
            alarms: vec![Alarm::default(); plan.system.len()],
            parts: plan
                .system
                .iter()
                .map(|alarm| Part::new(alarm.watch))
                .collect(),
            of_tank: plan.tanks.iter().map(of_tank).collect(),
            of_contact: contacts.map(of_contact).collect(),
            tallies: vec![Tally::default(); plan.devices.len()],
        }
    }

    /// A part is in trouble, or it is over; `what` says so, and is asked only where that is news.
    pub fn note(
        &mut self,
        plan: &Plan,
        part: SystemPart,
        trouble: bool,
        what: impl FnOnce() -> Arc<str>,
        up: Duration,
    ) {
        let Some(place) = plan.system_place(part) else {
            return;
        };
        let state = &mut self.parts[place];
        if state.trouble == Some(trouble) {
            return;
        }
        if state.trouble == Some(true) {
            state.over = Some(up);
        }
        state.trouble = Some(trouble);
        state.what = what();
    }

    /// Something happened to a part that is over at once.
    pub fn happened(&mut self, plan: &Plan, part: SystemPart, what: Arc<str>, up: Duration) {
        if let Some(place) = plan.system_place(part) {
            let state = &mut self.parts[place];
            state.lingers = Some(up + LINGERS);
            state.what = what;
        }
    }

    /// What one read says of the devices: an exception, or silence of everything that was asked. While the
    /// link itself is down silence says nothing of the device.
    pub fn take_read(
        &mut self,
        plan: &Plan,
        samples: &[Sample],
        contacts: &[ContactSample],
        is_up: impl Fn(LinkId) -> bool,
        up: Duration,
    ) {
        self.tallies.fill(Tally::default());
        for sample in samples {
            if let Some(device) = self.behind.0[sample.transmitter.index()] {
                self.tallies[device].take(sample.raw.err());
            }
        }
        for sample in contacts {
            if let Some(device) = self.behind.1[sample.contact.index()] {
                self.tallies[device].take(sample.bit.err());
            }
        }
        for place in 0..plan.devices.len() {
            let (tally, device) = (self.tallies[place], &plan.devices[place]);
            let link = &plan.links[device.link.index()].name;
            let part = SystemPart::Device(place);
            if let Some(code) = tally.exception {
                let what = || words::exception(device.unit, link, code);
                self.note(plan, part, true, what, up);
            } else if tally.answered {
                let what = || words::answers_again(device.unit, link);
                self.note(plan, part, false, what, up);
            } else if tally.asked && is_up(device.link) {
                self.note(plan, part, true, || words::silent(device.unit, link), up);
            }
        }
    }

    /// The first of the links and devices that a tank's level hangs on whose alarm tells that it failed.
    pub fn telling_for_tank(&self, plan: &Plan, tank: usize, up: Duration) -> Option<usize> {
        let mut places = self.of_tank[tank].iter().copied();
        places.find(|place| self.tells(plan, *place, up))
    }

    /// The same of a contact.
    pub fn telling_for_contact(&self, plan: &Plan, id: ContactId, up: Duration) -> Option<usize> {
        let mut places = self.of_contact[id.index()].iter().copied();
        places.find(|place| self.tells(plan, *place, up))
    }

    /// Its alarm stands for what follows from the trouble, for a little while after it as well.
    fn tells(&self, plan: &Plan, place: usize, up: Duration) -> bool {
        let part = &self.parts[place];
        let lasts =
            part.trouble == Some(true) || self.last_end(plan, place).is_some_and(|end| up < end);
        lasts && !self.alarms[place].is_hidden()
    }

    /// Until when what followed from a trouble that is over may last.
    fn last_end(&self, plan: &Plan, place: usize) -> Option<Duration> {
        let over = self.parts[place].over?;
        let link = match plan.system[place].watch {
            Watch::System(SystemPart::Link(link)) => link,
            Watch::System(SystemPart::Device(at)) => plan.devices[at].link,
            _ => return None,
        };
        Some(over + plan.links[link.index()].poll_every * POLLS_AFTER)
    }

    /// When time alone next changes something about the parts.
    pub fn due(&self, plan: &Plan, up: Duration) -> Option<Duration> {
        let of_part = |place: usize| [self.parts[place].lingers, self.last_end(plan, place)];
        let all = (0..self.parts.len()).flat_map(of_part).flatten();
        all.filter(|at| *at > up).min()
    }

    fn judgement(&self, place: usize, is_reached: bool, up: Duration) -> Option<Judgement> {
        let part = &self.parts[place];
        let lasts = part.trouble? || part.lingers.is_some_and(|until| up < until);
        Some(match (lasts, is_reached) {
            (true, false) => Judgement::Undecided,
            (true, true) => Judgement::True,
            (false, _) => Judgement::False,
        })
    }
}

impl Part {
    /// Links and devices are waited for; all else is well until something is heard.
    fn new(watch: Watch) -> Self {
        let waits = matches!(
            watch,
            Watch::System(SystemPart::Link(_) | SystemPart::Device(_))
        );
        Self {
            trouble: (!waits).then_some(false),
            what: "well".into(),
            lingers: None,
            over: None,
        }
    }
}

impl Tally {
    fn take(&mut self, fault: Option<Fault>) {
        self.asked = true;
        match fault {
            None => self.answered = true,
            Some(Fault::Exception(code)) => self.exception = Some(code),
            Some(Fault::NoAnswer) => {}
        }
    }
}

/// The links first, then the devices on them.
fn places(plan: &Plan, hangs: impl Fn(LinkId, Option<usize>) -> bool) -> Vec<usize> {
    let alarms = || plan.system.iter().enumerate();
    let links = alarms().filter(|(_, alarm)| match alarm.watch {
        Watch::System(SystemPart::Link(link)) => hangs(link, None),
        _ => false,
    });
    let devices = alarms().filter(|(_, alarm)| match alarm.watch {
        Watch::System(SystemPart::Device(at)) => hangs(plan.devices[at].link, Some(at)),
        _ => false,
    });
    links.chain(devices).map(|(place, _)| place).collect()
}

impl Plan {
    fn system_place(&self, part: SystemPart) -> Option<usize> {
        let watch = Watch::System(part);
        self.system.iter().position(|alarm| alarm.watch == watch)
    }
}
