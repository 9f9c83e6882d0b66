//! Work on a transmitter: function check by NAMUR NE 107, with a permit, for a stated time.
//!
//! What always holds: while it lasts the transmitter's own signal reaches no reading; a hand value stands in for
//! it, or nothing does, and then the alarms that bad data bring about are suppressed by design with the work as
//! their cause. Past its time the work counts no more: the hand value ends, and what is bad is told.

use super::command::{Done, Refusal};
use super::event::EventKind;
use super::ids::TransmitterId;
use super::memory::{Memory, Remembered, RememberedKind, WorkMemory};
use super::quality::{Quality, Reason};
use super::signal::SignalValue;
use super::step::Engine;
use super::{Effect, Now, words};
use crate::quantity::span;
use std::sync::Arc;
use std::time::Duration;

/// The longest that work can be announced for; longer is another permit. Common practice, no source.
const LONGEST: Duration = Duration::from_secs(7 * 86_400);
/// How far the live signal may be from the hand value for the two to agree, as a share of the span; without a
/// span of the value. Common practice, no source.
const AGREES: f64 = 0.02;

/// Work under way.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    pub memory: WorkMemory,
    /// Its time is over, and that is told.
    overdue_told: bool,
}

/// What is asked of a work that begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Permit {
    pub number: Arc<str>,
    pub time: Duration,
    /// In the transmitter's SI unit.
    pub hand: Option<f64>,
}

impl Work {
    pub fn is_overdue(&self, now: Now) -> bool {
        self.memory.until <= now.utc
    }

    /// What stands in for the signal; the signal itself once the time is over.
    pub fn instead(&self, now: Now) -> Option<SignalValue> {
        if self.is_overdue(now) {
            return None;
        }
        let mut said = SignalValue {
            value: self.memory.hand,
            ..SignalValue::default()
        };
        said.reasons.add(match self.memory.hand {
            Some(_) => Reason::HandValue,
            None => Reason::FunctionCheck,
        });
        Some(said)
    }
}

impl Engine {
    pub(super) fn begin_work(
        &mut self,
        tag: &str,
        permit: Permit,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let id = self.transmitter(tag)?;
        if permit.number.trim().is_empty() {
            return Err(Refusal::NoPermit);
        }
        if permit.time.is_zero() || permit.time > LONGEST {
            return Err(Refusal::WorkTime {
                asked: permit.time,
                at_most: LONGEST,
            });
        }
        if self.work[id.index()].is_some() {
            return Err(Refusal::AtWork {
                tag: tag.to_owned(),
            });
        }
        let too_long = |_| Refusal::WorkTime {
            asked: permit.time,
            at_most: LONGEST,
        };
        let until = self.last.utc.checked_add(permit.time).map_err(too_long)?;
        let memory = WorkMemory {
            by: Arc::clone(by),
            permit: Arc::clone(&permit.number),
            since: self.last.utc,
            until,
            hand: permit.hand,
        };
        let stands_in = match permit.hand {
            Some(hand) => format!("hand value {} in its place", self.shown(id, hand)),
            None => "nothing in its place".to_owned(),
        };
        let text = format!(
            "function check begun, permit {}, for {}; {stands_in}. It bears on {}",
            permit.number,
            span(permit.time),
            self.borne_on(id)
        );
        self.work[id.index()] = Some(Work {
            memory,
            overdue_told: false,
        });
        let said = format!("{tag}: {text}");
        self.tell_work(id, Some(by), text, effects);
        self.begin_signal(id, effects);
        Ok(Done(said))
    }

    /// The transmitter's own signal counts again, once it is seen to be sound; or anyway.
    pub(super) fn end_work(
        &mut self,
        tag: &str,
        anyway: bool,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let id = self.transmitter(tag)?;
        let Some(work) = self.work[id.index()].clone() else {
            return Err(Refusal::NotAtWork {
                tag: tag.to_owned(),
            });
        };
        let plan = &self.plan.transmitters[id.index()];
        let signal = self.signals[id.index()].read(plan, self.last);
        if signal.quality() != Quality::Good && !anyway {
            return Err(Refusal::SignalNotSound {
                tag: tag.to_owned(),
                why: words::reasons(signal.reasons),
            });
        }
        let found = match (signal.value, work.memory.hand) {
            (None, _) => format!("no value: {}", words::reasons(signal.reasons)),
            (Some(value), None) => format!("it reads {}", self.shown(id, value)),
            (Some(value), Some(hand)) => {
                let scale = plan.span.map_or(hand.abs(), |(low, high)| high - low);
                let word = if (value - hand).abs() <= AGREES * scale {
                    "which agrees with"
                } else {
                    "WHICH IS NOT"
                };
                format!(
                    "it reads {}, {word} the hand value {}",
                    self.shown(id, value),
                    self.shown(id, hand)
                )
            }
        };
        let lasted = self.last.utc.duration_since(work.memory.since);
        let lasted = Duration::try_from(lasted).unwrap_or_default();
        let lasted = span(Duration::from_secs(lasted.as_secs()));
        let text = format!("returned to service after {lasted}: {found}");
        self.work[id.index()] = None;
        let said = format!("{tag}: {text}");
        self.tell_work(id, Some(by), text, effects);
        // Whatever was done to it, it is another instrument now.
        for index in 0..self.tanks.len() {
            if self.reads(index, id) {
                self.begin_rounds_anew(index, effects);
            }
        }
        self.begin_signal(id, effects);
        Ok(Done(said))
    }

