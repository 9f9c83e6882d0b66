//! The state machine itself: one input after the other, each answered with effects.

use super::alarm::Judged;
use super::annunciation::uses_contact;
use super::checks::signal::SignalWatch;
use super::contact::{Contact, ContactValue};
use super::event::{Event, EventKind};
use super::horn::Horn;
use super::ids::{ContactId, LinkId, TankId, TransmitterId};
use super::live_test::{LiveTest, Put, Tested};
use super::memory::Memory;
use super::notice::Notices;
use super::plan::{Plan, SystemPart};
use super::refused::Attempts;
use super::restart::Removed;
use super::signal::{Signal, SignalValue};
use super::system::System;
use super::tank::{Changes, Signals, TankState};
use super::work::Work;
use super::{ContactSample, Effect, Input, LinkState, Now, Sample, words};
use crate::quantity::Timestamp;
use std::cell::OnceCell;
use std::sync::Arc;
use std::time::Duration;

/// How far wall clock and monotonic clock may move apart between two steps before it is told.
/// Common practice, no source.
const CLOCK_STEP: Duration = Duration::from_secs(2);

/// The engine: the state of one site.
#[derive(Clone, Debug)]
pub struct Engine {
    pub(super) plan: Arc<Plan>,
    pub(super) signals: Vec<Signal>,
    pub(super) signal_checks: Vec<SignalWatch>,
    pub(super) contacts: Vec<Contact>,
    pub(super) links: Vec<(LinkState, Timestamp)>,
    pub(super) tanks: Vec<TankState>,
    pub(super) system: System,
    /// Alarms that are gone from the site file.
    pub(super) removed: Vec<Removed>,
    /// For each transmitter, the tanks whose level it makes.
    readers: Vec<Vec<TankId>>,
    /// For each contact, the tanks whose alarms look at it.
    contact_users: Vec<Vec<TankId>>,
    /// Which tanks a read has touched, and whether with a number; reused.
    touched: Vec<Option<bool>>,
    /// What there is to say of one tank's alarms; reused.
    pub(super) judged: Vec<Judged>,
    pub(super) events: u64,
    pub(super) last: Now,
    /// The last entry of the run before: from then on until the start nobody watched.
    pub(super) blind_since: Option<Timestamp>,
    pub(super) attempts: Attempts,
    pub(super) notices: Notices,
    /// When time alone next changes something; empty until somebody asks for it after a step.
    next: OnceCell<Option<Duration>>,
    /// Work on each transmitter.
    pub(super) work: Vec<Option<Work>>,
    pub(super) horn: Horn,
    pub(super) live_test: Option<Box<LiveTest>>,
    pub(super) tested: Tested,
}

/// The running signals at one moment.
struct Live<'a> {
    plan: &'a Plan,
    signals: &'a [Signal],
    contacts: &'a [Contact],
    work: &'a [Option<Work>],
    now: Now,
}

fn live<'a>(
    plan: &'a Plan,
    (signals, contacts, work): (&'a [Signal], &'a [Contact], &'a [Option<Work>]),
    now: Now,
) -> Live<'a> {
    Live {
        plan,
        signals,
        contacts,
        work,
        now,
    }
}

impl Signals for Live<'_> {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        let index = transmitter.index();
        let work = self.work[index].as_ref();
        work.and_then(|work| work.instead(self.now))
            .unwrap_or_else(|| self.signals[index].read(&self.plan.transmitters[index], self.now))
    }
    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        self.signals[transmitter.index()].last_value()
    }
    fn contact(&self, contact: ContactId) -> ContactValue {
        let index = contact.index();
        self.contacts[index].read(&self.plan.contacts[index], self.now)
    }
}

