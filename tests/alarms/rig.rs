//! A tank in virtual time: a site file, its engine, and what is fed to it once a second.

use standpipe::engine::alarm::AlarmState;
use standpipe::engine::horn::Horn;
use standpipe::engine::snapshot::{AlarmView, TankView};
use standpipe::engine::{
    AlarmMemory, Command, CommandId, ContactId, ContactSample, Effect, Engine, Event, EventKind,
    Fault, Input, LinkId, LinkState, Memory, Now, Remembered, Sample, Snapshot, TransmitterId,
};
use standpipe::quantity::Timestamp;
use standpipe::site;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// An open tank of water, 10 m² and 6 m, with a hand switch and a level switch. Its transmitter reads kPa.
const SITE: &str = r#"
[site]
name = "Alder Rise"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-101"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"

[[contact]]
tag = "HS-101"
link = "skid-a"
bit = "discrete 0"
on_means = "cleaning"

[[contact]]
tag = "LSHH-101"
link = "skid-a"
bit = "discrete 1"
on_means = "high-high level"

[[tank]]
name = "clearwell"

[tank.vessel]
shape = "rectangular"
length = "5 m"
width = "2 m"
height = "6 m"

[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.hookup]
kind = "vented"
transmitter = "LT-101"
at = "0 m"
"#;

/// What one metre of water reads, kPa: standard gravity, CGPM 1901.
const KPA_PER_METRE: f64 = 9.806_65;

pub struct Rig {
    engine: Engine,
    plan: Arc<standpipe::engine::Plan>,
    pub now: Now,
    effects: Vec<Effect>,
    pub events: Vec<Event>,
    pub kept: BTreeMap<(String, String), AlarmMemory>,
    /// By kind and name.
    pub remembered: BTreeMap<(&'static str, String), (String, Remembered)>,
    /// What the level and the two contacts are; none: no answer.
    pub level: Option<f64>,
    pub contacts: [Option<bool>; 2],
}

/// A high alarm at 3 m with what else is said of it.
pub fn high(more: &str) -> String {
    format!("[[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"3 m\"\n{more}\n")
}

pub fn start_of_time() -> Timestamp {
    "2026-03-04T05:00:00Z".parse().expect("a time")
}

impl Rig {
    pub fn new(alarms: &str) -> Self {
        Self::start(alarms, None, start_of_time())
    }

    pub fn start(alarms: &str, memory: Option<Memory>, utc: Timestamp) -> Self {
        Self::of(&format!("{SITE}\n{alarms}"), memory, utc)
    }

    /// The same tank in another site file's words; see [`Rig::text`].
    pub fn of(text: &str, memory: Option<Memory>, utc: Timestamp) -> Self {
        let site = site::parse(text, Path::new("alder-rise.toml"));
        let site = site.unwrap_or_else(|problems| panic!("{problems}"));
        let now = Now {
            up: Duration::ZERO,
            utc,
        };
        let plan = Arc::new(site.plan);
        let mut effects = Vec::new();
        let engine = Engine::start(Arc::clone(&plan), memory, now, &mut effects);
        let mut rig = Self {
            engine,
            plan,
            now,
            effects,
            events: Vec::new(),
            kept: BTreeMap::new(),
            remembered: BTreeMap::new(),
            level: Some(2.0),
            contacts: [Some(false); 2],
        };
        rig.sort_effects();
        rig
    }

    /// The site file with something in it replaced.
    pub fn text(was: &str, is: &str, alarms: &str) -> String {
        assert!(SITE.contains(was), "{was}");
        format!("{}\n{alarms}", SITE.replace(was, is))
    }

    /// The same site, perhaps with other alarms, after so long without anybody watching.
    pub fn restart(&self, alarms: &str, blind: Duration) -> Self {
        self.restart_at(alarms, self.now.utc.checked_add(blind).expect("a time"))
    }

    pub fn restart_at(&self, alarms: &str, utc: Timestamp) -> Self {
        Self::start(alarms, Some(self.memory()), utc)
    }

    /// What a journal would give back.
    pub fn memory(&self) -> Memory {
        let alarms = self
            .kept
            .iter()
            .map(|((tank, code), memory)| (tank.clone(), code.clone(), memory.clone()));
        Memory {
            alarms: alarms.collect(),
            remembered: self.remembered.values().cloned().collect(),
            last_event: self.events.last().map_or(0, |event| event.number),
            last_time: Some(self.now.utc),
            fingerprint: Some(self.plan.fingerprint.to_string()),
        }
    }

    /// Goes on for so many seconds with a level.
    pub fn at(&mut self, level: f64, seconds: u32) {
        self.level = Some(level);
        self.go(seconds);
    }

    pub fn go(&mut self, seconds: u32) {
        for _ in 0..seconds {
            self.now.up += Duration::from_secs(1);
            self.now.utc += Duration::from_secs(1);
            let raw = self.level.map(|level| level * KPA_PER_METRE);
            let sample = Sample {
                transmitter: TransmitterId(0),
                raw: raw.ok_or(Fault::NoAnswer),
            };
            let contact = |place: usize| ContactSample {
                contact: ContactId(place as u32),
                bit: self.contacts[place].ok_or(Fault::NoAnswer),
            };
            let contacts = [contact(0), contact(1)];
            self.step(Input::Read(&[sample], &contacts));
        }
    }

    /// Time goes by and nothing is read.
    pub fn wait(&mut self, time: Duration) {
        self.now.up += time;
        self.now.utc += time;
        self.step(Input::Tick);
    }

    pub fn step(&mut self, input: Input<'_>) {
        self.engine.step(self.now, input, &mut self.effects);
        self.sort_effects();
    }

