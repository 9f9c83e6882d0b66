//! The simulated plant: tanks, impulse lines, transmitters and links as they truly are, with their faults.
//!
//! It shares the shapes of vessels and the densities with the rest of the program, and nothing else: a
//! transmitter's pressure is the sum of the columns from the gas down to the port, and words are encoded
//! here. So an error in one shows against the other. All of it is simulated; nothing comes from a real tank.
//!
//! What always holds: the plant goes in steps of [`STEP`], and model, seed and what is done to it at which
//! step settle every word to the bit, however its time is cut up.

mod answer;
mod columns;
mod deeds;
mod fault;
#[cfg(test)]
mod fault_tests;
mod headspace;
#[cfg(test)]
mod headspace_tests;
mod line;
mod link;
mod model;
mod noise;
mod pipe;
#[cfg(test)]
mod pipe_tests;
#[cfg(test)]
mod sense_tests;
pub mod server;
mod tank;
#[cfg(test)]
pub(crate) mod tests;
mod transmitter;
mod words;

pub use fault::{Fault, Side};
pub use link::{Answer, Disturbance, LinkFault, exception};
pub use model::{
    AirModel, ContactModel, Drive, End, Fill, GasModel, HeadspaceModel, LevelSwitch, LineModel,
    LowerLiquid, OutputModel, PipeModel, PlantModel, Ranging, Senses, Space, TankModel,
    TransmitterModel,
};
pub use noise::Noise;
pub use tank::{HeadspaceFault, Setting};
pub use words::{Number, Order, encode};

use crate::quantity::{Length, Volume, cubic_metres};
use answer::{Outlet, Told};
use columns::Columns;
use link::Link;
use pipe::Pipe;
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::time::Duration;
use tank::{Air, Tank};
use transmitter::{Standing, Transmitter};

/// The plant's step of time.
pub const STEP: Duration = Duration::from_millis(100);

/// A plant that runs. Tanks, transmitters and links are named by their place in the model's lists.
#[derive(Clone, Debug)]
pub struct Plant {
    link_names: Vec<String>,
    air: Air,
    tanks: Vec<Tank>,
    /// Of each tank as last looked at.
    columns: Vec<Columns>,
    /// Tanks that something looks at in each step: a transmitter that remembers, or the switch of a pump.
    is_watched: Vec<bool>,
    /// Tanks that something flows into or out of by a pipe: the next step's flow hangs on this one's pressures.
    is_piped: Vec<bool>,
    /// What transmitters tell is of this step.
    is_sensed: bool,
    transmitters: Vec<Transmitter>,
    /// Those that something goes on in at each step.
    busy: Vec<usize>,
    contacts: Vec<ContactModel>,
    outlets: BTreeMap<Outlet, Told>,
    pipes: Vec<Pipe>,
    links: Vec<Link>,
    steps: u32,
    /// Time that went by and does not make a step yet.
    rest: Duration,
}

/// What the weather turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weather {
    /// Of the air and of all lines that follow it, K.
    Temperature,
    /// Of the air where the model has it, Pa.
    Pressure,
}

/// Streams of the generator: transmitters count from 0, tanks and links from these.
const TANK_STREAMS: u64 = 1 << 32;
const LINK_STREAMS: u64 = 2 << 32;

impl Plant {
    pub fn new(model: PlantModel, seed: u64) -> Self {
        let air = Air::new(model.air, model.gravity);
        let tanks: Vec<Tank> = (TANK_STREAMS..)
            .zip(model.tanks)
            .map(|(stream, tank)| Tank::new(tank, &air, Noise::new(seed, stream)))
            .collect();
        let outlets = answer::outlets(&model.transmitters, &model.contacts);
        let mut transmitters: Vec<Transmitter> = (0..)
            .zip(model.transmitters)
            .map(|(stream, transmitter)| Transmitter::new(transmitter, Noise::new(seed, stream)))
            .collect();
        let columns: Vec<Columns> = tanks.iter().map(|tank| tank.columns(&air)).collect();
        let pipes: Vec<Pipe> = model.pipes.into_iter().map(Pipe::new).collect();
        let now = Standing {
            tanks: &tanks,
            columns: &columns,
            pipes: &pipes,
            air: &air,
        };
        transmitters
            .iter_mut()
            .for_each(|transmitter| transmitter.settle(&now));
        let mut plant = Self {
            links: (LINK_STREAMS..)
                .zip(&model.links)
                .map(|(stream, _)| Link::new(Noise::new(seed, stream)))
                .collect(),
            link_names: model.links,
            air,
            is_watched: vec![false; tanks.len()],
            is_piped: vec![false; tanks.len()],
            is_sensed: true,
            tanks,
            columns,
            transmitters,
            busy: Vec::new(),
            contacts: model.contacts,
            outlets,
            pipes,
            steps: 0,
            rest: Duration::ZERO,
        };
        plant.note_busy();
        plant
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
        self.advance_while(by, |plant| {
            hand(plant);
            ControlFlow::Continue(())
        });
    }

