//! Bad data alone bring several alarms of a tank about, or those of all tanks on a link: one of them tells it,
//! the others are suppressed by design under it.
//!
//! Which one: that which has told it already; else a failed link or device; else the highest priority, and of
//! those the first in the site file. It tells it no later than the first of the others would have. An alarm is
//! never put under a link or device of a lower priority, save measurement failed. One that waits for an answer
//! from before stays as it is. Whoever hides the one that tells it gets the next.

use super::alarm::{Judged, Judgement, Teller, Wanted};
use super::plan::{AlarmPlan, OnBad, TankPlan, Watch};
use super::quality::{Quality, Reason};
use super::step::Engine;
use std::sync::Arc;
use std::time::Duration;

/// Who tells of a tank's bad data.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Telling {
    leader: Option<usize>,
    /// The shortest on-delay of all that it stands for.
    on_delay: Duration,
}

impl Engine {
    /// Looks for the alarm of the tank that tells it.
    pub(super) fn telling(&self, index: usize, tank: &TankPlan, judged: &[Judged]) -> Telling {
        let mut telling = Telling::default();
        for (place, plan) in tank.alarms.iter().enumerate() {
            if !self.tells_of_tank(index, plan, place, judged[place]) {
                continue;
            }
            telling.on_delay = match telling.leader {
                Some(_) => telling.on_delay.min(plan.on_delay),
                None => plan.on_delay,
            };
            let leads = telling
                .leader
                .is_none_or(|leader| self.goes_before(index, tank, place, leader));
            if leads {
                telling.leader = Some(place);
            }
        }
        telling
    }

    /// Whether another alarm tells what would bring this one about.
    pub(super) fn told_elsewhere(
        &self,
        index: usize,
        tank: &TankPlan,
        place: usize,
        judged: Judged,
        telling: Telling,
    ) -> Wanted {
        let plan = &tank.alarms[place];
        if judged.judgement.is_none() {
            // Nothing is decided before the first data; what is stays.
            return Wanted::Unknown;
        }
        if !self.is_by_bad_data(index, plan, place, judged) {
            return Wanted::No;
        }
        if let (Some(work), false) = (self.work_on(index), matches!(plan.watch, Watch::Contact(_)))
        {
            return Wanted::Yes(work);
        }
        if let Some(system) = self.told_by_system(index, plan, place) {
            return Wanted::Elsewhere {
                teller: Teller::System(system),
                code: Arc::clone(&self.plan.system[system].code),
            };
        }
        match telling.leader {
            Some(leader) if leader != place && !matches!(plan.watch, Watch::Contact(_)) => {
                Wanted::Elsewhere {
                    teller: Teller::Tank(leader),
                    code: Arc::clone(&tank.alarms[leader].code),
                }
            }
            _ => Wanted::No,
        }
    }

    /// One that could tell of the tank's bad data: it comes about by them, and nothing else hides it.
    fn tells_of_tank(&self, index: usize, plan: &AlarmPlan, place: usize, judged: Judged) -> bool {
        let alarm = &self.tanks[index].alarms[place];
        let rule = plan.suppress.as_ref();
        !matches!(plan.watch, Watch::Contact(_))
            && self.is_by_bad_data(index, plan, place, judged)
            && self.told_by_system(index, plan, place).is_none()
            && self.work_on(index).is_none()
            && !alarm.flags().hide_by_themselves(rule)
            && !rule.is_some_and(|rule| matches!(self.wanted(rule), Wanted::Yes(_)))
    }

    fn goes_before(&self, index: usize, tank: &TankPlan, place: usize, leader: usize) -> bool {
        let rank = |place: usize| (self.has_told(index, place), tank.alarms[place].priority);
        rank(place) > rank(leader)
    }

    /// It is shown as active already.
    fn has_told(&self, index: usize, place: usize) -> bool {
        let alarm = &self.tanks[index].alarms[place];
        alarm.process().is_active() && !alarm.is_hidden()
    }

    /// Nothing but bad data bring it about.
    fn is_by_bad_data(&self, index: usize, plan: &AlarmPlan, place: usize, judged: Judged) -> bool {
        let alarm = &self.tanks[index].alarms[place];
        match (plan.watch, judged.judgement) {
            (Watch::Measurement, judgement) => judgement == Some(Judgement::True),
            (_, Some(Judgement::Undecided)) => {
                plan.on_bad == OnBad::Annunciate && (alarm.by_bad() || !alarm.condition())
            }
            _ => false,
        }
    }

    /// A link or device that failed, and whose alarm tells it.
    fn told_by_system(&self, index: usize, plan: &AlarmPlan, place: usize) -> Option<usize> {
        if self.has_told(index, place) {
            return None;
        }
        let (all, up) = (&self.plan, self.last.up);
        let system = match plan.watch {
            Watch::Contact(contact) => self.system.telling_for_contact(all, contact, up),
            _ => {
                let reading = &self.tanks[index].reading;
                let is_silent = reading.reasons.has(Reason::NoAnswer)
                    || reading.reasons.has(Reason::DeviceException);
                let is_it = reading.quality == Quality::Bad && is_silent;
                is_it
                    .then(|| self.system.telling_for_tank(all, index, up))
                    .flatten()
            }
        };
        system.filter(|system| {
            plan.watch == Watch::Measurement || plan.priority <= all.system[*system].priority
        })
    }
}

impl Telling {
    /// Instead of its own on-delay, for the one that tells it.
    pub fn on_delay_of(&self, place: usize) -> Option<Duration> {
        (self.leader == Some(place)).then_some(self.on_delay)
    }
}
