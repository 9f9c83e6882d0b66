//! A tank's alarms at one moment: what each is shown, what it comes to, and the event that tells it.

use super::alarm::{self, Alarm, Judged, Judgement, Known, Seen, Teller, Transition, Wanted};
use super::bad_data::Telling;
use super::contact::{ContactValue, all_hold};
use super::event::{Event, EventKind, SYSTEM};
use super::plan::{AlarmPlan, Condition, Limit, Plan, Suppress, TankPlan, Watch};
use super::snapshot::AlarmView;
use super::step::Engine;
use super::tank::{Signals, TankState};
use super::{ContactId, Effect, Reason, Reasons, words};
use std::sync::Arc;

/// Where an alarm stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum At {
    /// Which tank, and which of its alarms.
    Tank(usize, usize),
    /// Which of the system's own.
    System(usize),
}

impl Engine {
    pub(super) fn alarm_at(&self, at: At) -> &Alarm {
        match at {
            At::Tank(tank, place) => &self.tanks[tank].alarms[place],
            At::System(place) => &self.system.alarms[place],
        }
    }

    pub(super) fn alarm_at_mut(&mut self, at: At) -> &mut Alarm {
        match at {
            At::Tank(tank, place) => &mut self.tanks[tank].alarms[place],
            At::System(place) => &mut self.system.alarms[place],
        }
    }

    pub(super) fn observe_alarms(
        &mut self,
        index: usize,
        tank: &TankPlan,
        effects: &mut Vec<Effect>,
    ) {
        let mut all = std::mem::take(&mut self.judged);
        all.clear();
        all.extend((0..tank.alarms.len()).map(|place| self.judged(index, tank, place)));
        let telling = self.telling(index, tank, &all);
        for (place, plan) in tank.alarms.iter().enumerate() {
            let judged = all[place];
            let seen = self.seen(index, tank, place, judged, telling);
            let suspected = self.tanks[index]
                .reading
                .reasons
                .has(Reason::LowLegSuspected);
            if self.tanks[index].jump.open().is_none() && !suspected {
                self.tanks[index].alarms[place].possible_told = false;
            }
            if judged.possible {
                self.tell_possible(index, tank, place, effects);
            }
            while let Some(transition) =
                self.tanks[index].alarms[place].observe(plan, &seen, self.last)
            {
                let text = self.told(index, tank, place, transition, seen.judgement);
                self.alarm_event(At::Tank(index, place), transition, None, text, effects);
            }
        }
        self.judged = all;
    }

    /// What there is to say of an alarm's condition now.
    pub(super) fn judged(&self, index: usize, tank: &TankPlan, place: usize) -> Judged {
        let (state, plan) = (&self.tanks[index], &tank.alarms[place]);
        match plan.watch {
            Watch::Contact(contact) => Judged::of_contact(plan, self.contact(contact)),
            Watch::Transfer => transfer_judged(state),
            _ => {
                let plausible = tank.jump.as_ref().and_then(|check| {
                    let jump = &state.jump;
                    let vessel = tank.vessel.at(state.reading.temperature);
                    jump.bounds(check, vessel, tank.zero, self.last.up)
                });
                // In a leg that may have filled stands what the level lacks: it can be anywhere above.
                let above = Known {
                    at_least: state.reading.level.map(|level| level.value),
                    at_most: None,
                };
                let suspected = state.reading.reasons.has(Reason::LowLegSuspected);
                let plausible = if suspected { Some(above) } else { plausible };
                alarm::judgement(tank, plan, &state.alarms[place], &state.reading, plausible)
            }
        }
    }

    /// What an alarm is shown now.
    fn seen(
        &self,
        index: usize,
        tank: &TankPlan,
        place: usize,
        judged: Judged,
        telling: Telling,
    ) -> Seen {
        let elsewhere = || self.told_elsewhere(index, tank, place, judged, telling);
        let suppress = match &tank.alarms[place].suppress {
            None => elsewhere(),
            Some(rule) => match (self.wanted(rule), elsewhere()) {
                (own @ Wanted::Yes(_), _) => own,
                (_, told @ Wanted::Elsewhere { .. }) => told,
                (own, _) => own,
            },
        };
        Seen {
            judgement: judged.judgement,
            suppress,
            on_delay: telling.on_delay_of(place),
        }
    }