    pub fn ask(&mut self, command: Command) -> Result<String, String> {
        let input = Input::Command(CommandId(0), command);
        self.engine.step(self.now, input, &mut self.effects);
        let answer = self.effects.iter().find_map(|effect| match effect {
            Effect::Answer(_, answer) => Some(answer.clone()),
            _ => None,
        });
        self.sort_effects();
        match answer.expect("every command is answered") {
            Ok(done) => Ok(done.0),
            Err(refusal) => Err(refusal.to_string()),
        }
    }

    pub fn acknowledge(&mut self, code: &str) -> Result<String, String> {
        self.acknowledge_of("clearwell", code)
    }

    pub fn acknowledge_of(&mut self, tank: &str, code: &str) -> Result<String, String> {
        self.ask(Command::Acknowledge {
            tank: tank.into(),
            code: code.into(),
            by: "Ada".into(),
            activation: None,
        })
    }

    pub fn shelve(&mut self, code: &str, hours: u64, once: bool) -> Result<String, String> {
        self.shelve_of("clearwell", code, hours, once)
    }

    pub fn shelve_of(
        &mut self,
        tank: &str,
        code: &str,
        hours: u64,
        once: bool,
    ) -> Result<String, String> {
        self.ask(Command::Shelve {
            tank: tank.into(),
            code: code.into(),
            by: "Ada".into(),
            time: Duration::from_secs(3600 * hours),
            reason: "float sticks".into(),
            once,
        })
    }

    pub fn alarm(&self, code: &str) -> AlarmView {
        let snapshot = self.engine.snapshot();
        let mut alarms = snapshot.alarms();
        let found = alarms.find(|(_, alarm)| *alarm.code == *code);
        found.unwrap_or_else(|| panic!("no alarm {code}")).1.clone()
    }

    /// Tank and code of those that are suppressed by design because that alarm tells it.
    pub fn follows(&self, code: &str) -> Vec<String> {
        let follows = self.alarm(code).follows;
        let names = follows.iter().map(|(tank, code)| format!("{tank} {code}"));
        names.collect()
    }

    pub fn snapshot(&self) -> Snapshot {
        self.engine.snapshot()
    }

    pub fn link(&mut self, trouble: Option<&str>) {
        let state = trouble.map_or(LinkState::Up, |trouble| LinkState::Down {
            trouble: trouble.into(),
        });
        self.step(Input::Link(LinkId(0), state));
    }

    /// Nothing on the link answers any more.
    pub fn fail_link(&mut self) {
        (self.level, self.contacts) = (None, [None; 2]);
        self.link(Some("no route to host"));
    }

    /// Events of an alarm: where to, and the text.
    pub fn history(&self, code: &str) -> Vec<(&'static str, &str)> {
        let events = self.events.iter();
        let of_it = events.filter(|event| event.code.as_deref() == Some(code));
        let changes = of_it.filter_map(|event| Some((event.to?.code(), event.text.as_str())));
        changes.collect()
    }

    pub fn horn(&self) -> Horn {
        self.engine.snapshot().horn
    }

    pub fn tank(&self) -> TankView {
        self.engine.snapshot().tanks.remove(0)
    }

    pub fn state(&self, code: &str) -> &'static str {
        self.alarm(code).state.code()
    }

    pub fn due(&self) -> Option<Duration> {
        self.engine.due()
    }

    /// Numbers and texts of the events of a kind.
    pub fn told(&self, kind: EventKind) -> Vec<&str> {
        let events = self.events.iter().filter(|event| event.kind == kind);
        events.map(|event| event.text.as_str()).collect()
    }

    /// How often anything was annunciated.
    pub fn annunciated(&self) -> usize {
        let events = self.events.iter();
        let came = events.filter(|event| event.to == Some(AlarmState::Unacknowledged));
        came.count()
    }

    pub fn last(&self) -> &Event {
        self.events.last().expect("an event")
    }

    /// Every change of an alarm is kept after its event, in the same step.
    fn sort_effects(&mut self) {
        let mut unkept = None;
        for effect in self.effects.drain(..) {
            match effect {
                Effect::Event(event) => {
                    assert_eq!(unkept, None, "an alarm's event without its memory");
                    if event.kind == EventKind::Alarm {
                        unkept = event.code.clone();
                    }
                    self.events.push(event);
                }
                Effect::Keep { tank, code, memory } => {
                    assert_eq!(unkept.take(), Some(Arc::clone(&code)));
                    let text = serde_json::to_string(&memory).expect("it can be written");
                    let back = serde_json::from_str(&text).expect("it can be read");
                    assert_eq!(memory, back);
                    self.kept.insert((tank.to_string(), code.to_string()), back);
                }
                Effect::Remember { kind, of, memory } => {
                    let subject = (kind.name(), of.to_string());
                    match memory {
                        Some(memory) => {
                            assert_eq!(memory.kind(), kind);
                            let text = serde_json::to_string(&memory).expect("it can be written");
                            let back = serde_json::from_str(&text).expect("it can be read");
                            assert_eq!(memory, back);
                            self.remembered.insert(subject, (of.to_string(), back));
                        }
                        None => drop(self.remembered.remove(&subject)),
                    }
                }
                Effect::Answer(..) | Effect::Reading(_) | Effect::Notify(_) => {}
            }
        }
        assert_eq!(unkept, None, "an alarm's event without its memory");
        let numbers = self
            .events
            .windows(2)
            .map(|pair| (pair[0].number, pair[1].number));
        numbers
            .into_iter()
            .for_each(|(one, next)| assert_eq!(one + 1, next));
    }
}
