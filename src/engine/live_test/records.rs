//! What is remembered of tests: of each alarm the last one, when one was last passed, and whether one is due.

use crate::engine::Effect;
use crate::engine::event::EventKind;
use crate::engine::memory::{AlarmTestMemory, Memory, Remembered, RememberedKind};
use crate::engine::snapshot::AlarmTestView;
use crate::engine::step::Engine;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The last test of each alarm, by the places of tank and alarm in the plan.
pub type Tested = BTreeMap<(usize, usize), AlarmTestMemory>;

impl Engine {
    /// Takes up what an earlier run has kept; one that was under way is over, and the tank is as it was.
    pub(in crate::engine) fn take_up_tests(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        for (_, remembered) in &memory.remembered {
            let Remembered::AlarmTest(kept) = remembered else {
                continue;
            };
            let tanks = &self.plan.tanks;
            let found = tanks.iter().position(|tank| tank.name == kept.tank);
            let found = found.and_then(|index| {
                let mut alarms = tanks[index].alarms.iter();
                Some((index, alarms.position(|alarm| alarm.code == kept.code)?))
            });
            let Some(at) = found else { continue };
            self.tested.insert(at, kept.clone());
            if kept.running {
                let text = format!(
                    "{}live test cut short by a restart: it counts for nothing, and the tank is as it was before",
                    crate::engine::event::TEST_MARK
                );
                let (tank, code) = (Arc::clone(&kept.tank), Arc::clone(&kept.code));
                self.event(EventKind::Test, Some(&tank), Some(&code), text, effects);
                self.remember_test(at, effects, |memory| memory.running = false);
            }
        }
    }

    pub(super) fn keep_running_test(
        &mut self,
        tank: usize,
        place: usize,
        effects: &mut Vec<Effect>,
    ) {
        self.remember_test((tank, place), effects, |memory| memory.running = true);
    }

    pub(super) fn keep_test(
        &mut self,
        tank: usize,
        place: usize,
        (by, passed, result): (Arc<str>, bool, Arc<str>),
        effects: &mut Vec<Effect>,
    ) {
        let now = self.last.utc;
        self.remember_test((tank, place), effects, |memory| {
            memory.running = false;
            memory.last = Some(now);
            if passed {
                memory.passed = Some(now);
            }
            (memory.by, memory.result) = (Some(by), Some(result));
        });
    }

    fn remember_test(
        &mut self,
        at: (usize, usize),
        effects: &mut Vec<Effect>,
        change: impl FnOnce(&mut AlarmTestMemory),
    ) {
        let tank = &self.plan.tanks[at.0];
        let (name, code) = (&tank.name, &tank.alarms[at.1].code);
        let memory = self.tested.entry(at).or_insert_with(|| AlarmTestMemory {
            tank: Arc::clone(name),
            code: Arc::clone(code),
            passed: None,
            last: None,
            by: None,
            result: None,
            running: false,
        });
        change(memory);
        effects.push(Effect::Remember {
            kind: RememberedKind::AlarmTest,
            of: format!("{name} {code}").into(),
            memory: Some(Remembered::AlarmTest(memory.clone())),
        });
    }

    /// Every alarm that is to be tested at intervals, or was tested; in the order of the site file.
    pub(in crate::engine) fn test_records(&self) -> Vec<AlarmTestView> {
        let tanks = self.plan.tanks.iter().enumerate();
        let alarms = tanks.flat_map(|(index, tank)| {
            let alarms = tank.alarms.iter().enumerate();
            alarms.map(move |(place, alarm)| ((index, place), tank, alarm))
        });
        let records = alarms.filter_map(|(at, tank, alarm)| {
            let (every, kept) = (alarm.record.test_every, self.tested.get(&at));
            if every.is_none() && kept.is_none() {
                return None;
            }
            let passed = kept.and_then(|kept| kept.passed);
            let due = passed.zip(every);
            let due = due.and_then(|(passed, every)| passed.checked_add(every).ok());
            Some(AlarmTestView {
                tank: Arc::clone(&tank.name),
                code: Arc::clone(&alarm.code),
                every,
                passed,
                due,
                // What nobody has seen pass is due.
                overdue: every.is_some() && due.is_none_or(|due| due <= self.last.utc),
                last: kept.and_then(|kept| kept.last),
                by: kept.and_then(|kept| kept.by.clone()),
                result: kept.and_then(|kept| kept.result.clone()),
            })
        });
        records.collect()
    }
}