    pub(super) fn wanted(&self, rule: &Suppress) -> Wanted {
        match all_hold(&rule.when, |condition| self.contact(condition.contact)) {
            Some(true) => {
                let said = |condition: &Condition| words::condition_holds(&self.plan, *condition);
                let said: Vec<String> = rule.when.iter().map(said).collect();
                Wanted::Yes(said.join(" and ").into())
            }
            Some(false) => Wanted::No,
            None => Wanted::Unknown,
        }
    }

    pub(super) fn contact(&self, contact: ContactId) -> ContactValue {
        self.live().contact(contact)
    }

    /// While a jump stands open the true level may be elsewhere: told once for each limit that it can have reached.
    fn tell_possible(
        &mut self,
        index: usize,
        tank: &TankPlan,
        place: usize,
        effects: &mut Vec<Effect>,
    ) {
        let alarm = &mut self.tanks[index].alarms[place];
        if std::mem::replace(&mut alarm.possible_told, true) {
            return;
        }
        let plan = &tank.alarms[place];
        let why = match self.tanks[index].jump.open() {
            Some(_) => {
                "since the jump enough can have flowed for it, whatever the reading says. Look at the sight glass, then confirm the level"
            }
            None => {
                "the low leg may be flooded, and the level higher than it reads. Look at the sight glass"
            }
        };
        let text = format!("{} can no longer be excluded: {why}", words::limit(plan));
        self.event(
            EventKind::Jump,
            Some(&tank.name),
            Some(&plan.code),
            text,
            effects,
        );
    }

    /// What a transition means for the person who reads of it.
    fn told(
        &self,
        index: usize,
        tank: &TankPlan,
        place: usize,
        transition: Transition,
        judgement: Option<Judgement>,
    ) -> String {
        let (state, plan) = (&self.tanks[index], &tank.alarms[place]);
        let alarm = &state.alarms[place];
        let what = match plan.watch {
            Watch::Contact(contact) => words::contact(&self.plan, contact, self.contact(contact)),
            _ => {
                let trouble = match judgement {
                    Some(Judgement::False) => Reasons::NONE,
                    _ => state.reading.reasons,
                };
                words::value(
                    plan,
                    alarm::value(tank, &state.reading, plan.watch),
                    trouble,
                )
            }
        };
        self.with_start(transition, words::alarm(plan, alarm, transition, &what))
    }

    /// What was so already when the first data after the start came.
    pub(super) fn with_start(&self, transition: Transition, text: String) -> String {
        match (
            transition.at_start,
            transition.process.is_active(),
            self.blind_since,
        ) {
            (true, true, _) => format!("found at start: {text}"),
            (true, false, Some(since)) => {
                format!(
                    "{text}; it cleared between {since:.0} and {:.0}",
                    self.last.utc
                )
            }
            _ => text,
        }
    }

    pub(super) fn alarm_event(
        &mut self,
        at: At,
        transition: Transition,
        person: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        let plan = Arc::clone(&self.plan);
        let (name, alarm_plan) = (plan.alarm_owner(at), plan.alarm_at(at));
        let event = self.numbered(&name, &alarm_plan.code, transition, person, text);
        let alarm = self.alarm_at_mut(at);
        alarm.record(transition, event.time, event.number);
        let memory = self.kept_memory(at, alarm_plan);
        self.note_test(at, transition, person);
        self.heard(alarm_plan, &plan.alarm_title(at), transition, &event);
        effects.push(Effect::Event(event));
        effects.push(Effect::Keep {
            tank: name,
            code: Arc::clone(&alarm_plan.code),
            memory,
        });
    }

