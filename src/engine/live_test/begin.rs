//! A test is asked for: only where the tank is quiet and its readings are sound.

use super::stand_in::said;
use super::{LiveTest, Phase, TestValue, Value};
use crate::engine::Effect;
use crate::engine::alarm::{Judgement, Process};
use crate::engine::alarm_commands::Asked;
use crate::engine::annunciation::At;
use crate::engine::command::{Command, Done, Refusal};
use crate::engine::event::EventKind;
use crate::engine::ids::TransmitterId;
use crate::engine::plan::Watch;
use crate::engine::quality::Quality;
use crate::engine::step::Engine;
use crate::engine::words;
use crate::quantity::span;
use std::sync::Arc;
use std::time::Duration;

/// The longest that a value can be put in: nobody forgets it over a shift. Common practice, no source.
const LONGEST: Duration = Duration::from_secs(15 * 60);

impl Engine {
    pub(in crate::engine) fn begin_test(
        &mut self,
        asked: Asked<'_>,
        test: &TestValue,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let (tank, place) = self.by_value(asked)?;
        self.may_test(tank, place, asked)?;
        let plan = Arc::clone(&self.plan);
        let (tank_plan, alarm) = (&plan.tanks[tank], &plan.tanks[tank].alarms[place]);
        if test.time > LONGEST || test.time <= alarm.on_delay {
            return Err(Refusal::TestTime {
                asked: test.time,
                on_delay: alarm.on_delay,
                at_most: LONGEST,
            });
        }
        let transmitter = match &test.at {
            Some(tag) => self.transmitter(tag)?,
            None => tank_plan.hookups[self.tanks[tank].leading].hookup.leading(),
        };
        let tag = &plan.transmitters[transmitter.index()].tag;
        if !plan.uses(tank_plan, transmitter) {
            return Err(Refusal::NotOfTank {
                tag: tag.to_string(),
                tank: asked.tank.to_owned(),
            });
        }
        if said(&plan, tank, transmitter, test.value, &self.live()).is_none() {
            return Err(Refusal::NoSuchReading {
                tag: tag.to_string(),
                value: self.said_value(transmitter, test.value),
            });
        }
        let value: Arc<str> = self.said_value(transmitter, test.value).into();
        self.live_test = Some(Box::new(LiveTest {
            tank,
            place,
            transmitter,
            value: test.value,
            said: Arc::clone(&value),
            by: Arc::clone(asked.by),
            began: self.last,
            until: self.last.up + test.time,
            phase: Phase::PutIn,
            real: self.tanks[tank].clone(),
            annunciated: None,
            acknowledged: None,
            cleared: None,
        }));
        let text = format!(
            "live test begun: {value} put in at {tag} for {}; the real level is watched meanwhile, and ends the test if it has anything to tell",
            span(test.time)
        );
        self.tell_test(tank, place, Some(asked.by), text.clone(), effects);
        // Another signal is no movement of the liquid.
        self.tanks[tank].begin_anew();
        self.keep_running_test(tank, place, effects);
        self.read_tank(tank, false, effects);
        Ok(Done(format!("{} {}: {text}", asked.tank, asked.code)))
    }

    /// Takes the value away before its time.
    pub(in crate::engine) fn end_test(
        &mut self,
        asked: Asked<'_>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let (tank, place) = self.by_value(asked)?;
        let running = self.live_test.as_ref();
        if running.is_none_or(|test| (test.tank, test.place) != (tank, place)) {
            return Err(Refusal::NoTest {
                tank: asked.tank.to_owned(),
                code: asked.code.to_owned(),
            });
        }
        let text = "the value is taken away".to_owned();
        self.tell_test(tank, place, Some(asked.by), text, effects);
        self.take_value_away(effects);
        Ok(Done(format!(
            "{} {}: the value is taken away; its event tells how the test went",
            asked.tank, asked.code
        )))
    }

    /// The alarm that is asked for, one that a value can bring about.
    fn by_value(&self, asked: Asked<'_>) -> Result<(usize, usize), Refusal> {
        match self.find(asked)? {
            At::Tank(tank, place) if is_by_value(self.plan.tanks[tank].alarms[place].watch) => {
                Ok((tank, place))
            }
            _ => Err(Refusal::NotByValue {
                tank: asked.tank.to_owned(),
                code: asked.code.to_owned(),
            }),
        }
    }

