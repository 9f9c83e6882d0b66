//! The alarms of the system itself at one moment, and what is heard of its parts.

use super::super::alarm::{Alarm, Seen, Teller, Wanted};
use super::super::annunciation::At;
use super::super::event::SYSTEM;
use super::super::ids::LinkId;
use super::super::plan::{SystemPart, Watch};
use super::super::snapshot::AlarmView;
use super::super::step::Engine;
use super::super::{Effect, JournalState, LinkState};
use super::words;
use crate::engine::words::{alarm as alarm_words, journal};
use std::sync::Arc;
use std::time::Duration;

impl Engine {
    /// A part of the system is in trouble, which says why; or with none it is over.
    pub(in crate::engine) fn note_system(&mut self, part: SystemPart, trouble: Option<Arc<str>>) {
        let plan = Arc::clone(&self.plan);
        let (is_trouble, up) = (trouble.is_some(), self.last.up);
        let what = || trouble.unwrap_or_else(|| "it is over".into());
        self.system.note(&plan, part, is_trouble, what, up);
    }

    /// Something happened to a part of the system and was over at once.
    pub(in crate::engine) fn note_occurrence(&mut self, part: SystemPart, what: Arc<str>) {
        let plan = Arc::clone(&self.plan);
        self.system.happened(&plan, part, what, self.last.up);
    }

    pub(in crate::engine) fn note_link(&mut self, link: LinkId, state: &LinkState) {
        let plan = Arc::clone(&self.plan);
        let name = &plan.links[link.index()].name;
        let (trouble, what) = match state {
            LinkState::Up => (false, words::link_back(name)),
            LinkState::Down { trouble } => (true, words::link_failed(name, trouble)),
        };
        let part = SystemPart::Link(link);
        self.system
            .note(&plan, part, trouble, || what, self.last.up);
    }

    pub(in crate::engine) fn note_journal(&mut self, state: &JournalState) {
        let what: Arc<str> = journal(state).into();
        match state {
            JournalState::Failing { .. } => self.note_system(SystemPart::Journal, Some(what)),
            JournalState::Written { .. } => {
                let plan = Arc::clone(&self.plan);
                let part = SystemPart::Journal;
                self.system.note(&plan, part, false, || what, self.last.up);
            }
            JournalState::Replaced { .. } => {
                self.note_occurrence(SystemPart::JournalReplaced, what);
            }
        }
    }

    /// After the tanks': whether something follows from a failure is known only then.
    pub(in crate::engine) fn observe_system(&mut self, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        let mut alarms = self.tanks.iter().flat_map(|tank| &tank.alarms);
        let tells = |alarm: &Alarm| matches!(alarm.flags().told_by(), Some(Teller::System(_)));
        let has_followers = alarms.any(tells);
        for (place, alarm_plan) in plan.system.iter().enumerate() {
            let seen = self.system_seen(place, has_followers);
            while let Some(transition) =
                self.system.alarms[place].observe(alarm_plan, &seen, self.last)
            {
                let what = Arc::clone(&self.system.parts[place].what);
                let alarm = &self.system.alarms[place];
                let text = alarm_words(alarm_plan, alarm, transition, &what);
                let text = self.with_start(transition, text);
                self.alarm_event(At::System(place), transition, None, text, effects);
            }
        }
    }

    /// `has_followers`: something follows from one of them.
    fn system_seen(&self, place: usize, has_followers: bool) -> Seen {
        let is_reached = match self.plan.system[place].watch {
            Watch::System(SystemPart::Device(at)) => self.is_up(self.plan.devices[at].link),
            _ => true,
        };
        Seen {
            judgement: self.system.judgement(place, is_reached, self.last.up),
            suppress: Wanted::No,
            // A level that cannot be measured has waited long enough already.
            on_delay: (has_followers && self.followers(place).next().is_some())
                .then_some(Duration::ZERO),
        }
    }

    pub(in crate::engine) fn is_up(&self, link: LinkId) -> bool {
        matches!(self.links[link.index()].0, LinkState::Up)
    }

    /// The tanks' alarms that are suppressed by design under one of the system's: tank and alarm.
    fn followers(&self, place: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let told = move |alarm: &Alarm| alarm.flags().told_by() == Some(Teller::System(place));
        self.tanks
            .iter()
            .enumerate()
            .flat_map(move |(tank, state)| {
                let alarms = state.alarms.iter().enumerate();
                alarms
                    .filter(move |(_, alarm)| told(alarm))
                    .map(move |(at, _)| (tank, at))
            })
    }

    pub(in crate::engine) fn system_views(&self) -> Vec<AlarmView> {
        let plans = self.plan.system.iter().enumerate();
        let views = plans.map(|(place, plan)| {
            let follows = self.followers(place).map(|(tank, at)| {
                let tank = &self.plan.tanks[tank];
                (Arc::clone(&tank.name), Arc::clone(&tank.alarms[at].code))
            });
            AlarmView {
                follows: follows.collect(),
                ..AlarmView::of(&self.system.alarms[place], plan, None)
            }
        });
        let gone = self
            .removed
            .iter()
            .filter(|removed| *removed.tank == *SYSTEM);
        views
            .chain(gone.filter_map(|removed| removed.view()))
            .collect()
    }
}
