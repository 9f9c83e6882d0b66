//! While a test runs: the tank as it really is, and the time.

use super::{LiveTest, Phase};
use crate::engine::alarm::{self, AlarmState, Judgement, Transition};
use crate::engine::annunciation::At;
use crate::engine::memory::AlarmMemory;
use crate::engine::plan::{AlarmPlan, Watch};
use crate::engine::signal::SignalValue;
use crate::engine::step::Engine;
use crate::engine::tank::Changes;
use crate::engine::{Effect, TransmitterId, words};
use std::sync::Arc;
use std::time::Duration;

/// How much longer than its off-delay an alarm may take to clear once the value is taken away.
/// Common practice, no source.
const PATIENCE: Duration = Duration::from_secs(30);

impl Engine {
    /// What stands in for a transmitter of a tank now. First the tank is looked at as it really is: if that has
    /// anything to tell, the test is over.
    pub(in crate::engine) fn put_in(
        &mut self,
        tank: usize,
        sampled: bool,
        effects: &mut Vec<Effect>,
    ) -> Option<(TransmitterId, SignalValue)> {
        let mut test = self.live_test.take_if(|test| test.tank == tank)?;
        let trouble = self.real_trouble(&mut test, sampled);
        let (is_put, transmitter) = (test.phase == Phase::PutIn, test.transmitter);
        let said = test.said(&self.plan, &self.live());
        self.live_test = Some(test);
        if let Some(trouble) = trouble {
            self.cut_test(&trouble, effects);
            return None;
        }
        if is_put && said.is_none() {
            self.cut_test("that level can no longer be worked out", effects);
        }
        said.map(|said| (transmitter, said))
    }

    /// Reads the tank as it really is; what it has to tell is not told yet, and then nothing of it is changed.
    fn real_trouble(&mut self, test: &mut LiveTest, sampled: bool) -> Option<String> {
        let plan = Arc::clone(&self.plan);
        let (index, tank) = (test.tank, &plan.tanks[test.tank]);
        let before = test.real.clone();
        std::mem::swap(&mut self.tanks[index], &mut test.real);
        let changes = self.read(index, sampled, None);
        let mut trouble = self.told_by(index, changes);
        for place in 0..tank.alarms.len() {
            let judged = self.judged(index, tank, place);
            let is_true = judged.judgement == Some(Judgement::True) || judged.possible;
            if trouble.is_none() && is_true && !self.tanks[index].alarms[place].is_hidden() {
                let code = &tank.alarms[place].code;
                trouble = Some(format!("{code}: {}", self.stands(index, place)));
            }
        }
        std::mem::swap(&mut self.tanks[index], &mut test.real);
        if trouble.is_some() {
            test.real = before;
        }
        trouble
    }

    /// What a real reading would be told for.
    fn told_by(&self, index: usize, changes: Changes) -> Option<String> {
        if changes == Changes::default() {
            return None;
        }
        let said = words::quality(self.tanks[index].reading.reasons);
        Some(format!("the real reading has changed: it is {said}"))
    }

    /// How an alarm stands to its limit, in words.
    pub(super) fn stands(&self, index: usize, place: usize) -> String {
        let (tank, reading) = (&self.plan.tanks[index], &self.tanks[index].reading);
        let plan = &tank.alarms[place];
        match plan.watch {
            Watch::Contact(contact) => words::contact(&self.plan, contact, self.contact(contact)),
            watch => words::value(plan, alarm::value(tank, reading, watch), reading.reasons),
        }
    }

    /// The tested alarm goes its way.
    pub(in crate::engine) fn note_test(
        &mut self,
        at: At,
        transition: Transition,
        person: Option<&Arc<str>>,
    ) {
        let up = self.last.up;
        let Some(test) = &mut self.live_test else {
            return;
        };
        if at != At::Tank(test.tank, test.place) {
            return;
        }
        if transition.to == AlarmState::Unacknowledged {
            test.annunciated.get_or_insert(up);
        }
        if let Some(person) = person.filter(|_| test.acknowledged.is_none()) {
            test.acknowledged = Some((up, Arc::clone(person)));
        }
        test.cleared = match transition.process.is_active() {
            true => None,
            false => test.annunciated.and(test.cleared.or(Some(up))),
        };
    }

    /// Time goes on with the test.
    pub(in crate::engine) fn watch_test(&mut self, effects: &mut Vec<Effect>) {
        let Some(test) = &self.live_test else { return };
        let (up, phase, until) = (self.last.up, test.phase, test.until);
        if phase == Phase::PutIn && up >= until {
            self.take_value_away(effects);
        }
        let Some(test) = &self.live_test else { return };
        let Phase::TakenAway { by, .. } = test.phase else {
            return;
        };
        if test.annunciated.is_none() || test.cleared.is_some() || up >= by {
            let tank = test.tank;
            self.finish_test(None, effects);
            self.read_tank(tank, false, effects);
        }
    }

    /// What must survive a restart of an alarm: of one under test, what it was before.
    pub(in crate::engine) fn kept_memory(&self, at: At, plan: &AlarmPlan) -> AlarmMemory {
        let test = self.live_test.as_ref();
        match (at, test) {
            (At::Tank(tank, place), Some(test)) if test.tank == tank => {
                test.real.alarms[place].memory(plan)
            }
            _ => self.alarm_at(at).memory(plan),
        }
    }

    /// The signal counts again, and the alarm is to clear by it.
    pub(super) fn take_value_away(&mut self, effects: &mut Vec<Effect>) {
        let up = self.last.up;
        let Some(test) = &mut self.live_test else {
            return;
        };
        if test.phase != Phase::PutIn {
            return;
        }
        let (tank, place) = (test.tank, test.place);
        let off_delay = self.plan.tanks[tank].alarms[place].off_delay;
        test.phase = Phase::TakenAway {
            since: up,
            by: up + off_delay + PATIENCE,
        };
        // Another signal is no movement of the liquid.
        self.tanks[tank].begin_anew();
        self.read_tank(tank, false, effects);
    }
}