    /// Whether anything speaks against a test of that alarm now.
    fn may_test(&self, tank: usize, place: usize, asked: Asked<'_>) -> Result<(), Refusal> {
        if let Some(running) = &self.live_test {
            let plan = &self.plan.tanks[running.tank];
            return Err(Refusal::TestUnderWay {
                tank: plan.name.to_string(),
                code: plan.alarms[running.place].code.to_string(),
            });
        }
        let (plan, state) = (&self.plan.tanks[tank], &self.tanks[tank]);
        let names = || (asked.tank.to_owned(), asked.code.to_owned());
        if state.alarms[place].is_hidden() {
            let (tank, code) = names();
            let state = state.alarms[place].state().words();
            return Err(Refusal::HiddenFromTest { tank, code, state });
        }
        let unquiet = |why: String| {
            Err(Refusal::TankNotQuiet {
                tank: asked.tank.to_owned(),
                why,
            })
        };
        for (place, alarm) in plan.alarms.iter().enumerate() {
            let is_true = self.judged(tank, plan, place).judgement == Some(Judgement::True);
            let standing = &state.alarms[place];
            if standing.process() != Process::Normal || (is_true && !standing.is_hidden()) {
                let (state, stands) = (standing.state().words(), self.stands(tank, place));
                return unquiet(format!("{} is {state}: {stands}", alarm.code));
            }
        }
        if state.reading.quality == Quality::Bad {
            return unquiet(format!(
                "its reading is {}",
                words::quality(state.reading.reasons)
            ));
        }
        if state.jump.open().is_some() {
            return unquiet("a jump waits to be confirmed".to_owned());
        }
        if state.transfer.is_some() {
            return unquiet("a transfer is under way".to_owned());
        }
        let at_work = |index: &usize| {
            let id = TransmitterId(*index as u32);
            self.work[*index].is_some() && self.plan.uses(plan, id)
        };
        match (0..self.work.len()).find(at_work) {
            Some(index) => unquiet(format!(
                "{} is under work",
                self.plan.transmitters[index].tag
            )),
            None => Ok(()),
        }
    }

    /// What a command would change of the tank under test, or of a transmitter that it uses, would be lost with it.
    pub(in crate::engine) fn not_under_test(&self, command: &Command) -> Result<(), Refusal> {
        let Some(test) = &self.live_test else {
            return Ok(());
        };
        let plan = &self.plan.tanks[test.tank];
        let concerns = match command {
            Command::Shelve { tank, .. }
            | Command::Unshelve { tank, .. }
            | Command::OutOfService { tank, .. }
            | Command::Return { tank, .. }
            | Command::ConfirmLevel { tank, .. }
            | Command::ConfirmLegDrained { tank, .. }
            | Command::Enter { tank, .. }
            | Command::ChooseProduct { tank, .. }
            | Command::Transfer { tank, .. }
            | Command::EndTransfer { tank, .. } => **tank == *plan.name,
            Command::Work { tag, .. } => self
                .transmitter(tag)
                .is_ok_and(|transmitter| self.plan.uses(plan, transmitter)),
            // Answers are part of the test; the others change nothing of a tank.
            Command::Acknowledge { .. }
            | Command::Reset { .. }
            | Command::TestNotice { .. }
            | Command::EndWork { .. }
            | Command::Silence { .. }
            | Command::TestAlarm { .. }
            | Command::EndTestAlarm { .. }
            | Command::Note { .. } => false,
        };
        if concerns {
            return Err(Refusal::UnderTest {
                tank: plan.name.to_string(),
                code: plan.alarms[test.place].code.to_string(),
            });
        }
        Ok(())
    }

    fn said_value(&self, transmitter: TransmitterId, value: Value) -> String {
        match value {
            Value::Level(level) => format!("level {:.3} m", level.value),
            Value::Reads(si) => words::shown(si, self.plan.transmitters[transmitter.index()].unit),
        }
    }

    pub(super) fn tell_test(
        &mut self,
        tank: usize,
        place: usize,
        by: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        let plan = Arc::clone(&self.plan);
        let tank = &plan.tanks[tank];
        let code = &tank.alarms[place].code;
        self.person_event(
            EventKind::Test,
            Some(&tank.name),
            Some(code),
            by,
            text,
            effects,
        );
    }
}

/// Whether a value that stands still can bring it about.
fn is_by_value(watch: Watch) -> bool {
    match watch {
        Watch::Level
        | Watch::Fill
        | Watch::Volume
        | Watch::Ullage
        | Watch::Mass
        | Watch::Density
        | Watch::Temperature => true,
        Watch::Rate
        | Watch::NetFlow
        | Watch::Uncertainty
        | Watch::TimeToOverflow
        | Watch::Measurement
        | Watch::Transfer
        | Watch::Contact(_)
        | Watch::System(_) => false,
    }
}
