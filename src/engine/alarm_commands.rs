//! What people do with alarms: each is carried out and recorded, or refused with a reason.

use super::alarm::{Alarm, AlarmState, Cause, Process, Transition};
use super::annunciation::At;
use super::command::{Done, Refusal};
use super::event::SYSTEM;
use super::memory::{OutOfService, Shelf};
use super::plan::AlarmPlan;
use super::restart::Removed;
use super::step::Engine;
use super::{Effect, words};
use std::sync::Arc;
use std::time::Duration;

/// An alarm of the site, found by its names, and who asks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked<'a> {
    pub tank: &'a str,
    pub code: &'a str,
    pub by: &'a Arc<str>,
}

impl Engine {
    pub(super) fn acknowledge(
        &mut self,
        asked: Asked<'_>,
        activation: Option<u64>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let removed = |removed: &Removed| {
            let is_it = *removed.tank == *asked.tank && *removed.code == *asked.code;
            is_it && self.find(asked).is_err()
        };
        if let Some(place) = self.removed.iter().position(removed) {
            let alarm = &self.removed[place].alarm;
            not_older(alarm, activation)?;
            let refusal = nothing_to_acknowledge(asked, alarm);
            let transition = self.acknowledge_removed(place, asked.by, effects);
            return Ok(done(asked, "acknowledged", transition.ok_or(refusal)?));
        }
        let (up, at) = (self.last.up, self.find(asked)?);
        let alarm = self.alarm_at_mut(at);
        not_older(alarm, activation)?;
        let refusal = nothing_to_acknowledge(asked, alarm);
        let transition = alarm.acknowledge(up).ok_or(refusal)?;
        self.tell_deed(at, transition, asked.by, effects);
        Ok(done(asked, "acknowledged", transition))
    }

    pub(super) fn reset(
        &mut self,
        asked: Asked<'_>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        self.change(asked, "reset", effects, |alarm, _| {
            let (tank, code) = asked.names();
            let refusal = match alarm.process() {
                Process::LatchedUnacknowledged if !alarm.is_hidden() => {
                    Refusal::AcknowledgeFirst { tank, code }
                }
                _ => Refusal::NothingToReset {
                    tank,
                    code,
                    state: alarm.state().words(),
                },
            };
            alarm.reset().ok_or(refusal)
        })
    }

    pub(super) fn shelve(
        &mut self,
        asked: Asked<'_>,
        time: Duration,
        reason: &Arc<str>,
        once: bool,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let now = self.last.utc;
        self.change(asked, "shelved", effects, |alarm, plan| {
            let (tank, code) = asked.names();
            let at_most = plan
                .shelve_at_most
                .ok_or(Refusal::NeverShelved { tank, code })?;
            if reason.trim().is_empty() {
                return Err(Refusal::NoReason);
            }
            if time.is_zero() || time > at_most {
                return Err(Refusal::ShelfTime {
                    asked: time,
                    at_most,
                });
            }
            let until = now.checked_add(time).map_err(|_| Refusal::ShelfTime {
                asked: time,
                at_most,
            })?;
            let (tank, code) = asked.names();
            let stands = alarm.flags().shelf.as_ref().map(|shelf| shelf.until);
            let shelf = Shelf {
                until,
                by: Arc::clone(asked.by),
                reason: Arc::clone(reason),
                once,
            };
            let refusal = Refusal::AlreadyShelved {
                tank,
                code,
                until: stands.unwrap_or(until),
            };
            alarm.shelve(shelf).ok_or(refusal)
        })
    }

    pub(super) fn unshelve(
        &mut self,
        asked: Asked<'_>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        self.change(asked, "unshelved", effects, |alarm, _| {
            let (tank, code) = asked.names();
            let refusal = Refusal::NotShelved { tank, code };
            alarm.unshelve(Cause::Unshelved).ok_or(refusal)
        })
    }

    pub(super) fn take_out_of_service(
        &mut self,
        asked: Asked<'_>,
        reason: Option<Arc<str>>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let by = OutOfService {
            since: self.last.utc,
            by: Arc::clone(asked.by),
            reason,
        };
        self.change(asked, "taken out of service", effects, |alarm, _| {
            let (tank, code) = asked.names();
            let refusal = Refusal::AlreadyOutOfService { tank, code };
            alarm.take_out_of_service(by).ok_or(refusal)
        })
    }

    pub(super) fn return_to_service(
        &mut self,
        asked: Asked<'_>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        self.change(asked, "returned to service", effects, |alarm, _| {
            let (tank, code) = asked.names();
            let refusal = Refusal::NotOutOfService { tank, code };
            alarm.return_to_service().ok_or(refusal)
        })
    }

    fn change(
        &mut self,
        asked: Asked<'_>,
        what: &str,
        effects: &mut Vec<Effect>,
        deed: impl FnOnce(&mut Alarm, &AlarmPlan) -> Result<Transition, Refusal>,
    ) -> Result<Done, Refusal> {
        let at = self.find(asked)?;
        let plan = Arc::clone(&self.plan);
        let transition = deed(self.alarm_at_mut(at), plan.alarm_at(at))?;
        self.tell_deed(at, transition, asked.by, effects);
        if matches!(at, At::System(_)) {
            // What it stood for may have to show by itself now, or need not any more.
            self.let_time_tell(effects);
        }
        Ok(done(asked, what, transition))
    }

    fn tell_deed(
        &mut self,
        at: At,
        transition: Transition,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) {
        let plan = Arc::clone(&self.plan);
        let text = words::alarm(plan.alarm_at(at), self.alarm_at(at), transition, "");
        self.alarm_event(at, transition, Some(by), text, effects);
    }

    pub(super) fn find(&self, asked: Asked<'_>) -> Result<At, Refusal> {
        let find =
            |alarms: &[AlarmPlan]| alarms.iter().position(|alarm| *alarm.code == *asked.code);
        let at = if *asked.tank == *SYSTEM {
            find(&self.plan.system).map(At::System)
        } else {
            let index = self.tank(asked.tank)?;
            find(&self.plan.tanks[index].alarms).map(|place| At::Tank(index, place))
        };
        let (tank, code) = asked.names();
        at.ok_or(Refusal::UnknownAlarm { tank, code })
    }
}

impl Asked<'_> {
    fn names(&self) -> (String, String) {
        (self.tank.to_owned(), self.code.to_owned())
    }
}

fn not_older(alarm: &Alarm, named: Option<u64>) -> Result<(), Refusal> {
    match (named, alarm.activation()) {
        (Some(named), Some(present)) if named != present => {
            Err(Refusal::OlderActivation { named, present })
        }
        _ => Ok(()),
    }
}

fn nothing_to_acknowledge(asked: Asked<'_>, alarm: &Alarm) -> Refusal {
    let (tank, code) = asked.names();
    Refusal::NothingToAcknowledge {
        tank,
        code,
        state: alarm.state().words(),
    }
}

fn done(asked: Asked<'_>, what: &str, transition: Transition) -> Done {
    let Asked { tank, code, by } = asked;
    let state: AlarmState = transition.to;
    Done(format!(
        "{tank} {code} {what} by {by}: now {}",
        state.words()
    ))
}