impl Engine {
    /// `memory`: what an earlier run has kept.
    pub fn start(
        plan: Arc<Plan>,
        memory: Option<Memory>,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Self {
        let memory = memory.unwrap_or_default();
        let mut readers = vec![Vec::new(); plan.transmitters.len()];
        for (index, tank) in plan.tanks.iter().enumerate() {
            let tank_id = TankId(index as u32);
            for transmitter in tank.transmitters() {
                let of_it = &mut readers[transmitter.index()];
                if of_it.last() != Some(&tank_id) {
                    of_it.push(tank_id);
                }
            }
        }
        let users = |index: usize| {
            let tanks = (0..).map(TankId).zip(&plan.tanks);
            let using = tanks.filter(|(_, tank)| uses_contact(tank, ContactId(index as u32)));
            using.map(|(id, _)| id).collect()
        };
        let contact_users = (0..plan.contacts.len()).map(users).collect();
        let waiting = LinkState::Down {
            trouble: "not connected yet".into(),
        };
        let mut engine = Self {
            signals: vec![Signal::new(now); plan.transmitters.len()],
            signal_checks: vec![SignalWatch::default(); plan.transmitters.len()],
            contacts: vec![Contact::new(now); plan.contacts.len()],
            links: vec![(waiting, now.utc); plan.links.len()],
            tanks: (0..plan.tanks.len())
                .map(|index| TankState::new(&plan, index, now))
                .collect(),
            system: System::new(&plan),
            removed: Vec::new(),
            touched: vec![None; plan.tanks.len()],
            judged: Vec::new(),
            readers,
            contact_users,
            events: memory.last_event,
            last: now,
            blind_since: None,
            attempts: Attempts::default(),
            next: OnceCell::new(),
            notices: Notices::new(&plan.notices, now),
            work: vec![None; plan.transmitters.len()],
            horn: Horn::default(),
            live_test: None,
            tested: Tested::new(),
            plan,
        };
        let text = format!(
            "started: {} tanks, site file {}",
            engine.plan.tanks.len(),
            engine.plan.fingerprint
        );
        engine.event(EventKind::Start, None, None, text, effects);
        engine.take_up_work(&memory);
        engine.take_up(&memory, effects);
        engine.take_up_notices(&memory);
        engine.take_up_products(&memory, effects);
        engine.take_up_transfers(&memory);
        engine.take_up_checks(&memory, effects);
        engine.take_up_tests(&memory, effects);
        engine.take_up_rounds(&memory, effects);
        let plan = Arc::clone(&engine.plan);
        for (index, tank) in plan.tanks.iter().enumerate() {
            // No data yet, but a shelf's time may be up.
            engine.observe_alarms(index, tank, effects);
        }
        engine.tend_notices(effects);
        engine
    }

    /// Takes one input at a moment; `now.up` never goes back.
    pub fn step(&mut self, now: Now, input: Input<'_>, effects: &mut Vec<Effect>) {
        // Time alone changes nothing within one moment: of several links read at once only the first asks.
        let time_went = now.up > self.last.up;
        let overdue = time_went && self.due().is_some_and(|due| due <= now.up);
        self.next.take();
        self.watch_clock(now, effects);
        self.touched.fill(None);
        match input {
            Input::Samples(samples) => self.take_read(samples, &[], effects),
            Input::Read(samples, contacts) => self.take_read(samples, contacts, effects),
            Input::Link(link, state) => self.take_link(link, state, effects),
            Input::Command(id, command) => {
                let answer = self.obey(command, effects);
                effects.push(Effect::Answer(id, answer));
            }
            Input::System(part, trouble) => self.note_system(part, trouble),
            Input::Forbidden { person, text } => {
                self.tell_forbidden(person.as_ref(), text, effects)
            }
            Input::Session { person, text } => {
                let kind = EventKind::Session;
                self.person_event(kind, None, None, Some(&person), text, effects);
            }
            Input::Tick => self.let_time_tell(effects),
            Input::Journal(state) => {
                let text = words::journal(&state);
                self.event(EventKind::Journal, None, None, text, effects);
                self.note_journal(&state);
            }
            Input::Delivered(id, outcome) => self.take_outcome(id, &outcome, effects),
            Input::Stop => self.event(EventKind::Stop, None, None, "stopped".to_owned(), effects),
        }
        // What was due before this input must not be lost by it: no tick comes for it any more.
        if overdue {
            self.let_time_tell(effects);
        }
        self.watch_work(effects);
        self.watch_rounds(effects);
        self.watch_test(effects);
        self.observe_system(effects);
        self.rest_horn();
        self.tell_untold_attempts(effects);
        self.tend_notices(effects);
    }

    /// When time alone next changes something; a tick is due then.
    pub fn due(&self) -> Option<Duration> {
        *self.next.get_or_init(|| self.next_due())
    }

    fn next_due(&self) -> Option<Duration> {
        let signals = self.signals.iter().zip(&self.plan.transmitters);
        let signals = signals.filter_map(|(signal, plan)| signal.due(plan, self.last));
        let tanks = self.tanks.iter().zip(&self.plan.tanks);
        let alarms = tanks.flat_map(|(tank, plan)| tank.alarms.iter().zip(&plan.alarms));
        let alarms = alarms
            .filter_map(|(alarm, plan)| alarm.due(plan, self.last))
            .filter(|at| *at > self.last.up);
        let contacts = self.contacts.iter().zip(&self.plan.contacts);
        let contacts = contacts.filter_map(|(contact, plan)| contact.due(plan, self.last));
        let of_system = self.system.alarms.iter().zip(&self.plan.system);
        let of_system = of_system
            .filter_map(|(alarm, plan)| alarm.due(plan, self.last))
            .filter(|at| *at > self.last.up);
        let parts = self.system.due(&self.plan, self.last.up);
        let notices = self.notices.due(&self.plan.notices);
        let all = signals.chain(contacts).chain(alarms);
        let all = all.chain(of_system).chain(parts);
        let all = all.chain(notices);
        let all = all.chain(self.attempts.due()).chain(self.work_due());
        all.chain(self.test_due()).chain(self.rounds_due()).min()
    }

    /// Reads every tank that this input has not read, to see what time alone has changed.
    pub(super) fn let_time_tell(&mut self, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        for index in 0..self.tanks.len() {
            if self.touched[index].is_none() {
                self.touched[index] = Some(false);
                self.read_by(&plan, index, false, effects);
            }
        }
    }

    fn take_read(
        &mut self,
        samples: &[Sample],
        contacts: &[ContactSample],
        effects: &mut Vec<Effect>,
    ) {
        for sample in contacts {
            let index = sample.contact.index();
            self.contacts[index].accept(self.last, sample.bit);
            for tank in &self.contact_users[index] {
                self.touched[tank.index()].get_or_insert(false);
            }
        }
        for sample in samples {
            let index = sample.transmitter.index();
            let transmitter = &self.plan.transmitters[index];
            self.signals[index].accept(transmitter, self.last, sample.raw);
            let live = live(
                &self.plan,
                (&self.signals, &self.contacts, &self.work),
                self.last,
            );
            let said = live.value(sample.transmitter);
            self.signal_checks[index].take(transmitter, self.last, sample.raw, said);
            for tank in &self.readers[index] {
                let hookup = self.tanks[tank.index()].leading;
                let leads = self.plan.tanks[tank.index()].hookups[hookup]
                    .hookup
                    .leading()
                    == sample.transmitter;
                let touched = self.touched[tank.index()].get_or_insert(false);
                *touched |= leads && sample.raw.is_ok();
            }
        }
        let (plan, links) = (Arc::clone(&self.plan), &self.links);
        let is_up = |link: LinkId| matches!(links[link.index()].0, LinkState::Up);
        let up = self.last.up;
        self.system.take_read(&plan, samples, contacts, is_up, up);
        for index in 0..self.tanks.len() {
            if let Some(sampled) = self.touched[index] {
                self.read_by(&plan, index, sampled, effects);
            }
        }
    }

    pub(super) fn read_tank(&mut self, index: usize, sampled: bool, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        self.read_by(&plan, index, sampled, effects);
    }

    /// `plan`: its own.
    fn read_by(&mut self, plan: &Plan, index: usize, sampled: bool, effects: &mut Vec<Effect>) {
        let tank = &plan.tanks[index];
        let put = self.put_in(index, sampled, effects);
        let changes = self.read(index, sampled, put);
        self.tell_changes(index, tank, changes, effects);
        if sampled && !self.is_under_test(index) {
            self.diagnose(plan, index, effects);
            self.follow_transfer(index, tank, effects);
        }
        self.observe_alarms(index, tank, effects);
        effects.push(Effect::Reading(TankId(index as u32)));
    }

    /// Works a tank's reading out again from the same signals; what that changes is to be told.
    pub(super) fn read_anew(&mut self, index: usize) -> Changes {
        self.read(index, false, None)
    }

    /// A tank's reading from the signals of the moment; `put`: what stands in for one of them.
    pub(super) fn read(
        &mut self,
        index: usize,
        sampled: bool,
        put: Option<(TransmitterId, SignalValue)>,
    ) -> Changes {
        let (plan, tank) = (&*self.plan, &self.plan.tanks[index]);
        let live = live(plan, (&self.signals, &self.contacts, &self.work), self.last);
        let state = &mut self.tanks[index];
        match put {
            Some((transmitter, said)) => {
                let put = Put {
                    signals: &live,
                    transmitter,
                    said,
                };
                state.read(plan, tank, &put, self.last, sampled)
            }
            None => state.read(plan, tank, &live, self.last, sampled),
        }
    }

    /// Tells what a reading has changed, and judges the alarms on it.
    pub(super) fn tell_reading(
        &mut self,
        index: usize,
        changes: Changes,
        effects: &mut Vec<Effect>,
    ) {
        let plan = Arc::clone(&self.plan);
        let tank = &plan.tanks[index];
        self.tell_changes(index, tank, changes, effects);
        self.observe_alarms(index, tank, effects);
        effects.push(Effect::Reading(TankId(index as u32)));
    }

    /// The signals as they are now.
    pub(super) fn live(&self) -> impl Signals + '_ {
        live(
            &self.plan,
            (&self.signals, &self.contacts, &self.work),
            self.last,
        )
    }

