//! What people do to a plant.
//!
//! What always holds: it is done to the plant as it was at the step before; so what transmitters tell of that step
//! is asked for first.

use super::transmitter::Standing;
use super::{
    Air, Disturbance, Fault, HeadspaceFault, LinkFault, Plant, STEP, Setting, Tank, Weather,
};
use crate::quantity::{AbsolutePressure, Length, kelvin};
use std::time::Duration;

impl Plant {
    /// Turn something to a value in SI units; it holds from the next step on.
    pub fn set(&mut self, tank: usize, setting: Setting, value: f64) {
        self.sense();
        self.turn(tank, setting, value);
    }

    /// The same by a hand that does so at each step and nothing else with it: nobody looks before the step.
    pub fn turn(&mut self, tank: usize, setting: Setting, value: f64) {
        self.tanks[tank].set(setting, value, &self.air);
    }

    pub fn setting(&self, tank: usize, setting: Setting) -> f64 {
        self.tanks[tank].setting(setting, &self.air)
    }

    /// The air of the whole plant, in SI units.
    pub fn set_weather(&mut self, weather: Weather, value: f64) {
        self.sense();
        self.turn_weather(weather, value);
    }

    /// As [`Plant::turn`].
    pub fn turn_weather(&mut self, weather: Weather, value: f64) {
        let mut model = self.air.model;
        match weather {
            Weather::Temperature => model.temperature = kelvin(value),
            Weather::Pressure => model.pressure = AbsolutePressure::pascals(value),
        }
        self.air = Air::new(model, self.air.gravity);
        self.tanks.iter_mut().for_each(Tank::begin_anew);
    }

    pub fn weather(&self, weather: Weather) -> f64 {
        match weather {
            Weather::Temperature => self.air.model.temperature.value,
            Weather::Pressure => self.air.model.pressure.0.value,
        }
    }

    /// Speed of a pump or opening of a valve, 0 to 1.
    pub fn set_pipe(&mut self, pipe: usize, share: f64) {
        if !self.pipes[pipe].runs() {
            self.sense();
        }
        self.pipes[pipe].share = share;
    }

    pub fn pipe_share(&self, pipe: usize) -> f64 {
        self.pipes[pipe].share
    }

    pub fn set_level(&mut self, tank: usize, level: Length) {
        self.sense();
        self.tanks[tank].set_level(level);
    }

    pub fn inflict(&mut self, transmitter: usize, fault: Fault) {
        self.sense();
        let now = Standing {
            tanks: &self.tanks,
            columns: &self.columns,
            pipes: &self.pipes,
            air: &self.air,
        };
        self.transmitters[transmitter].inflict(fault, &now);
        self.note_busy();
    }

    pub fn inflict_headspace(&mut self, tank: usize, fault: HeadspaceFault) {
        self.sense();
        self.tanks[tank].inflict(fault, &self.air);
    }

    pub fn mend_headspace(&mut self, tank: usize, fault: HeadspaceFault) {
        self.sense();
        self.tanks[tank].mend(fault);
    }

    pub fn mend(&mut self, transmitter: usize, fault: Fault) {
        self.sense();
        self.transmitters[transmitter].mend(fault);
        self.note_busy();
    }

    pub fn switch(&mut self, contact: usize, on: bool) {
        self.contacts[contact].on = on;
    }

    /// Disturb a link until a moment of the plant's time.
    pub fn disturb(&mut self, link: usize, fault: LinkFault, until: Duration) {
        let (device, share) = (None, 1.0);
        let by = Disturbance {
            fault,
            device,
            share,
            until,
        };
        self.disturb_some(link, by);
    }

    /// The same for one device, or where it befalls only a share of the moments, by the seed.
    pub fn disturb_some(&mut self, link: usize, by: Disturbance) {
        let now = self.time();
        self.links[link].inflict(by, now);
        self.refresh_torn(STEP);
    }
}
