//! Tanks, alarms and products that commands and expectations name, against the site.

use super::Scene;
use crate::engine::Command;
use crate::engine::event::SYSTEM;
use crate::engine::plan::TankPlan;
use crate::quantity::Dimension;
use crate::rehearsal::script::expect::Subject;
use crate::rehearsal::script::{Asked, Named};
use crate::site::problem::Problem;

impl Scene<'_> {
    pub(super) fn check_command(&self, asked: &Asked) {
        let place = || asked.place.clone();
        let named = |tank: &str| Named {
            name: tank.to_owned(),
            place: place(),
        };
        match &asked.command {
            Command::Acknowledge { tank, code, .. }
            | Command::Reset { tank, code, .. }
            | Command::Shelve { tank, code, .. }
            | Command::Unshelve { tank, code, .. }
            | Command::OutOfService { tank, code, .. }
            | Command::Return { tank, code, .. }
            | Command::EndTestAlarm { tank, code, .. } => self.check_alarm(&named(tank), code),
            Command::TestAlarm {
                tank, code, test, ..
            } => {
                self.check_alarm(&named(tank), code);
                let leading = || {
                    let tank = self.tank_named(&named(tank))?;
                    let leading = tank.hookups.first()?.hookup.leading();
                    Some(self.site.plan.transmitters[leading.index()].tag.to_string())
                };
                if let Some(tag) = test.at.clone().or_else(leading) {
                    self.check_transmitter(&named(&tag), asked.reads);
                }
            }
            Command::Work { tag, .. } | Command::EndWork { tag, .. } => {
                self.check_transmitter(&named(tag), asked.reads);
            }
            Command::ChooseProduct { tank, product, .. } => {
                if let Some(plan) = self.tank_named(&named(tank)) {
                    self.check_product(plan, product, asked);
                }
            }
            Command::ConfirmLevel { tank, .. }
            | Command::ConfirmLegDrained { tank, .. }
            | Command::Enter { tank, .. }
            | Command::Transfer { tank, .. }
            | Command::EndTransfer { tank, .. }
            | Command::Note {
                tank: Some(tank), ..
            } => {
                self.tank_named(&named(tank));
            }
            Command::Note { tank: None, .. }
            | Command::TestNotice { .. }
            | Command::Silence { .. } => {}
        }
    }

    pub(super) fn check_expectations(&self) {
        for expectation in &self.script.expectations {
            match &expectation.subject {
                Subject::Alarm { tank, code, .. } => self.check_alarm(tank, code),
                Subject::Event { tank: None, .. } => {}
                Subject::Interface { tank, .. } => {
                    if let Some(plan) = self.tank_named(tank) {
                        self.check_layers(plan, &tank.place, "interface_within");
                    }
                }
                Subject::Level { tank, .. }
                | Subject::LevelOff { tank, .. }
                | Subject::Quality { tank, .. }
                | Subject::Reason { tank, .. }
                | Subject::Finding { tank, .. }
                | Subject::Event {
                    tank: Some(tank), ..
                } => {
                    self.tank_named(tank);
                }
            }
        }
    }

    fn tank_named(&self, named: &Named) -> Option<&TankPlan> {
        let place = self.tank_place(named)?;
        Some(&self.site.plan.tanks[place])
    }

    fn check_alarm(&self, tank: &Named, code: &str) {
        let plan = &self.site.plan;
        let alarms = match tank.name == SYSTEM {
            true => &plan.system,
            false => match self.tank_named(tank) {
                Some(tank) => &tank.alarms,
                None => return,
            },
        };
        let codes = || alarms.iter().map(|alarm| &*alarm.code);
        if !codes().any(|known| known == code) {
            let message = match tank.name == SYSTEM {
                true => format!("the system has no alarm \"{code}\""),
                false => format!("tank \"{}\" has no alarm \"{code}\"", tank.name),
            };
            let cure = format!("it has: {}", codes().collect::<Vec<_>>().join(", "));
            self.report(Problem::new(tank.place.clone(), message).cure(cure));
        }
    }

    /// `reads`: what a value that stands in for its own is a quantity of.
    fn check_transmitter(&self, tag: &Named, reads: Option<Dimension>) {
        let mut all = self.site.plan.transmitters.iter();
        let Some(transmitter) = all.find(|one| *one.tag == *tag.name) else {
            let tags = self.site.plan.transmitters.iter().map(|one| &*one.tag);
            let message = format!("the site has no transmitter \"{}\"", tag.name);
            let cure = format!("it has: {}", tags.collect::<Vec<_>>().join(", "));
            self.report(Problem::new(tag.place.clone(), message).cure(cure));
            return;
        };
        let due = transmitter.unit.dimension;
        if reads.is_some_and(|reads| reads != due) {
            let message = format!("\"{}\" does not read that", tag.name);
            let cure = format!(
                "it reads {}, in {}",
                due.with_article(),
                transmitter.unit.symbol
            );
            self.report(Problem::new(tag.place.clone(), message).cure(cure));
        }
    }

    fn check_product(&self, tank: &TankPlan, product: &str, asked: &Asked) {
        let names = || tank.products.iter().map(|product| &*product.name);
        // That it cannot be chosen may be what is rehearsed.
        if !names().any(|name| name == product) && !asked.refused {
            let message = format!("tank \"{}\" has no product \"{product}\"", tank.name);
            let cure = match names().count() {
                0 | 1 => "the site file names one liquid for it".to_owned(),
                _ => format!("it has: {}", names().collect::<Vec<_>>().join(", ")),
            };
            self.report(Problem::new(asked.place.clone(), message).cure(cure));
        }
    }
}
