//! After a restart: what was kept is taken up again, and what nobody saw meanwhile is said.
//!
//! What always holds: nothing is decided before the first good data; what is restored is shown as questionable
//! until then; a number of an event is never given twice.

use super::alarm::{Alarm, Cause, Process, Transition};
use super::event::EventKind;
use super::memory::{AlarmMemory, Memory};
use super::plan::{Plan, Priority, Record};
use super::snapshot::AlarmView;
use super::step::Engine;
use super::{Effect, words};
use std::sync::Arc;

/// An alarm that the site file does not have any more and that somebody has yet to answer.
#[derive(Clone, Debug)]
pub struct Removed {
    pub code: Arc<str>,
    pub alarm: Alarm,
    memory: AlarmMemory,
}

impl Engine {
    /// Takes up what an earlier run has kept.
    pub(super) fn take_up(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        self.tell_blind_interval(memory, effects);
        let is_behind = memory.last_time.is_some_and(|last| self.last.utc < last);
        for (tank, code, kept) in &memory.alarms {
            match self.plan.find_alarm(tank, code) {
                Some((index, place)) => self.restore(index, place, kept, is_behind, effects),
                None => self.remove(tank, code, kept, effects),
            }
        }
    }

    fn tell_blind_interval(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        let Some(last) = memory.last_time else { return };
        self.blind_since = Some(last);
        let now = self.last.utc;
        let text = if now < last {
            format!(
                "the clock stands at {now:.0}, before the last entry of {last:.0}: how long nobody watched is not known, shelves are over"
            )
        } else {
            format!(
                "nobody watched from {last:.0} to {now:.0}: what came and went in between is not known"
            )
        };
        self.event(EventKind::Blind, None, None, text, effects);
        let fingerprint = Arc::clone(&self.plan.fingerprint);
        if let Some(was) = memory
            .fingerprint
            .as_ref()
            .filter(|was| ***was != *fingerprint)
        {
            let text = format!(
                "the site file has changed: it was {was}, it is {fingerprint}; changed limits are judged anew"
            );
            self.event(EventKind::SiteFile, None, None, text, effects);
        }
    }

    fn restore(
        &mut self,
        index: usize,
        place: usize,
        kept: &AlarmMemory,
        is_behind: bool,
        effects: &mut Vec<Effect>,
    ) {
        let plan = Arc::clone(&self.plan);
        let alarm_plan = &plan.tanks[index].alarms[place];
        let mut alarm = Alarm::restored(alarm_plan, kept, self.last);
        let unshelved = is_behind
            .then(|| alarm.unshelve(Cause::ShelfUndeterminable))
            .flatten();
        self.tanks[index].alarms[place] = alarm;
        if let Some(transition) = unshelved {
            let text = words::alarm(alarm_plan, &self.tanks[index].alarms[place], transition, "");
            self.alarm_event(index, place, transition, None, text, effects);
        }
    }

    /// An alarm that is gone from the site file is closed by an event, and shown until it is answered.
    fn remove(&mut self, tank: &str, code: &str, kept: &AlarmMemory, effects: &mut Vec<Effect>) {
        let index = self.plan.tanks.iter().position(|plan| *plan.name == *tank);
        let mut alarm = Alarm::kept(kept);
        let transition = alarm.remove(index.is_some());
        let (tank, code): (Arc<str>, Arc<str>) = (tank.into(), code.into());
        let text = match index {
            Some(_) => "closed: the site file does not have this alarm any more",
            None => "closed: the site file does not have this tank any more",
        };
        let mut removed = Removed {
            code,
            alarm,
            memory: kept.clone(),
        };
        if let Some(transition) = transition {
            self.removed_event(
                &tank,
                &mut removed,
                transition,
                None,
                text.to_owned(),
                effects,
            );
        }
        let is_open = removed.alarm.process() != Process::Normal;
        if let Some(index) = index.filter(|_| is_open) {
            self.tanks[index].removed.push(removed);
        }
    }

    /// Answers an alarm that is gone from the site file.
    pub(super) fn acknowledge_removed(
        &mut self,
        index: usize,
        place: usize,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Option<Transition> {
        let mut removed = self.tanks[index].removed[place].clone();
        let transition = removed.alarm.acknowledge(self.last.up)?;
        let tank = Arc::clone(&self.plan.tanks[index].name);
        let text = "acknowledged after it was gone from the site file".to_owned();
        self.removed_event(&tank, &mut removed, transition, Some(by), text, effects);
        self.tanks[index].removed[place] = removed;
        Some(transition)
    }

    fn removed_event(
        &mut self,
        tank: &Arc<str>,
        removed: &mut Removed,
        transition: Transition,
        by: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        let event = self.numbered(tank, &removed.code, transition, by, text);
        removed.alarm.record(transition, event.time, event.number);
        removed.memory = removed.alarm.remembered(&removed.memory);
        effects.push(Effect::Event(event));
        effects.push(Effect::Keep {
            tank: Arc::clone(tank),
            code: Arc::clone(&removed.code),
            memory: removed.memory.clone(),
        });
    }
}

impl Removed {
    pub fn priority(&self) -> Priority {
        self.memory.priority
    }

    pub(super) fn view(&self) -> AlarmView {
        AlarmView {
            code: Arc::clone(&self.code),
            state: self.alarm.state(),
            questionable: false,
            active: false,
            since: self.alarm.since(),
            activation: self.alarm.activation(),
            priority: self.priority(),
            limit: None,
            value: None,
            unit: None,
            record: Arc::new(Record::default()),
            process: self.alarm.process(),
            latching: false,
            shelf: None,
            suppressed: None,
            out_of_service: None,
            removed: true,
        }
    }
}

impl Plan {
    pub(super) fn find_alarm(&self, tank: &str, code: &str) -> Option<(usize, usize)> {
        let index = self.tanks.iter().position(|plan| *plan.name == *tank)?;
        let alarms = &self.tanks[index].alarms;
        let place = alarms.iter().position(|plan| *plan.code == *code)?;
        Some((index, place))
    }
}
