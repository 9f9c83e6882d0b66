//! Commands: each is carried out and recorded, or refused with a reason and nothing is changed.

use super::Effect;
use super::alarm_commands::Asked;
use super::command::{Command, Done, Refusal};
use super::event::EventKind;
use super::step::Engine;
use std::sync::Arc;

impl Engine {
    pub(super) fn obey(
        &mut self,
        command: Command,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        self.not_under_test(&command)?;
        match command {
            Command::Acknowledge {
                tank,
                code,
                by,
                activation,
            } => self.acknowledge(asked(&tank, &code, &by), activation, effects),
            Command::Reset { tank, code, by } => self.reset(asked(&tank, &code, &by), effects),
            Command::Shelve {
                tank,
                code,
                by,
                time,
                reason,
                once,
            } => self.shelve(asked(&tank, &code, &by), time, &reason, once, effects),
            Command::Unshelve { tank, code, by } => {
                self.unshelve(asked(&tank, &code, &by), effects)
            }
            Command::OutOfService {
                tank,
                code,
                by,
                reason,
            } => self.take_out_of_service(asked(&tank, &code, &by), reason, effects),
            Command::Return { tank, code, by } => {
                self.return_to_service(asked(&tank, &code, &by), effects)
            }
            Command::ConfirmLevel { tank, by } => self.confirm_level(&tank, &by, effects),
            Command::ConfirmLegDrained { tank, by } => {
                self.confirm_leg_drained(&tank, &by, effects)
            }
            Command::Enter {
                tank,
                entry,
                reader,
                by,
            } => self.enter(&tank, &entry, (reader, &by), effects),
            Command::TestNotice { name, by } => self.test_notice(&name, &by, effects),
            Command::ChooseProduct { tank, product, by } => {
                self.choose_product(&tank, &product, &by, effects)
            }
            Command::Transfer {
                tank,
                to,
                tell,
                stop_within,
                by,
            } => self.start_transfer(&tank, to, (tell, stop_within), &by, effects),
            Command::EndTransfer { tank, by } => self.end_transfer(&tank, &by, effects),
            Command::Work { tag, permit, by } => self.begin_work(&tag, permit, &by, effects),
            Command::EndWork { tag, anyway, by } => self.end_work(&tag, anyway, &by, effects),
            Command::Silence { place, by } => self.silence(place.as_ref(), &by, effects),
            Command::TestAlarm {
                tank,
                code,
                test,
                by,
            } => self.begin_test(asked(&tank, &code, &by), &test, effects),
            Command::EndTestAlarm { tank, code, by } => {
                self.end_test(asked(&tank, &code, &by), effects)
            }
            Command::Note { tank, text, by } => self.note(tank.as_deref(), &text, &by, effects),
        }
    }

    fn confirm_level(
        &mut self,
        tank: &str,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        if !self.tanks[index].confirm_level() {
            return Err(Refusal::NoJump {
                tank: tank.to_owned(),
            });
        }
        let name = Arc::clone(&self.plan.tanks[index].name);
        let text = "jump is over: the level was confirmed".to_owned();
        self.person_event(EventKind::Jump, Some(&name), None, Some(by), text, effects);
        Ok(Done(format!(
            "{tank}: the level counts as it stands, confirmed by {by}"
        )))
    }

    fn confirm_leg_drained(
        &mut self,
        tank: &str,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        if !self.tanks[index].confirm_leg_drained() {
            return Err(Refusal::LegNotFlooded {
                tank: tank.to_owned(),
            });
        }
        let name = Arc::clone(&self.plan.tanks[index].name);
        let text = "the low leg was drained".to_owned();
        self.person_event(EventKind::Leg, Some(&name), None, Some(by), text, effects);
        let plan = Arc::clone(&self.plan);
        self.keep_legs(index, &plan.tanks[index], effects);
        Ok(Done(format!(
            "{tank}: the low leg is drained, confirmed by {by}"
        )))
    }

    fn note(
        &mut self,
        tank: Option<&str>,
        text: &str,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = tank.map(|tank| self.tank(tank)).transpose()?;
        let text = text.trim();
        if text.is_empty() {
            return Err(Refusal::EmptyNote);
        }
        let name = index.map(|index| Arc::clone(&self.plan.tanks[index].name));
        // In quotes, so that no words of a person's can pass for the program's own.
        let quoted = format!("\"{text}\"");
        self.person_event(
            EventKind::Note,
            name.as_ref(),
            None,
            Some(by),
            quoted,
            effects,
        );
        Ok(Done(format!("noted as event {}", self.events)))
    }

    pub(super) fn tank(&self, name: &str) -> Result<usize, Refusal> {
        let found = self.plan.tanks.iter().position(|tank| *tank.name == *name);
        found.ok_or_else(|| Refusal::UnknownTank {
            tank: name.to_owned(),
        })
    }
}

fn asked<'a>(tank: &'a str, code: &'a str, by: &'a Arc<str>) -> Asked<'a> {
    Asked { tank, code, by }
}
