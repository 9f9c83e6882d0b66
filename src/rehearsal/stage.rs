//! Plant and engine in virtual time: what a script does to a site, played from its start to its end.
//!
//! What always holds: site, script and seed settle every bit of the trace. Time goes in the plant's steps; what
//! is due between two of them is done at the later one.

use super::coverage::Coverage;
use super::reader::LinkReader;
use super::script::{Asked, Script};
use super::strip::Columns;
use super::timeline::Outside;
use super::trace::{Answered, Found, Moment, Told, Trace};
use super::{Scenario, scenario};
use crate::engine::notice::Outcome;
use crate::engine::snapshot::OpenFinding;
use crate::engine::{CommandId, Effect, Engine, Event, Input, Now, Plan, Snapshot, TankId};
use crate::plant::{Plant, STEP};
use crate::quantity::Timestamp;
use crate::site::Site;
use crate::site::problem::{Problem, Problems};
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Duration;

/// What is kept of readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// Those of the tanks that an expectation names, one by one.
    Named,
    /// Besides, the strips of all tanks.
    Strips,
}

/// Plays a script on a site to its end.
pub fn play(site: &Site, script: &Script) -> Result<Trace, Problems> {
    play_until(site, script, Keep::Named, |_| false)
}

/// Plays a script to its end, or until what was seen is enough.
pub fn play_until(
    site: &Site,
    script: &Script,
    keep: Keep,
    is_enough: impl Fn(&Trace) -> bool,
) -> Result<Trace, Problems> {
    Ok(play_seen(site, script, keep, |watch| is_enough(&watch.trace))?.trace)
}

/// Plays it to its end, and says after each read how far it is.
pub fn play_telling(
    site: &Site,
    script: &Script,
    keep: Keep,
    mut tell: impl FnMut(Duration),
) -> Result<Trace, Problems> {
    let watch = play_seen(site, script, keep, |watch| {
        tell(watch.now.up);
        false
    })?;
    Ok(watch.trace)
}

/// Plays it, and shows everything as it stands: about so often, and at the end.
pub fn look_on(
    site: &Site,
    script: &Script,
    every: Duration,
    mut look: impl FnMut(&Snapshot),
) -> Result<(), Problems> {
    let mut next = Duration::ZERO;
    let watch = play_seen(site, script, Keep::Named, |watch| {
        if watch.now.up >= next {
            next = watch.now.up + every;
            look(&watch.engine.snapshot());
        }
        false
    })?;
    look(&watch.engine.snapshot());
    Ok(())
}

/// `seen` looks on after each read, and says whether that is enough.
fn play_seen(
    site: &Site,
    script: &Script,
    keep: Keep,
    mut seen: impl FnMut(&Watch) -> bool,
) -> Result<Watch, Problems> {
    let scenario = scenario::plant(site, script)?;
    let Some(last) = script.last else {
        let problem = Problem::of_file("`last` is missing: a rehearsal must end");
        let cure = "add last = \"00:30:00\" at the head of the script";
        return Err(script.problems(vec![problem.cure(cure)]));
    };
    let Scenario {
        plant,
        mut timeline,
        ..
    } = scenario;
    let mut plant = Plant::new(plant, script.seed);
    let mut links = LinkReader::all(&site.links);
    let mut watch = Watch::begin(site, script, last, keep, &plant);
    loop {
        let up = plant.time();
        watch.pass_to(up, &plant);
        for link in &mut links {
            link.read(up, &plant, |input| watch.step(input, &plant));
        }
        if up >= last || seen(&watch) {
            return Ok(watch);
        }
        let (mut outside, mut before) = (Vec::new(), up);
        // Until then neither a link nor the engine has anything to do.
        let due = links.iter().filter_map(LinkReader::due);
        let due = due.chain(watch.engine.due()).chain([last]);
        let until = due.min().unwrap_or(last).max(up + STEP);
        plant.advance_while(whole_steps(until - up), |plant| {
            before = plant.time();
            outside.extend(timeline.apply(plant));
            match outside.is_empty() {
                true => ControlFlow::Continue(()),
                false => ControlFlow::Break(()),
            }
        });
        if !outside.is_empty() && before > up {
            watch.pass_to(before, &plant);
        }
        for due in outside {
            watch.take(due, &plant);
        }
    }
}

/// Rounded up.
fn whole_steps(time: Duration) -> Duration {
    let steps = time.as_nanos().div_ceil(STEP.as_nanos());
    STEP * u32::try_from(steps).unwrap_or(u32::MAX)
}

/// The engine, and what is written down of it.
struct Watch {
    engine: Engine,
    now: Now,
    begins: Timestamp,
    /// By how much the wall clock was stepped, s.
    stepped_s: f64,
    /// Which tanks' readings are kept.
    is_kept: Vec<bool>,
    /// Of which tanks nothing but the boundary of two liquids is told.
    is_boundary: Vec<bool>,
    asked: Vec<Asked>,
    effects: Vec<Effect>,
    trace: Trace,
}

