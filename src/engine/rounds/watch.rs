//! Rounds that are due, and what of rounds outlives a restart.

use super::Rounds;
use crate::engine::Effect;
use crate::engine::event::EventKind;
use crate::engine::memory::{Memory, Remembered, RememberedKind, RoundsMemory};
use crate::engine::plan::TankPlan;
use crate::engine::step::Engine;
use crate::quantity::{Timestamp, span};
use std::sync::Arc;
use std::time::Duration;

/// When the next entry is due.
pub(super) fn due(tank: &TankPlan, memory: &RoundsMemory) -> Option<Timestamp> {
    let every = tank.rounds.every?;
    let last = memory.entries.last().map(|entry| entry.time);
    let from = last.map_or(memory.since, |last| last.max(memory.since));
    from.checked_add(every).ok()
}

impl Engine {
    /// Time alone makes a round overdue; it is told once.
    pub(in crate::engine) fn watch_rounds(&mut self, effects: &mut Vec<Effect>) {
        for index in 0..self.tanks.len() {
            let every = self.plan.tanks[index].rounds.every;
            let Some((every, due)) = every.zip(self.untold_due(index)) else {
                continue;
            };
            if due > self.last.utc {
                continue;
            }
            let plan = Arc::clone(&self.plan);
            let tank = &plan.tanks[index];
            let rounds = &mut self.tanks[index].rounds;
            rounds.memory.overdue_told = true;
            rounds.work_out(tank);
            let last = rounds.memory.entries.last();
            let last = last.map_or("there is no entry yet".to_owned(), |entry| {
                format!("the last entry is of {:.0}, by {}", entry.time, entry.by)
            });
            let text = format!(
                "round overdue: an entry is due every {}, and {last}. Read the sight glass or dip the tank, then `standpipe sight` or `standpipe dip`",
                span(every)
            );
            self.event(EventKind::Rounds, Some(&tank.name), None, text, effects);
            self.remember_rounds(index, effects);
        }
    }

    /// When time alone next makes a round overdue.
    pub(in crate::engine) fn rounds_due(&self) -> Option<Duration> {
        let due = (0..self.tanks.len()).filter_map(|index| self.untold_due(index));
        let after = due.map(|due| due.duration_since(self.last.utc));
        let after = after.map(|left| Duration::try_from(left).unwrap_or_default());
        after.min().map(|after| self.last.up + after)
    }

    fn untold_due(&self, index: usize) -> Option<Timestamp> {
        // What is told of a tank under test would be forgotten with the test.
        if self.is_under_test(index) {
            return None;
        }
        let memory = &self.tanks[index].rounds.memory;
        due(&self.plan.tanks[index], memory).filter(|_| !memory.overdue_told)
    }

    /// The reading is not comparable any more with what it was: another product, another calibration.
    pub(in crate::engine) fn begin_rounds_anew(&mut self, index: usize, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        let rounds = &mut self.tanks[index].rounds;
        if rounds.memory.entries.is_empty() {
            return;
        }
        rounds.memory.anew = Some(self.last.utc);
        rounds.work_out(&plan.tanks[index]);
        self.remember_rounds(index, effects);
    }

    /// Takes up the rounds from before a restart; a tank that waits for some begins to wait.
    pub(in crate::engine) fn take_up_rounds(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        for (index, tank) in plan.tanks.iter().enumerate() {
            let kept = memory.remembered.iter().find_map(|(of, kept)| match kept {
                Remembered::Rounds(kept) if **of == *tank.name => Some(kept),
                _ => None,
            });
            match kept {
                Some(kept) => self.tanks[index].rounds = Rounds::of(tank, kept.clone()),
                None if tank.rounds.every.is_some() => self.remember_rounds(index, effects),
                None => {}
            }
        }
    }

    pub(super) fn remember_rounds(&self, index: usize, effects: &mut Vec<Effect>) {
        let memory = self.tanks[index].rounds.memory.clone();
        effects.push(Effect::Remember {
            kind: RememberedKind::Rounds,
            of: Arc::clone(&self.plan.tanks[index].name),
            memory: Some(Remembered::Rounds(memory)),
        });
    }
}
