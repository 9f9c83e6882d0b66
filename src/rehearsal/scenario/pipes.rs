//! Pumps, valves and demands of a script on the plant of a site.

use super::Scene;
use crate::plant::{End, LevelSwitch, Noise, PipeModel, Setting};
use crate::rehearsal::script::{EndStart, Named, PipeStart};
use crate::rehearsal::timeline::{Deed, Due, Knob};
use crate::site::problem::Problem;
use std::time::Duration;

/// Streams of the generator that scatter demands; those of entries lie below.
const DEMAND_STREAMS: u64 = 4 << 32;

impl Scene<'_> {
    pub(super) fn pipes(&self) -> Vec<PipeModel> {
        let mut names: Vec<&Named> = Vec::new();
        for pipe in &self.script.pipes {
            match names.iter().find(|one| one.name == pipe.name.name) {
                None => names.push(&pipe.name),
                Some(earlier) => {
                    let message = format!("there are two of the name \"{}\"", pipe.name.name);
                    let problem = Problem::new(pipe.name.place.clone(), message);
                    self.report(
                        problem
                            .related(earlier.place.clone(), "first here")
                            .cure("give each pump and valve a name of its own"),
                    );
                }
            }
        }
        let pipes = self.script.pipes.iter();
        pipes.filter_map(|pipe| self.pipe(pipe)).collect()
    }

    fn pipe(&self, pipe: &PipeStart) -> Option<PipeModel> {
        let end = |end: &Option<EndStart>| {
            end.as_ref().map(|end| {
                let tank = self.tank_place(&end.tank)?;
                let vessel = &self.site.plan.tanks[tank].vessel;
                let at = vessel.elevation(end.at);
                Some(End { tank, at })
            })
        };
        // A name that the site does not have was reported.
        let (from, to) = (end(&pipe.from), end(&pipe.to));
        if matches!(from, Some(None)) || matches!(to, Some(None)) {
            return None;
        }
        let switch = pipe.switch.as_ref().map(|switch| {
            let (starts, stops) = (switch.starts, switch.stops);
            let tank = self.tank_place(&switch.tank)?;
            Some(LevelSwitch {
                tank,
                starts,
                stops,
            })
        });
        let mut contacts = self.site.plan.contacts.iter();
        Some(PipeModel {
            name: pipe.name.name.clone(),
            from: from.flatten(),
            to: to.flatten(),
            drive: pipe.drive,
            share: pipe.share,
            switch: switch.flatten(),
            contact: contacts.position(|contact| *contact.tag == *pipe.name.name),
        })
    }

    pub(super) fn pipe_place(&self, named: &Named) -> Option<usize> {
        let names = || self.script.pipes.iter().map(|pipe| pipe.name.name.as_str());
        let place = names().position(|name| name == named.name);
        if place.is_none() {
            let message = format!("the script has no pump or valve \"{}\"", named.name);
            let cure = match names().count() {
                0 => "describe it in a [[pump]] or [[valve]]".to_owned(),
                _ => format!("it has: {}", names().collect::<Vec<_>>().join(", ")),
            };
            self.report(Problem::new(named.place.clone(), message).cure(cure));
        }
        place
    }

    /// Demands as entries that come again in each period.
    pub(super) fn demands(&self) -> Vec<Due> {
        let mut due = Vec::new();
        for (stream, demand) in (DEMAND_STREAMS..).zip(&self.script.demands) {
            let demand = &demand.value;
            let Some(tank) = self.tank_place(&demand.tank) else {
                continue;
            };
            for (row, (time, to)) in (0..).zip(&demand.pattern) {
                // A stream of its own for each row: each is drawn once a period.
                let chance = Noise::new(self.script.seed.wrapping_add(row << 40), stream);
                let knob = Knob::Tank(tank, Setting::Outflow);
                let (to, over) = (*to, Duration::ZERO);
                let deed = Deed::Turn { knob, to, over };
                let one = Due::new(*time, Some(demand.every), (Duration::ZERO, chance), deed);
                due.push(one.scattered(demand.scatter));
            }
        }
        due
    }
}
