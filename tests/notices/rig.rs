//! A tank of water with any number of contacts, each an alarm of its own, in virtual time.

use standpipe::engine::{
    AlarmMemory, Command, CommandId, ContactId, ContactSample, Effect, Engine, Event, EventKind,
    Input, Memory, Notice, NoticeId, Now, Outcome, Remembered, Sample, TransmitterId,
};
use standpipe::quantity::Timestamp;
use standpipe::site;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

const SITE: &str = r#"
[site]
name = "Alder Rise"
timezone = "Europe/London"

[mail]
server = "smtp://127.0.0.1:2525"
from = "Standpipe <standpipe@alder-rise.example>"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-101"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"

[[tank]]
name = "clearwell"
title = "Clear water tank"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "vented", transmitter = "LT-101", at = "0 m" }
"#;

/// Ada for an hour of her own, Ben, and in the end Cleo.
pub const CHAIN: &str = r#"
[[notice]]
name = "on-call"
to = ["Ada <ada@alder-rise.example>"]
at_least = "medium"
repeat = "10 min"
escalate = { after = "15 min", to = "second" }

[[notice]]
name = "second"
to = ["Ben <ben@alder-rise.example>"]
escalate = { after = "15 min", to = "owner" }

[[notice]]
name = "owner"
to = ["cleo@alder-rise.example"]
"#;

/// What becomes of notices.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Server {
    Takes,
    Refuses,
    /// Nothing is ever heard of them.
    Silent,
}

pub struct Rig {
    engine: Engine,
    pub now: Now,
    pub events: Vec<Event>,
    /// With the time since the start of the rig.
    pub notices: Vec<(u64, Notice)>,
    pub server: Server,
    pub contacts: Vec<bool>,
    kept: BTreeMap<(String, String), AlarmMemory>,
    remembered: BTreeMap<(&'static str, String), (String, Remembered)>,
    effects: Vec<Effect>,
    /// The most effects of one step.
    pub most: usize,
}

/// Alarms `XA-0`, `XA-1` … on contacts of their own, of these priorities.
pub fn site_text(priorities: &[&str], notices: &str) -> String {
    let mut text = SITE.to_owned();
    for (place, priority) in priorities.iter().enumerate() {
        text += &format!(
            "[[tank.alarm]]\ncode = \"XA-{place}\"\nwatch = \"XS-{place}\"\nis = \"on\"\npriority = \"{priority}\"\nshelve = {{ at_most = \"8 h\" }}\nresponse = \"Close the inlet valve\"\nrespond_within = \"20 min\"\n"
        );
    }
    for place in 0..priorities.len() {
        text += &format!(
            "[[contact]]\ntag = \"XS-{place}\"\nlink = \"skid-a\"\nbit = \"discrete {place}\"\n"
        );
    }
    text + notices
}

impl Rig {
    pub fn new(priorities: &[&str], notices: &str) -> Self {
        Self::start(priorities, notices, "2026-03-04T03:00:00Z", None)
    }

    pub fn start(priorities: &[&str], notices: &str, utc: &str, memory: Option<Memory>) -> Self {
        let text = site_text(priorities, notices);
        let site = site::parse(&text, Path::new("alder-rise.toml"));
        let site = site.unwrap_or_else(|problems| panic!("{problems}"));
        let now = Now {
            up: Duration::ZERO,
            utc: utc.parse().expect("a time"),
        };
        let is_new = memory.is_none();
        let mut effects = Vec::new();
        let engine = Engine::start(Arc::new(site.plan), memory, now, &mut effects);
        let mut rig = Self {
            engine,
            now,
            events: Vec::new(),
            notices: Vec::new(),
            server: Server::Takes,
            contacts: vec![false; priorities.len()],
            kept: BTreeMap::new(),
            remembered: BTreeMap::new(),
            effects,
            most: 0,
        };
        rig.sort_effects();
        if is_new {
            rig.read();
        }
        rig
    }

    /// What a journal would give back.
    pub fn memory(&self) -> Memory {
        let kept = self.kept.iter();
        Memory {
            alarms: kept
                .map(|((tank, code), memory)| (tank.clone(), code.clone(), memory.clone()))
                .collect(),
            remembered: self.remembered.values().cloned().collect(),
            last_event: self.events.last().map_or(0, |event| event.number),
            last_time: Some(self.now.utc),
            fingerprint: None,
        }
    }

