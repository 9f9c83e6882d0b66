//! A tank's checks at one moment: what they are shown, what they find, and the events that tell it.

use super::checks::diagnosis::FindingChange;
use super::checks::finding::{Confidence, Fault, Finding};
use super::checks::jump::JumpVerdict;
use super::checks::seen::{Flows, Seen};
use super::event::EventKind;
use super::plan::{Source, TankPlan};
use super::quality::{Quality, Reason};
use super::rounds::comparable;
use super::step::Engine;
use super::tank::{Signals, TankState, headspace};
use super::{Effect, words};

impl Engine {
    /// Shows the checks a sampled reading, and asks them in their own time for what they find.
    pub(super) fn diagnose(&mut self, index: usize, tank: &TankPlan, effects: &mut Vec<Effect>) {
        let seen = self.seen_by_checks(index, tank);
        self.tanks[index].checks.take(&seen);
        if let Some(held) = comparable(&self.tanks[index].reading) {
            self.tanks[index].rounds.held.take(self.last.up, held);
        }
        if !self.tanks[index].diagnosis.is_due(self.last) {
            return;
        }
        let found = findings(&self.tanks[index], tank);
        if self.tanks[index].diagnosis.abilities_are_due(self.last) {
            let rounds = self.tanks[index].rounds.ability();
            let abilities = self.tanks[index].checks.abilities(&seen);
            self.tanks[index].diagnosis.abilities =
                abilities.iter().cloned().chain([rounds]).collect();
        }
        let changes = self.tanks[index].diagnosis.settle(found, self.last);
        for change in changes {
            let (finding, text) = match &change {
                FindingChange::Opened(finding) | FindingChange::Firmer(finding) => {
                    (finding, finding.sentence())
                }
                FindingChange::Closed(finding) => (
                    finding,
                    format!("{}: no longer found", finding.fault.name()),
                ),
            };
            if !has_event_of_its_own(finding.fault) {
                let subject = finding.subject.as_ref();
                self.event(
                    EventKind::Diagnosis,
                    Some(&tank.name),
                    subject,
                    text,
                    effects,
                );
            }
        }
    }

    /// What the tank's checks are shown of its newest reading.
    fn seen_by_checks(&self, index: usize, tank: &TankPlan) -> Seen {
        let state = &self.tanks[index];
        let reading = &state.reading;
        let level = reading.level;
        let live = self.live();
        let usable = |id| {
            let said = live.value(id);
            said.value.filter(|_| said.quality() < Quality::Bad)
        };
        let ambient_k = match &self.plan.ambient.temperature {
            Source::Tags(tags) => tags.first().and_then(|tag| usable(*tag)),
            Source::Fixed(_) | Source::Ambient => None,
        };
        Seen {
            now: self.last,
            quality: reading.quality,
            reasons: reading.reasons,
            level_m: level.map(|level| level.value),
            level_sigma_m: reading
                .level_uncertainty
                .map(|expanded| expanded.value / crate::physics::budget::COVERAGE),
            volume_m3: reading.volume.map(|volume| volume.value),
            mass_kg: reading.mass.map(|mass| mass.value),
            area_m2: level.map(|level| tank.vessel.area(level + tank.zero).value),
            difference_pa: reading
                .differential_pressure
                .map(|difference| difference.0.value),
            headspace_pa: headspace(&self.plan, tank, &live),
            pascals_per_metre: state.pascals_per_metre(),
            flows: Flows::of(&tank.streams, usable, |contact| self.contact(contact)),
            ambient_k,
        }
    }
}

/// All that is found on a tank now.
fn findings(state: &TankState, tank: &TankPlan) -> Vec<Finding> {
    let mut found = Vec::new();
    if let Some(jump) = state.jump.open() {
        let (fault, confidence) = match jump.verdict {
            JumpVerdict::PressureArtefact => (Fault::PressureArtefact, Confidence::Probable),
            JumpVerdict::Unexplained => (Fault::UnexplainedJump, Confidence::Possible),
            JumpVerdict::GlassUnmoved => (Fault::JumpArtefact, Confidence::Probable),
        };
        found.push(Finding::of_tank(fault, confidence, words::jump(jump)));
    }
    let reasons = state.reading.reasons;
    if reasons.has(Reason::LowLegFlooded) {
        let evidence = "the level was near the upper tap and fell faster than any draw".to_owned();
        found.push(Finding::of_tank(
            Fault::LowLegFlooded,
            Confidence::Probable,
            evidence,
        ));
    }
    if reasons.has(Reason::HookupsDisagree) {
        let evidence = words::levels(tank, state.workings());
        found.push(Finding::of_tank(
            Fault::HookupsDisagree,
            Confidence::Probable,
            evidence,
        ));
    }
    found.extend(state.checks.findings());
    found.extend(state.rounds.finding(tank, state.workings()));
    found
}

/// What has told itself already when it was found.
fn has_event_of_its_own(fault: Fault) -> bool {
    matches!(
        fault,
        Fault::PressureArtefact
            | Fault::UnexplainedJump
            | Fault::JumpArtefact
            | Fault::LowLegFlooded
            | Fault::HookupsDisagree
    )
}
