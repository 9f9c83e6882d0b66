//! The simulated plant: tanks, impulse lines, transmitters and links as they truly are, with their faults.
//!
//! It shares the shapes of vessels and the densities with the rest of the program, and nothing else: a
//! transmitter's pressure is the sum of the columns from the gas down to the port, and words are encoded
//! here. So an error in one shows against the other. All of it is simulated; nothing comes from a real tank.
//!
//! What always holds: the plant goes in steps of [`STEP`], and model, seed and what is done to it at which
//! step settle every word to the bit, however its time is cut up.

mod line;
mod link;
mod model;
mod noise;
pub mod server;
mod tank;
#[cfg(test)]
pub(crate) mod tests;
mod transmitter;
mod words;

pub use link::{Answer, LinkFault, exception};
pub use model::{
    AirModel, ContactModel, Fill, HeadspaceModel, LineModel, OutputModel, PlantModel, Senses,
    Space, TankModel, TransmitterModel,
};
pub use transmitter::{Fault, Side};
pub use words::{Number, Order, encode};

use crate::quantity::{
    AbsolutePressure, Length, Volume, cubic_metres, cubic_metres_per_second, kelvin,
};
use link::{Link, MOST_BITS, MOST_REGISTERS};
use noise::Noise;
use std::time::Duration;
use tank::{Air, Columns, Tank};
use transmitter::{Standing, Transmitter};

/// The plant's step of time.
pub const STEP: Duration = Duration::from_millis(100);

/// A plant that runs. Tanks, transmitters and links are named by their place in the model's lists.
#[derive(Clone, Debug)]
pub struct Plant {
    link_names: Vec<String>,
    air: Air,
    tanks: Vec<Tank>,
    /// Of each tank at this step; reused.
    columns: Vec<Columns>,
    transmitters: Vec<Transmitter>,
    contacts: Vec<ContactModel>,
    links: Vec<Link>,
    steps: u32,
    /// Time that went by and does not make a step yet.
    rest: Duration,
}

/// What somebody can turn at a tank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Setting {
    /// m³/s.
    Inflow,
    /// m³/s.
    Outflow,
    /// Absolute pressure at the top of the vessel, Pa. A vented tank is closed by it.
    Headspace,
    /// K.
    LiquidTemperature,
}

impl Plant {
    pub fn new(model: PlantModel, seed: u64) -> Self {
        let air = Air {
            model: model.air,
            gravity: model.gravity,
        };
        let tanks: Vec<Tank> = model.tanks.into_iter().map(Tank::new).collect();
        let mut transmitters: Vec<Transmitter> = (0..)
            .zip(model.transmitters)
            .map(|(stream, transmitter)| Transmitter::new(transmitter, Noise::new(seed, stream)))
            .collect();
        let columns: Vec<Columns> = tanks.iter().map(|tank| tank.columns(&air)).collect();
        let now = Standing {
            tanks: &tanks,
            columns: &columns,
            air: &air,
        };
        transmitters
            .iter_mut()
            .for_each(|transmitter| transmitter.settle(&now));
        Self {
            links: vec![Link::default(); model.links.len()],
            link_names: model.links,
            air,
            tanks,
            columns,
            transmitters,
            contacts: model.contacts,
            steps: 0,
            rest: Duration::ZERO,
        }
    }

    /// Since the start.
    pub fn time(&self) -> Duration {
        STEP * self.steps
    }

    pub fn advance(&mut self, by: Duration) {
        self.advance_under(by, |_| {});
    }

    /// Let time go by, with a hand that acts on the plant before each of its steps.
    pub fn advance_under(&mut self, by: Duration, mut hand: impl FnMut(&mut Plant)) {
        self.rest += by;
        while self.rest >= STEP {
            self.rest -= STEP;
            hand(self);
            self.step();
        }
    }

    fn step(&mut self) {
        self.steps += 1;
        let seconds = STEP.as_secs_f64();
        self.tanks.iter_mut().for_each(|tank| tank.flow(seconds));
        self.columns.clear();
        let columns = self.tanks.iter().map(|tank| tank.columns(&self.air));
        self.columns.extend(columns);
        let now = Standing {
            tanks: &self.tanks,
            columns: &self.columns,
            air: &self.air,
        };
        for transmitter in &mut self.transmitters {
            transmitter.step(seconds, &now);
        }
    }
}

/// What people do to it.
impl Plant {
    /// Turn something to a value in SI units; it holds from the next step on.
    pub fn set(&mut self, tank: usize, setting: Setting, value: f64) {
        let model = &mut self.tanks[tank].model;
        match setting {
            Setting::Inflow => model.inflow = cubic_metres_per_second(value),
            Setting::Outflow => model.outflow = cubic_metres_per_second(value),
            Setting::Headspace => {
                let pressure = AbsolutePressure::pascals(value);
                model.headspace = HeadspaceModel::Closed { pressure };
            }
            Setting::LiquidTemperature => model.liquid_temperature = kelvin(value),
        }
    }