    /// The event of an alarm, with the next number.
    pub(super) fn numbered(
        &mut self,
        tank: &Arc<str>,
        code: &Arc<str>,
        transition: Transition,
        person: Option<&Arc<str>>,
        text: String,
    ) -> Event {
        self.events += 1;
        let text = self.marked(Some(tank), text);
        let event = Event {
            number: self.events,
            time: self.last.utc,
            kind: EventKind::Alarm,
            tank: Some(Arc::clone(tank)),
            code: Some(Arc::clone(code)),
            from: Some(transition.from),
            to: Some(transition.to),
            person: person.cloned(),
            text,
        };
        self.sound(&event);
        event
    }
}

impl Plan {
    pub(super) fn alarm_at(&self, at: At) -> &AlarmPlan {
        match at {
            At::Tank(tank, place) => &self.tanks[tank].alarms[place],
            At::System(place) => &self.system[place],
        }
    }

    /// The tank's name for people.
    pub(super) fn alarm_title(&self, at: At) -> Arc<str> {
        match at {
            At::Tank(tank, _) => Arc::clone(&self.tanks[tank].title),
            At::System(_) => SYSTEM.into(),
        }
    }

    /// The tank's name, or that of the system.
    pub(super) fn alarm_owner(&self, at: At) -> Arc<str> {
        match at {
            At::Tank(tank, _) => Arc::clone(&self.tanks[tank].name),
            At::System(_) => SYSTEM.into(),
        }
    }
}

/// Which tanks' alarms look at a contact.
pub(super) fn uses_contact(tank: &TankPlan, contact: ContactId) -> bool {
    tank.alarms.iter().any(|alarm| {
        let suppressing = alarm.suppress.iter().flat_map(|rule| &rule.when);
        alarm.watch == Watch::Contact(contact)
            || suppressing
                .into_iter()
                .any(|condition| condition.contact == contact)
    })
}

pub(super) fn alarm_view(state: &TankState, tank: &TankPlan, place: usize) -> AlarmView {
    let plan = &tank.alarms[place];
    let value = alarm::value(tank, &state.reading, plan.watch);
    let told_by_it = |alarm: &Alarm| alarm.flags().told_by() == Some(Teller::Tank(place));
    let alarms = state.alarms.iter().zip(&tank.alarms);
    let follows = alarms.filter(|(alarm, _)| told_by_it(alarm));
    AlarmView {
        follows: follows
            .map(|(_, plan)| (Arc::clone(&tank.name), Arc::clone(&plan.code)))
            .collect(),
        ..AlarmView::of(&state.alarms[place], plan, value)
    }
}

impl AlarmView {
    /// `value`: what is watched, in SI units.
    pub(super) fn of(alarm: &Alarm, plan: &AlarmPlan, value: Option<f64>) -> Self {
        let in_unit = |si: f64| plan.unit.map(|unit| unit.from_si(si));
        let flags = alarm.flags();
        Self {
            code: Arc::clone(&plan.code),
            state: alarm.state(),
            questionable: alarm.questionable(),
            active: alarm.process().is_active(),
            since: alarm.since(),
            activation: alarm.activation(),
            priority: plan.priority,
            limit: plan.limit.nearest(value).and_then(in_unit),
            value: value.and_then(in_unit),
            unit: plan.unit,
            record: Arc::clone(&plan.record),
            process: alarm.process(),
            latching: plan.latch,
            shelf: flags.shelf.clone(),
            suppressed: flags.suppressed.clone(),
            out_of_service: flags.out_of_service.clone(),
            removed: false,
            follows: Vec::new(),
            test: false,
        }
    }
}

/// Whether a transfer should have been stopped; undecided while nobody knows how the level moves.
fn transfer_judged(state: &TankState) -> Judged {
    match &state.transfer {
        None => Judgement::False.into(),
        Some(transfer) if transfer.overdue => Judgement::True.into(),
        Some(_) if state.reading.level.is_none() => Judgement::Undecided.into(),
        Some(_) => Judgement::False.into(),
    }
}

impl Judged {
    fn of_contact(plan: &AlarmPlan, contact: ContactValue) -> Self {
        let judgement = match contact.on {
            _ if contact.is_waiting() => None,
            None => Some(Judgement::Undecided),
            Some(on) if plan.limit == Limit::Is(on) => Some(Judgement::True),
            Some(_) => Some(Judgement::False),
        };
        Self {
            judgement,
            possible: false,
        }
    }
}