    /// The same, but the step before which the hand breaks off is the last one.
    pub fn advance_while(
        &mut self,
        by: Duration,
        mut hand: impl FnMut(&mut Plant) -> ControlFlow<()>,
    ) {
        self.rest += by;
        while self.rest >= STEP {
            self.rest -= STEP;
            let goes_on = hand(self);
            self.step();
            if goes_on.is_break() {
                self.rest = Duration::ZERO;
            }
        }
        self.sense();
    }

    fn step(&mut self) {
        self.steps += 1;
        self.is_sensed = false;
        let (seconds, air) = (STEP.as_secs_f64(), self.air);
        if !self.pipes.is_empty() {
            self.pipe();
        }
        for (place, tank) in self.tanks.iter_mut().enumerate() {
            tank.step(seconds, &air);
            if self.is_watched[place] || self.is_piped[place] {
                tank.stands_still = !tank.refresh(&mut self.columns[place], &air);
                tank.moved |= !tank.stands_still;
            }
        }
        let now = Standing {
            tanks: &self.tanks,
            columns: &self.columns,
            pipes: &self.pipes,
            air: &self.air,
        };
        for place in &self.busy {
            let transmitter = &mut self.transmitters[*place];
            let tank = transmitter.tank();
            let stands_still = tank.is_some_and(|tank| self.tanks[tank].stands_still);
            transmitter.step(seconds, &now, stands_still);
        }
        self.links.iter_mut().for_each(Link::draw);
        self.refresh_torn(STEP);
    }

    /// What transmitters tell of this step: asked for before anybody looks, and before anything is done to them.
    pub fn sense(&mut self) {
        if std::mem::replace(&mut self.is_sensed, true) {
            return;
        }
        for (place, tank) in self.tanks.iter_mut().enumerate() {
            let is_other = tank.refresh(&mut self.columns[place], &self.air);
            tank.stands_still = !(is_other || std::mem::take(&mut tank.moved));
        }
        let now = Standing {
            tanks: &self.tanks,
            columns: &self.columns,
            pipes: &self.pipes,
            air: &self.air,
        };
        for transmitter in &mut self.transmitters {
            let tank = transmitter.tank();
            let stands_still = tank.is_some_and(|tank| self.tanks[tank].stands_still);
            transmitter.sense(STEP.as_secs_f64(), &now, stands_still);
        }
    }

    /// What has to be looked at in each step; asked again where something was done to a transmitter.
    fn note_busy(&mut self) {
        let transmitters = self.transmitters.iter().enumerate();
        let busy = transmitters.filter(|(_, one)| one.is_busy());
        self.busy = busy.map(|(place, _)| place).collect();
        self.is_watched.fill(false);
        let switched = self.pipes.iter().filter(|pipe| pipe.model.switch.is_some());
        let ends = switched.flat_map(|pipe| [pipe.model.from, pipe.model.to]);
        let remembering = self.transmitters.iter().filter(|one| one.remembers());
        let seen = remembering.filter_map(Transmitter::tank);
        for tank in ends.flatten().map(|end| end.tank).chain(seen) {
            self.is_watched[tank] = true;
        }
    }

    /// What goes through each pipe in this step.
    fn pipe(&mut self) {
        for tank in &mut self.tanks {
            (tank.piped_in_m3_s, tank.piped_out_m3_s) = (0.0, 0.0);
        }
        self.is_piped.fill(false);
        for pipe in &mut self.pipes {
            let level = |tank: usize| self.tanks[tank].level().value;
            let flow_m3_s = pipe.step(&self.columns, level, &self.air);
            if let Some(from) = pipe.model.from {
                self.tanks[from.tank].take_by_pipe(flow_m3_s);
            }
            if let Some(to) = pipe.model.to {
                self.tanks[to.tank].take_by_pipe(-flow_m3_s);
            }
            if let Some(contact) = pipe.model.contact {
                self.contacts[contact].on = pipe.runs();
            }
            if pipe.runs() {
                let ends = [pipe.model.from, pipe.model.to].into_iter().flatten();
                ends.for_each(|end| self.is_piped[end.tank] = true);
            }
        }
    }

    /// Gateways that tear take the first words anew, where that is due.
    fn refresh_torn(&mut self, step: Duration) {
        let now = self.time();
        for place in 0..self.links.len() {
            if self.links[place].refreshes(now, step) != Some(true) {
                continue;
            }
            self.sense();
            let of_it = |one: &&mut Transmitter| one.model.output.link == place;
            let torn = self.transmitters.iter_mut().filter(of_it);
            torn.for_each(Transmitter::hold_first_word);
        }
    }
}

/// The truth.
impl Plant {
    /// Above the tank's zero.
    pub fn level(&self, tank: usize) -> Length {
        self.tanks[tank].level()
    }

    /// Between two liquids, above the tank's zero; none in a tank of one.
    pub fn boundary(&self, tank: usize) -> Option<Length> {
        self.tanks[tank].boundary()
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