    pub(super) fn event(
        &mut self,
        kind: EventKind,
        tank: Option<&Arc<str>>,
        code: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        self.person_event(kind, tank, code, None, text, effects);
    }

    pub(super) fn person_event(
        &mut self,
        kind: EventKind,
        tank: Option<&Arc<str>>,
        code: Option<&Arc<str>>,
        person: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        self.events += 1;
        let text = self.marked(tank, text);
        effects.push(Effect::Event(Event {
            number: self.events,
            time: self.last.utc,
            kind,
            tank: tank.cloned(),
            code: code.cloned(),
            from: None,
            to: None,
            person: person.cloned(),
            text,
        }));
    }

    fn take_link(&mut self, link: LinkId, state: LinkState, effects: &mut Vec<Effect>) {
        let name = Arc::clone(&self.plan.links[link.index()].name);
        let text = match &state {
            LinkState::Up => "link is up".to_owned(),
            LinkState::Down { trouble } => format!("link is down: {trouble}"),
        };
        self.note_link(link, &state);
        self.links[link.index()] = (state, self.last.utc);
        self.event(EventKind::Link, None, Some(&name), text, effects);
    }

    /// Delays go by the monotonic clock; a step of the wall clock is told, and harms nothing.
    fn watch_clock(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let went_ns = now.utc.as_nanosecond() - self.last.utc.as_nanosecond();
        let should_ns = now.up.saturating_sub(self.last.up).as_nanos() as i128;
        let step_s = (went_ns - should_ns) as f64 / 1e9;
        self.last = now;
        if step_s.abs() > CLOCK_STEP.as_secs_f64() {
            let text = format!(
                "the wall clock was stepped by {step_s:+.1} s; delays are not touched by it"
            );
            self.note_occurrence(SystemPart::Clock, text.as_str().into());
            self.event(EventKind::Clock, None, None, text, effects);
            self.time_notices_anew();
        }
    }

    pub fn link_name(&self, link: LinkId) -> &Arc<str> {
        &self.plan.links[link.index()].name
    }
}