    /// How many calls and numbers are remembered.
    pub fn remembered(&self) -> usize {
        self.remembered.len()
    }

    /// The contact of an alarm, read at once.
    pub fn set(&mut self, place: usize, on: bool) {
        self.contacts[place] = on;
        self.go(1);
    }

    /// One read a second.
    pub fn go(&mut self, seconds: u64) {
        for _ in 0..seconds {
            self.now.up += Duration::from_secs(1);
            self.now.utc += Duration::from_secs(1);
            self.read();
        }
    }

    pub fn read(&mut self) {
        let sample = Sample {
            transmitter: TransmitterId(0),
            raw: Ok(20.0),
        };
        let contacts: Vec<ContactSample> = (0..)
            .zip(&self.contacts)
            .map(|(place, on)| ContactSample {
                contact: ContactId(place),
                bit: Ok(*on),
            })
            .collect();
        self.step(Input::Read(&[sample], &contacts));
    }

    pub fn step(&mut self, input: Input<'_>) {
        self.engine.step(self.now, input, &mut self.effects);
        self.sort_effects();
    }

    /// When the engine next wants to be asked, since the start.
    pub fn due(&self) -> Option<Duration> {
        self.engine.due()
    }

    pub fn ask(&mut self, command: Command) -> Result<String, String> {
        self.engine.step(
            self.now,
            Input::Command(CommandId(0), command),
            &mut self.effects,
        );
        let answer = self.effects.iter().find_map(|effect| match effect {
            Effect::Answer(_, answer) => Some(answer.clone()),
            _ => None,
        });
        self.sort_effects();
        let answer = answer.expect("every command is answered");
        answer
            .map(|done| done.0)
            .map_err(|refusal| refusal.to_string())
    }

    pub fn acknowledge(&mut self, place: usize) {
        self.ask(Command::Acknowledge {
            tank: "clearwell".into(),
            code: format!("XA-{place}"),
            by: "Ada".into(),
            activation: None,
        })
        .expect("it waits for an answer");
    }

    /// Seconds, recipient and kind of every notice since the last call of this, but for the system's own alarms.
    pub fn told(&mut self) -> Vec<(u64, String, &'static str)> {
        let notices = std::mem::take(&mut self.notices).into_iter();
        let is_of_system = |one: &Notice| one.alarms.iter().any(|alarm| &*alarm.tank == "system");
        notices
            .filter(|(_, notice)| !is_of_system(notice))
            .map(|(at, notice)| (at, notice.to.to_string(), notice.kind.name()))
            .collect()
    }

    pub fn of_kind(&self, kind: EventKind) -> Vec<&Event> {
        self.events
            .iter()
            .filter(|event| event.kind == kind && event.tank.as_deref() != Some("system"))
            .collect()
    }

    pub fn snapshot(&self) -> standpipe::engine::Snapshot {
        self.engine.snapshot()
    }

    pub fn utc(&self) -> Timestamp {
        self.now.utc
    }

    fn sort_effects(&mut self) {
        self.most = self.most.max(self.effects.len());
        let mut sent: Vec<NoticeId> = Vec::new();
        for effect in std::mem::take(&mut self.effects) {
            match effect {
                Effect::Event(event) => self.events.push(event),
                Effect::Keep { tank, code, memory } => {
                    self.kept
                        .insert((tank.to_string(), code.to_string()), memory);
                }
                Effect::Remember { kind, of, memory } => {
                    let subject = (kind.name(), of.to_string());
                    match memory {
                        Some(memory) => {
                            let text = serde_json::to_string(&memory).expect("it can be written");
                            let back = serde_json::from_str(&text).expect("it can be read");
                            assert_eq!((memory.kind(), &memory), (kind, &back));
                            self.remembered.insert(subject, (of.to_string(), back));
                        }
                        None => drop(self.remembered.remove(&subject)),
                    }
                }
                Effect::Notify(notice) => {
                    sent.push(notice.id);
                    self.notices.push((self.now.up.as_secs(), notice));
                }
                Effect::Answer(..) | Effect::Reading(_) => {}
            }
        }
        let outcome = match self.server {
            Server::Takes => Outcome::Delivered,
            Server::Refuses => Outcome::Failed("connection refused".into()),
            Server::Silent => return,
        };
        for id in sent {
            self.step(Input::Delivered(id, outcome.clone()));
        }
    }
}
