//! A running engine with a hand on its clock and its readings.

use standpipe::engine::alarm::AlarmState;
use standpipe::engine::snapshot::{AlarmView, TankView};
use standpipe::engine::tank::{Stated, Working};
use standpipe::engine::{
    Command, CommandId, Done, Effect, Engine, Event, EventKind, Fault, Input, Memory, Now, Plan,
    Reading, Reason, Refusal, Remembered, Sample, TransmitterId,
};
use standpipe::quantity::{Timestamp, metres};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

pub struct Rig {
    pub engine: Engine,
    pub plan: Arc<Plan>,
    pub now: Now,
    pub events: Vec<Event>,
    /// What the engine wants to know again after a restart: the last of each kind and name.
    pub kept: Vec<(String, Remembered)>,
    effects: Vec<Effect>,
}

impl Rig {
    pub fn start(site: &str) -> Self {
        let site = standpipe::site::parse(site, Path::new("alder-rise.toml"));
        Self::of(site.unwrap_or_else(|problems| panic!("{problems}")).plan)
    }

    pub fn of(plan: Plan) -> Self {
        let now = Now {
            up: Duration::ZERO,
            utc: "2026-03-04T05:06:07Z".parse().expect("a time"),
        };
        Self::knowing(Arc::new(plan), now, Vec::new())
    }

    fn knowing(plan: Arc<Plan>, now: Now, kept: Vec<(String, Remembered)>) -> Self {
        let memory = Memory {
            remembered: kept.clone(),
            fingerprint: Some(plan.fingerprint.to_string()),
            ..Memory::default()
        };
        let mut effects = Vec::new();
        let engine = Engine::start(Arc::clone(&plan), Some(memory), now, &mut effects);
        let mut rig = Self {
            engine,
            plan,
            now,
            events: Vec::new(),
            kept,
            effects,
        };
        rig.take_events();
        rig
    }

    /// The same site in a new engine, at the same moment; events are counted anew.
    pub fn restarted(&self, kept: &[(String, Remembered)]) -> Self {
        Self::knowing(Arc::clone(&self.plan), self.now, kept.to_vec())
    }

    pub fn step(&mut self, input: Input<'_>) {
        self.engine.step(self.now, input, &mut self.effects);
        self.take_events();
    }

    /// Time goes by on both clocks; nobody tells the engine yet.
    pub fn pass(&mut self, seconds: f64) {
        let by = Duration::from_secs_f64(seconds);
        self.now.up += by;
        self.now.utc += by;
    }

    pub fn tick(&mut self) {
        self.step(Input::Tick);
    }

    /// One read of these tags at this moment: raw numbers.
    pub fn read(&mut self, values: &[(&str, f64)]) {
        let samples: Vec<Sample> = values
            .iter()
            .map(|(tag, raw)| self.sample(tag, Ok(*raw)))
            .collect();
        self.step(Input::Samples(&samples));
    }

    pub fn fail(&mut self, tag: &str, fault: Fault) {
        let sample = self.sample(tag, Err(fault));
        self.step(Input::Samples(&[sample]));
    }

    /// So many polls, a second before each.
    pub fn poll(&mut self, times: usize, values: &[(&str, f64)]) {
        for _ in 0..times {
            self.pass(1.0);
            self.read(values);
        }
    }

    /// So many polls that nobody answers, a second before each.
    pub fn miss(&mut self, times: usize, tag: &str) {
        for _ in 0..times {
            self.pass(1.0);
            self.fail(tag, Fault::NoAnswer);
        }
    }

    pub fn command(&mut self, command: Command) -> Result<Done, Refusal> {
        self.engine.step(
            self.now,
            Input::Command(CommandId(7), command),
            &mut self.effects,
        );
        let answers: Vec<_> = self
            .effects
            .iter()
            .filter_map(|effect| match effect {
                Effect::Answer(id, answer) => Some((*id, answer.clone())),
                _ => None,
            })
            .collect();
        self.take_events();
        let [(CommandId(7), answer)] = &answers[..] else {
            panic!("one answer to one command, not {answers:?}");
        };
        answer.clone()
    }

    fn sample(&self, tag: &str, raw: Result<f64, Fault>) -> Sample {
        let place = self.plan.transmitters.iter().position(|t| *t.tag == *tag);
        Sample {
            transmitter: TransmitterId(place.expect(tag) as u32),
            raw,
        }
    }

    fn take_events(&mut self) {
        for effect in self.effects.drain(..) {
            match effect {
                Effect::Event(event) => {
                    assert_eq!(
                        event.number,
                        self.events.len() as u64 + 1,
                        "events are numbered without a gap"
                    );
                    self.events.push(event);
                }
                Effect::Remember { kind, of, memory } => {
                    let is_it =
                        |(name, kept): &(String, Remembered)| **name == *of && kept.kind() == kind;
                    self.kept.retain(|one| !is_it(one));
                    self.kept
                        .extend(memory.map(|memory| (of.to_string(), memory)));
                }
                _ => {}
            }
        }
    }
}

/// What is to be seen.
impl Rig {
    pub fn tank(&self, name: &str) -> TankView {
        let tanks = self.engine.snapshot().tanks;
        let tank = tanks.into_iter().find(|tank| *tank.name == *name);
        tank.expect(name)
    }

    pub fn reading(&self, tank: &str) -> Reading {
        self.tank(tank).reading
    }

    pub fn level_m(&self, tank: &str) -> Option<f64> {
        self.reading(tank).level.map(|level| level.value)
    }

    pub fn has(&self, tank: &str, reason: Reason) -> bool {
        self.reading(tank).reasons.has(reason)
    }

    pub fn alarm(&self, tank: &str, code: &str) -> AlarmView {
        let alarms = self.tank(tank).alarms;
        let alarm = alarms.into_iter().find(|alarm| *alarm.code == *code);
        alarm.expect(code)
    }

    pub fn state(&self, tank: &str, code: &str) -> AlarmState {
        self.alarm(tank, code).state
    }

    /// The events of a kind, in order.
    pub fn of_kind(&self, kind: EventKind) -> Vec<&Event> {
        let events = self.events.iter();
        events.filter(|event| event.kind == kind).collect()
    }

    /// The states that an alarm went to, and when.
    pub fn history(&self, tank: &str, code: &str) -> Vec<(Timestamp, AlarmState)> {
        self.of_kind(EventKind::Alarm)
            .into_iter()
            .filter(|event| {
                event.tank.as_deref() == Some(tank) && event.code.as_deref() == Some(code)
            })
            .filter_map(|event| Some((event.time, event.to?)))
            .collect()
    }

    /// The pressure, high minus low, that this level gives between the taps, in Pa.
    pub fn pressure_pa(&self, tank: &str, level_m: f64) -> f64 {
        let plan = self.plan.tanks.iter().find(|plan| *plan.name == *tank);
        let (plan, stated) = (plan.expect(tank), Stated::new(&self.plan));
        let working = Working::of(&self.plan, plan, &plan.hookups[0], &stated, None);
        working
            .balance
            .differential_pressure(metres(level_m))
            .0
            .value
    }
}