    pub fn setting(&self, tank: usize, setting: Setting) -> f64 {
        let tank = &self.tanks[tank];
        match setting {
            Setting::Inflow => tank.model.inflow.value,
            Setting::Outflow => tank.model.outflow.value,
            Setting::Headspace => tank.columns(&self.air).pressure_pa(tank.top().value),
            Setting::LiquidTemperature => tank.model.liquid_temperature.value,
        }
    }

    pub fn set_level(&mut self, tank: usize, level: Length) {
        self.tanks[tank].set_level(level);
    }

    pub fn inflict(&mut self, transmitter: usize, fault: Fault) {
        self.transmitters[transmitter].inflict(fault, &self.tanks, &self.air);
    }

    pub fn mend(&mut self, transmitter: usize, fault: Fault) {
        self.transmitters[transmitter].mend(fault);
    }

    pub fn switch(&mut self, contact: usize, on: bool) {
        self.contacts[contact].on = on;
    }

    /// Disturb a link until a moment of the plant's time.
    pub fn disturb(&mut self, link: usize, fault: LinkFault, until: Duration) {
        self.links[link].inflict(fault, until);
    }
}

/// The truth.
impl Plant {
    /// Above the tank's zero.
    pub fn level(&self, tank: usize) -> Length {
        self.tanks[tank].level()
    }

    pub fn volume(&self, tank: usize) -> Volume {
        cubic_metres(self.tanks[tank].volume_m3())
    }

    /// What ran over since the start.
    pub fn overflowed(&self, tank: usize) -> Volume {
        cubic_metres(self.tanks[tank].overflowed_m3())
    }

    /// What was to be drawn since the start but was not there.
    pub fn not_drawn(&self, tank: usize) -> Volume {
        cubic_metres(self.tanks[tank].not_drawn_m3())
    }

    /// What a transmitter tells, in SI units.
    pub fn value(&self, transmitter: usize) -> f64 {
        self.transmitters[transmitter].value()
    }
}

/// What its devices answer.
impl Plant {
    pub fn links(&self) -> &[String] {
        &self.link_names
    }

    /// The answer to a request for registers. A device that is not there is silent behind a gateway, which
    /// says so; a range that holds an unknown register is refused whole.
    pub fn answer(
        &self,
        link: usize,
        device: u8,
        space: Space,
        address: u16,
        count: u16,
    ) -> Answer {
        match self.links[link].fault(self.time()) {
            Some(LinkFault::Silent) => return Answer::Silence,
            Some(LinkFault::Exception(code)) => return Answer::Exception(code),
            None => {}
        }
        let outputs = || {
            self.transmitters
                .iter()
                .filter(|one| (one.model.output.link, one.model.output.device) == (link, device))
        };
        let contacts = || {
            let own = self.contacts.iter();
            own.filter(|one| (one.link, one.device) == (link, device))
        };
        if outputs().next().is_none() && contacts().next().is_none() {
            return Answer::Exception(exception::GATEWAY_TARGET_FAILED_TO_RESPOND);
        }
        let is_bits = matches!(space, Space::Discrete | Space::Coil);
        let most = if is_bits { MOST_BITS } else { MOST_REGISTERS };
        if !(1..=most).contains(&count) {
            return Answer::Exception(exception::ILLEGAL_DATA_VALUE);
        }
        let (first, length) = (usize::from(address), usize::from(count));
        let mut table: Vec<Option<u16>> = vec![None; length];
        // Its place in the answer, if it is asked for.
        let asked = |register: usize| register.checked_sub(first).filter(|at| *at < length);
        for output in outputs().filter(|one| one.model.output.space == space) {
            let start = usize::from(output.model.output.address);
            // A number takes four registers at most.
            if start + 4 <= first || start >= first + length {
                continue;
            }
            for (register, word) in (start..).zip(output.words()) {
                if let Some(at) = asked(register) {
                    table[at] = Some(word);
                }
            }
        }
        for contact in contacts().filter(|one| one.space == space) {
            if let Some(at) = asked(contact.address.into()) {
                let state = u16::from(contact.on != contact.inverted);
                *table[at].get_or_insert(0) |= state << contact.bit.unwrap_or(0);
            }
        }
        let words: Option<Vec<u16>> = table.into_iter().collect();
        match words {
            Some(words) if is_bits => Answer::Bits(words.iter().map(|word| *word != 0).collect()),
            Some(words) => Answer::Words(words),
            None => Answer::Exception(exception::ILLEGAL_DATA_ADDRESS),
        }
    }

    /// The words of an answer that has any.
    pub fn words(
        &self,
        link: usize,
        device: u8,
        space: Space,
        address: u16,
        count: u16,
    ) -> Option<Vec<u16>> {
        match self.answer(link, device, space, address, count) {
            Answer::Words(words) => Some(words),
            Answer::Bits(_) | Answer::Exception(_) | Answer::Silence => None,
        }
    }
}