impl Watch {
    fn begin(site: &Site, script: &Script, last: Duration, keep: Keep, plant: &Plant) -> Self {
        let plan = Arc::new(with_ages(&site.plan, script.begins));
        let now = Now {
            up: Duration::ZERO,
            utc: script.begins,
        };
        let mut effects = Vec::new();
        let engine = Engine::start(Arc::clone(&plan), None, now, &mut effects);
        let subjects = || script.expectations.iter().map(|one| &one.subject);
        let is_named = |tank: &str| subjects().any(|subject| subject.tank() == Some(tank));
        let mut watch = Self {
            engine,
            now,
            begins: script.begins,
            stepped_s: 0.0,
            is_boundary: plan.tanks.iter().map(|tank| tank.is_boundary()).collect(),
            is_kept: plan.tanks.iter().map(|tank| is_named(&tank.name)).collect(),
            asked: Vec::new(),
            effects,
            trace: Trace {
                last,
                events: Vec::new(),
                answers: Vec::new(),
                moments: vec![Vec::new(); plan.tanks.len()],
                found: Vec::new(),
                strips: match keep {
                    Keep::Named => Vec::new(),
                    Keep::Strips => vec![Columns::new(last); plan.tanks.len()],
                },
                coverage: Coverage::new(&plan),
            },
        };
        watch.take_effects(plant);
        watch
    }

    /// Time goes by; what is due by it is done.
    fn pass_to(&mut self, up: Duration, plant: &Plant) {
        self.now.up = up;
        let wall = SignedDuration::try_from_secs_f64(self.stepped_s).unwrap_or_default();
        let utc = self.begins.checked_add(up);
        // A script's own bounds keep it far from there.
        let utc = utc.and_then(|utc| utc.checked_add(wall));
        self.now.utc = utc.unwrap_or(Timestamp::MAX);
        if self.engine.due().is_some_and(|due| due <= up) {
            self.step(Input::Tick, plant);
        }
    }

    fn take(&mut self, outside: Outside, plant: &Plant) {
        match outside {
            Outside::Asked(asked) => {
                let id = CommandId(self.asked.len() as u32);
                let command = asked.command.clone();
                self.asked.push(asked);
                self.step(Input::Command(id, command), plant);
            }
            Outside::Clock(by_s) => {
                self.stepped_s += by_s;
                self.pass_to(self.now.up, plant);
                self.step(Input::Tick, plant);
            }
        }
    }

    fn step(&mut self, input: Input<'_>, plant: &Plant) {
        self.engine.step(self.now, input, &mut self.effects);
        self.take_effects(plant);
    }

    /// Writes down what the engine tells. Every notice is delivered at once.
    fn take_effects(&mut self, plant: &Plant) {
        let mut effects = std::mem::take(&mut self.effects);
        let mut delivered = Vec::new();
        for effect in effects.drain(..) {
            match effect {
                Effect::Event(event) => self.take_event(event),
                Effect::Answer(id, answer) => self.trace.answers.push(Answered {
                    at: self.now.up,
                    asked: self.asked[id.index()].clone(),
                    answer,
                }),
                Effect::Notify(notice) => delivered.push(notice.id),
                Effect::Reading(tank) => self.take_reading(tank, plant),
                Effect::Keep { .. } | Effect::Remember { .. } => {}
            }
        }
        self.effects = effects;
        for id in delivered {
            self.step(Input::Delivered(id, Outcome::Delivered), plant);
        }
    }

    fn take_event(&mut self, event: Event) {
        let snapshot = || self.engine.snapshot();
        self.trace.coverage.take(&event, snapshot);
        let at = self.now.up;
        self.trace.events.push(Told { at, event });
    }

    fn take_reading(&mut self, tank: TankId, plant: &Plant) {
        let (index, at) = (tank.index(), self.now.up);
        self.take_findings(tank);
        if !self.is_kept[index] && self.trace.strips.is_empty() {
            return;
        }
        let boundary_m = plant.boundary(index).map(|level| level.value);
        let moment = Moment::of(
            at,
            plant.level(index).value,
            (boundary_m, self.is_boundary[index]),
            self.engine.reading(tank),
        );
        if let Some(strip) = self.trace.strips.get_mut(index) {
            strip.take(&moment);
        }
        if !self.is_kept[index] {
            return;
        }
        let moments = &mut self.trace.moments[index];
        match moments.last_mut() {
            Some(last) if last.at == at => *last = moment,
            _ => moments.push(moment),
        }
    }

    /// What has been found since the last reading, and what is no longer.
    fn take_findings(&mut self, tank: TankId) {
        let (index, at) = (tank.index(), self.now.up);
        let open = self.engine.findings(tank);
        let is_open = |found: &Found| {
            let same = |one: &&OpenFinding| {
                (one.finding.fault, one.finding.confidence) == (found.fault, found.confidence)
            };
            open.iter().any(|one| same(&one))
        };
        let known = self.trace.found.iter_mut();
        for found in known.filter(|found| found.tank == index && found.to.is_none()) {
            if !is_open(found) {
                found.to = Some(at);
            }
        }
        for one in open {
            let (fault, confidence) = (one.finding.fault, one.finding.confidence);
            let is_known = self.trace.found.iter().any(|found| {
                found.to.is_none()
                    && (found.tank, found.fault, found.confidence) == (index, fault, confidence)
            });
            if !is_known {
                self.trace.found.push(Found {
                    tank: index,
                    fault,
                    confidence,
                    from: at,
                    to: None,
                });
            }
        }
    }
}

/// The transmitters as old as they are when the script begins: no clock has a say in a rehearsal.
fn with_ages(plan: &Plan, begins: Timestamp) -> Plan {
    let (mut plan, today) = (plan.clone(), TimeZone::UTC.to_datetime(begins).date());
    for transmitter in &mut plan.transmitters {
        let days = transmitter.calibrated.map(|date| (today - date).get_days());
        let days = days.and_then(|days| u64::try_from(days).ok());
        transmitter.since_calibration = days.map(|days| Duration::from_secs(days * 86_400));
    }
    plan
}
