//! Commands: each is carried out and recorded, or refused with a reason and nothing is changed.

use super::alarm::AlarmState;
use super::command::{Command, Done, Refusal};
use super::event::EventKind;
use super::step::Engine;
use super::{Effect, words};
use crate::engine::quality::Reasons;
use std::sync::Arc;

impl Engine {
    pub(super) fn obey(
        &mut self,
        command: Command,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        match command {
            Command::Acknowledge {
                tank,
                code,
                by,
                activation,
            } => self.acknowledge(&tank, &code, &by, activation, effects),
            Command::ConfirmLevel { tank, by } => self.confirm_level(&tank, &by, effects),
            Command::ConfirmLegDrained { tank, by } => {
                self.confirm_leg_drained(&tank, &by, effects)
            }
        }
    }

    fn acknowledge(
        &mut self,
        tank: &str,
        code: &str,
        by: &Arc<str>,
        activation: Option<u64>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        let plan = Arc::clone(&self.plan);
        let alarms = &plan.tanks[index].alarms;
        let place = alarms.iter().position(|alarm| *alarm.code == *code);
        let place = place.ok_or_else(|| Refusal::UnknownAlarm {
            tank: tank.to_owned(),
            code: code.to_owned(),
        })?;
        let alarm = &mut self.tanks[index].alarms[place];
        if let (Some(named), Some(present)) = (activation, alarm.activation())
            && named != present
        {
            return Err(Refusal::OlderActivation { named, present });
        }
        let state = AlarmState::from(alarm.state()).words();
        let transition = alarm.acknowledge();
        let transition = transition.ok_or_else(|| Refusal::NothingToAcknowledge {
            tank: tank.to_owned(),
            code: code.to_owned(),
            state,
        })?;
        let text = words::alarm(&alarms[place], transition, None, Reasons::NONE);
        self.alarm_event(index, place, transition, Some(by), text, effects);
        Ok(Done(format!(
            "{tank} {code} acknowledged by {by}: now {}",
            AlarmState::from(transition.to).words()
        )))
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
        if !self.tanks[index].leg.drained() {
            return Err(Refusal::LegNotFlooded {
                tank: tank.to_owned(),
            });
        }
        let name = Arc::clone(&self.plan.tanks[index].name);
        let text = "the low leg was drained".to_owned();
        self.person_event(EventKind::Leg, Some(&name), None, Some(by), text, effects);
        Ok(Done(format!(
            "{tank}: the low leg is drained, confirmed by {by}"
        )))
    }

    fn tank(&self, name: &str) -> Result<usize, Refusal> {
        let found = self.plan.tanks.iter().position(|tank| *tank.name == *name);
        found.ok_or_else(|| Refusal::UnknownTank {
            tank: name.to_owned(),
        })
    }
}
