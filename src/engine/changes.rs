//! What a reading has changed: told as events, and kept.

use super::checks::jump::JumpChange;
use super::checks::leg::LegChange;
use super::memory::{Remembered, RememberedKind};
use super::plan::TankPlan;
use super::quality::{Quality, Reason};
use super::tank::Changes;
use super::{Effect, Engine, EventKind, words};

impl Engine {
    pub(super) fn tell_changes(
        &mut self,
        index: usize,
        tank: &TankPlan,
        changes: Changes,
        effects: &mut Vec<Effect>,
    ) {
        if let Some(was) = changes.quality_was {
            let reading = &self.tanks[index].reading;
            let text = match reading.quality {
                Quality::Good => format!("good again, was {}", was.name()),
                quality => format!(
                    "{}, was {}: {}",
                    quality.name(),
                    was.name(),
                    words::reasons(reading.reasons)
                ),
            };
            self.event(EventKind::Quality, Some(&tank.name), None, text, effects);
        }
        self.keep_legs(index, tank, effects);
        if let Some(found) = changes.leg {
            let text = match found {
                LegChange::Flooded => format!(
                    "{}: the level was near the upper tap and fell further than anything draws; it is at least at the tap. Drain the leg under the site's permit, then confirm it",
                    Reason::LowLegFlooded.text()
                ),
                LegChange::Suspected => format!(
                    "{}; it was near the upper tap, and may be higher than it reads. Look at the sight glass and at the flow meters; where the leg is dry or drained, confirm it",
                    Reason::LowLegSuspected.text()
                ),
            };
            self.event(EventKind::Leg, Some(&tank.name), None, text, effects);
        }
        if let Some(begins) = changes.disagree {
            let levels = words::levels(tank, self.tanks[index].workings());
            let text = match begins {
                true => format!("{}: {levels}", Reason::HookupsDisagree.text()),
                false => format!("hookups agree again: {levels}"),
            };
            self.event(EventKind::Hookup, Some(&tank.name), None, text, effects);
        }
        match changes.jump {
            Some(JumpChange::Opened(jump)) => {
                let jump = self.explain_jump(index, tank).unwrap_or(jump);
                self.event(
                    EventKind::Jump,
                    Some(&tank.name),
                    None,
                    words::jump(&jump),
                    effects,
                );
            }
            Some(JumpChange::Returned(jump)) => {
                let text = format!(
                    "jump is over: the level went back ({})",
                    jump.verdict.name()
                );
                self.event(EventKind::Jump, Some(&tank.name), None, text, effects);
            }
            None => {}
        }
    }

    /// In the step that an event of theirs is in; nothing that follows from a test's value.
    pub(super) fn keep_legs(&mut self, index: usize, tank: &TankPlan, effects: &mut Vec<Effect>) {
        if self.is_under_test(index) {
            return;
        }
        for (of, memory) in self.tanks[index].legs_to_keep(tank, self.last) {
            effects.push(Effect::Remember {
                kind: RememberedKind::LowLeg,
                of,
                memory: memory.map(Remembered::LowLeg),
            });
        }
    }
}
