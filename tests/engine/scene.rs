//! A rehearsed site: the simulated plant stepped by seconds, its words decoded, the engine fed.

use crate::rig::Rig;
use standpipe::engine::{EventKind, Fault, Input, Sample};
use standpipe::field::registers;
use standpipe::plant::{Answer, Plant, Space};
use standpipe::rehearsal::{Script, Timeline, scenario};
use standpipe::site::{Site, settings};
use std::path::Path;
use std::time::Duration;

pub struct Scene {
    pub rig: Rig,
    pub plant: Plant,
    /// Standard deviation of each transmitter's noise, Pa.
    pub noise_pa: Vec<f64>,
    /// The tag that never answers.
    pub silent: Option<&'static str>,
    site: Site,
    timeline: Timeline,
}

impl Scene {
    /// `path`: the site file's, for files that are named relative to it.
    pub fn start(site: &str, path: &Path, script: &str) -> Self {
        let site =
            standpipe::site::parse(site, path).unwrap_or_else(|problems| panic!("{problems}"));
        let script = Script::parse(script, path).unwrap_or_else(|problems| panic!("{problems}"));
        let scene = scenario::plant(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
        Self {
            rig: Rig::of(site.plan.clone()),
            noise_pa: scene.plant.transmitters.iter().map(|t| t.noise).collect(),
            plant: Plant::new(scene.plant, script.seed),
            silent: None,
            site,
            timeline: scene.timeline,
        }
    }

    /// Runs to a second of the script; every link is read once a second.
    pub fn run_to(&mut self, second: u64) {
        while self.seconds() < second {
            self.second();
        }
    }

    pub fn seconds(&self) -> u64 {
        self.rig.now.up.as_secs()
    }

    pub fn second(&mut self) {
        let timeline = &mut self.timeline;
        self.plant.advance_under(Duration::from_secs(1), |plant| {
            timeline.apply(plant);
        });
        self.rig.pass(1.0);
        for link in 0..self.site.links.len() {
            let samples: Vec<Sample> = self.site.links[link]
                .points
                .iter()
                .map(|point| Sample {
                    transmitter: point.transmitter,
                    raw: self.raw(link, point),
                })
                .collect();
            self.rig.step(Input::Samples(&samples));
        }
    }

    pub fn true_level_m(&self, tank: &str) -> f64 {
        let tanks = &self.site.plan.tanks;
        let place = tanks.iter().position(|plan| *plan.name == *tank);
        self.plant.level(place.expect(tank)).value
    }

    /// The seconds at which events of a kind came, each with its tank and text.
    pub fn told(&self, kind: EventKind) -> Vec<(u64, String, String)> {
        let start = self.rig.events[0].time;
        let events = self.rig.of_kind(kind).into_iter();
        events
            .map(|event| {
                let second = (event.time - start).as_secs() as u64;
                let tank = event.tank.as_deref().unwrap_or_default().to_owned();
                (second, tank, event.text.clone())
            })
            .collect()
    }

    fn raw(&self, link: usize, point: &settings::Point) -> Result<f64, Fault> {
        if self.silent == Some(&*point.tag) {
            return Err(Fault::NoAnswer);
        }
        let space = match point.register.space {
            settings::Space::Input => Space::Input,
            settings::Space::Holding => Space::Holding,
            settings::Space::Discrete | settings::Space::Coil => panic!("a number is no bit"),
        };
        let address = point.register.address;
        let answer = self
            .plant
            .answer(link, point.device, space, address, point.number.words());
        match answer {
            Answer::Words(words) => Ok(registers::decode(&words, point.number, point.order)
                .expect("the plant answers as many words as were asked for")),
            Answer::Bits(_) => panic!("a number was asked for"),
            Answer::Exception(code) => Err(Fault::Exception(code)),
            Answer::Silence | Answer::Reset => Err(Fault::NoAnswer),
        }
    }
}