    /// Time alone ends work.
    pub(super) fn watch_work(&mut self, effects: &mut Vec<Effect>) {
        for index in 0..self.work.len() {
            let Some(work) = &mut self.work[index] else {
                continue;
            };
            if work.overdue_told || work.memory.until > self.last.utc {
                continue;
            }
            work.overdue_told = true;
            let text = format!(
                "overdue: permit {} of {} is over, and nobody has returned it to service; its own signal counts again",
                work.memory.permit, work.memory.by
            );
            let id = TransmitterId(index as u32);
            self.tell_work(id, None, text, effects);
            self.begin_signal(id, effects);
        }
    }

    /// When time alone next ends work.
    pub(super) fn work_due(&self) -> Option<Duration> {
        let running = self.work.iter().flatten();
        let ends = running
            .filter(|work| !work.overdue_told)
            .map(|work| work.memory.until.duration_since(self.last.utc));
        let after = ends.map(|left| Duration::try_from(left).unwrap_or_default());
        after.min().map(|after| self.last.up + after)
    }

    /// Takes up work that was under way before a restart.
    pub(super) fn take_up_work(&mut self, memory: &Memory) {
        for (tag, remembered) in &memory.remembered {
            if let (Remembered::Work(kept), Ok(id)) = (remembered, self.transmitter(tag)) {
                self.work[id.index()] = Some(Work {
                    memory: kept.clone(),
                    overdue_told: false,
                });
            }
        }
    }

    /// What work keeps a tank's level from being known; none where no work does.
    pub(super) fn work_on(&self, tank: usize) -> Option<Arc<str>> {
        let reading = &self.tanks[tank].reading;
        if !reading.reasons.has(Reason::FunctionCheck) {
            return None;
        }
        let of_tank = self.plan.tanks[tank].transmitters();
        let working = of_tank.filter_map(|id| Some((id, self.work[id.index()].as_ref()?)));
        let named = working.map(|(id, work)| {
            let tag = &self.plan.transmitters[id.index()].tag;
            format!("work on {tag}, permit {}", work.memory.permit)
        });
        named.take(1).next().map(Into::into)
    }

    /// Another signal is no movement of the liquid.
    fn begin_signal(&mut self, id: TransmitterId, effects: &mut Vec<Effect>) {
        for tank in 0..self.tanks.len() {
            if self.reads(tank, id) {
                self.tanks[tank].begin_anew();
            }
        }
        self.let_time_tell(effects);
    }

    /// Whether a tank's level is made of that transmitter.
    fn reads(&self, tank: usize, id: TransmitterId) -> bool {
        let mut own = self.plan.tanks[tank].transmitters();
        own.any(|of_tank| of_tank == id)
    }

    /// The tanks and alarms that hang on a transmitter, in a row.
    fn borne_on(&self, id: TransmitterId) -> String {
        let tanks = self.plan.tanks.iter();
        let of_it = tanks.filter(|tank| tank.transmitters().any(|of_tank| of_tank == id));
        let said: Vec<String> = of_it
            .map(|tank| {
                let codes: Vec<&str> = tank.alarms.iter().map(|alarm| &*alarm.code).collect();
                format!("{} {}", tank.name, codes.join(", "))
            })
            .collect();
        if said.is_empty() {
            "no tank's level".to_owned()
        } else {
            said.join("; ")
        }
    }

    fn shown(&self, id: TransmitterId, si: f64) -> String {
        words::shown(si, self.plan.transmitters[id.index()].unit)
    }

    pub(super) fn transmitter(&self, tag: &str) -> Result<TransmitterId, Refusal> {
        let mut all = self.plan.transmitters.iter();
        let place = all.position(|transmitter| *transmitter.tag == *tag);
        place
            .map(|place| TransmitterId(place as u32))
            .ok_or_else(|| Refusal::UnknownTransmitter {
                tag: tag.to_owned(),
            })
    }

    fn tell_work(
        &mut self,
        id: TransmitterId,
        by: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        let tag = Arc::clone(&self.plan.transmitters[id.index()].tag);
        self.person_event(EventKind::Work, None, Some(&tag), by, text, effects);
        let work = self.work[id.index()].as_ref();
        effects.push(Effect::Remember {
            kind: RememberedKind::Work,
            of: tag,
            memory: work.map(|work| Remembered::Work(work.memory.clone())),
        });
    }
}
