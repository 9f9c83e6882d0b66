//! A tank's checks at one moment: what they are shown, what they find, and the events that tell it.

use super::checks::diagnosis::FindingChange;
use super::checks::finding::{Confidence, Fault, Finding};
use super::checks::jump::{Jump, JumpVerdict};
use super::checks::seen::{Flows, Seen};
use super::event::EventKind;
use super::ids::TransmitterId;
use super::memory::{Memory, Remembered, RememberedKind};
use super::plan::{Plan, Source, TankPlan};
use super::quality::{Quality, Reason};
use super::rounds::comparable;
use super::step::Engine;
use super::tank::{Signals, TankState, headspace};
use super::{Effect, words};
use std::sync::Arc;
use std::time::Duration;

/// Jumps so near to each other are one event. Common practice, no source.
const AT_ONCE: Duration = Duration::from_secs(30);
/// Volumes this near to each other, as a share, are the same liquid. Common practice, no source.
const ALIKE: f64 = 0.7;
/// Below this a meter shows nothing: 0.1 L/h. Common practice, no source.
const NO_FLOW_M3_S: f64 = 1e-4 / 3600.0;

impl Engine {
    /// Shows the checks a sampled reading, and asks them in their own time for what they find.
    pub(super) fn diagnose(&mut self, plan: &Plan, index: usize, effects: &mut Vec<Effect>) {
        let tank = &plan.tanks[index];
        let seen = self.seen_by_checks(index, tank);
        self.tanks[index].show_checks(plan, tank, &seen);
        if self.tanks[index].spike.is_flagged() {
            let leading = tank.hookups[self.tanks[index].leading].hookup.leading();
            self.signal_checks[leading.index()].counts_spike(self.last.up);
        }
        if let Some(held) = comparable(&self.tanks[index].reading) {
            self.tanks[index].rounds.held.take(self.last.up, held);
        }
        if !self.tanks[index].diagnosis.is_due(self.last) {
            return;
        }
        let mut found = findings(&self.tanks[index], tank);
        found.extend(self.tanks[index].findings(plan, tank, &seen));
        self.gather_weather(index, &mut found);
        for id in watched(tank) {
            let signal = &self.signal_checks[id.index()];
            found.extend(signal.findings(&plan.transmitters[id.index()], self.last));
        }
        if self.tanks[index].diagnosis.abilities_are_due(self.last) {
            let mut abilities = self.tanks[index].abilities(plan, tank, &seen);
            for id in watched(tank) {
                let signal = &self.signal_checks[id.index()];
                abilities.push(signal.ability(&plan.transmitters[id.index()], self.last));
            }
            abilities.push(self.tanks[index].rounds.ability());
            self.tanks[index].diagnosis.abilities = abilities.into();
        }
        for (of, memory) in self.tanks[index].checks.to_keep(plan, tank) {
            effects.push(Effect::Remember {
                kind: memory.kind(),
                of,
                memory: Some(memory),
            });
        }
        for id in watched(tank) {
            if let Some(memory) = self.signal_checks[id.index()].to_keep(self.last) {
                effects.push(Effect::Remember {
                    kind: RememberedKind::Frozen,
                    of: Arc::clone(&plan.transmitters[id.index()].tag),
                    memory: Some(Remembered::Frozen(memory)),
                });
            }
        }
        let reasons = self.tanks[index].reading.reasons;
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
            let is_outside = reasons.has(Reason::OutsideIntactLines);
            // Entries of rounds find a lost leg too; of a jump its own event tells.
            let is_jump =
                finding.fault == Fault::WetLegLost && self.tanks[index].jump.open().is_some();
            if is_outside || !(is_jump || has_event_of_its_own(finding.fault)) {
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

    /// Where several tanks go with the barometer, it is no fault of one transmitter alone.
    fn gather_weather(&self, index: usize, found: &mut [Finding]) {
        let of_weather = |finding: &Finding| finding.fault == Fault::FollowsWeather;
        let Some(weather) = found.iter_mut().find(|finding| of_weather(finding)) else {
            return;
        };
        let others = (0..self.tanks.len()).filter(|other| *other != index);
        let others = others.filter(|other| {
            let open = self.tanks[*other].diagnosis.open();
            open.iter().any(|open| of_weather(&open.finding))
        });
        let names: Vec<&str> = others.map(|other| &*self.plan.tanks[other].name).collect();
        if !names.is_empty() {
            weather.confidence = Confidence::Probable;
            weather.evidence += &format!("; so do {}: look for what they share", names.join(", "));
        }
    }

    /// Takes up what the checks had learnt before a restart; what nobody looks at any more is void.
    pub(super) fn take_up_checks(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        let plan = Arc::clone(&self.plan);
        for (of, kept) in &memory.remembered {
            let is_learnt = matches!(
                kept,
                Remembered::Noise(_)
                    | Remembered::Pair(_)
                    | Remembered::Rest(_)
                    | Remembered::LowLeg(_)
                    | Remembered::Frozen(_)
            );
            let now = self.last;
            if let Remembered::Frozen(frozen) = kept {
                let mut all = self.signal_checks.iter_mut().zip(&plan.transmitters);
                let same_file = memory.fingerprint.as_deref() == Some(&*plan.fingerprint);
                if let Some((signal, _)) = all.find(|(_, plan)| same_file && *plan.tag == **of) {
                    signal.restore(frozen, now);
                    continue;
                }
            }
            let mut tanks = self.tanks.iter_mut().zip(&plan.tanks);
            let mut is_used = || {
                tanks.any(|(state, tank)| match kept {
                    Remembered::LowLeg(leg) => state.restore_leg(tank, of, leg, now),
                    kept => state.checks.restore(&plan, tank, of, kept),
                })
            };
            if is_learnt && !is_used() {
                effects.push(Effect::Remember {
                    kind: kept.kind(),
                    of: of.as_str().into(),
                    memory: None,
                });
            }
        }
    }

    /// A jump that has just opened, with what the rest of the site says of it.
    pub(super) fn explain_jump(&mut self, index: usize, tank: &TankPlan) -> Option<Jump> {
        let jump = *self.tanks[index].jump.open()?;
        let at_once = |other: &Jump| jump.since.abs_diff(other.since) <= AT_ONCE;
        let others: Vec<usize> = (0..self.tanks.len())
            .filter(|other| *other != index)
            .filter(|other| self.tanks[*other].jump.open().is_some_and(at_once))
            .filter(|other| !self.went_over(index, *other))
            .collect();
        let verdict = if jump.verdict == JumpVerdict::Unexplained && self.flows_make(tank, &jump) {
            JumpVerdict::Real
        } else {
            jump.verdict
        };
        self.tanks[index].jump.explain(verdict, 0);
        if !others.is_empty() {
            // What has its own explanation keeps it.
            for place in others.iter().copied().chain([index]) {
                let watch = &mut self.tanks[place].jump;
                let open = watch.open().map(|open| open.verdict);
                if let Some(
                    JumpVerdict::Unexplained | JumpVerdict::UnitOrWords | JumpVerdict::CommonCause,
                ) = open
                {
                    watch.explain(JumpVerdict::CommonCause, others.len() as u32);
                }
            }
        }
        self.tanks[index].jump.open().copied()
    }

    /// What one loses another gains: liquid went from one to the other, and they share nothing else.
    fn went_over(&self, one: usize, other: usize) -> bool {
        let moved_m3 = |index: usize| {
            let (state, tank) = (&self.tanks[index], &self.plan.tanks[index]);
            let jump = state.jump.open()?;
            let vessel = tank.vessel.at(state.reading.temperature);
            let volume = |level| vessel.volume(level + tank.zero);
            Some((volume(jump.plausible + jump.size) - volume(jump.plausible)).value)
        };
        let moved = moved_m3(one).zip(moved_m3(other));
        moved.is_some_and(|(one, other)| {
            one * other < 0.0 && one.abs().min(other.abs()) > ALIKE * one.abs().max(other.abs())
        })
    }

    /// Whether what is known to flow now makes a jump, within a factor of two.
    fn flows_make(&self, tank: &TankPlan, jump: &Jump) -> bool {
        let flows = Flows::known(&tank.streams, &self.live());
        let Some(net_m3_s) = flows.net_m3_s() else {
            return false;
        };
        let level = jump.plausible + tank.zero;
        let area_m2 = tank.vessel.area(level).value;
        let expected_m = net_m3_s * jump.seconds / area_m2;
        let share = jump.size.value / expected_m;
        (0.5..=2.0).contains(&share)
    }

    /// Whether nothing flows: as the site file says when it is idle, or else by its streams.
    fn at_rest(&self, tank: &TankPlan, flows: &Flows) -> Option<bool> {
        match &tank.checks.idle {
            Some(idle) if !idle.when.is_empty() => {
                idle.when.iter().try_fold(true, |rests, condition| {
                    Some(rests && self.contact(condition.contact).on? == condition.on)
                })
            }
            _ => flows.in_m3_s.zip(flows.out_m3_s).map(|(inflow, outflow)| {
                let nothing = |flow: f64| flow.abs() <= NO_FLOW_M3_S;
                nothing(inflow) && nothing(outflow)
            }),
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
        let barometer_pa = match &self.plan.ambient.pressure {
            Source::Tags(tags) => tags.first().and_then(|tag| usable(*tag)),
            Source::Fixed(_) | Source::Ambient => None,
        };
        let flows = Flows::known(&tank.streams, &live);
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
            flows,
            ambient_k,
            barometer_pa,
            at_rest: self.at_rest(tank, &flows),
        }
    }
}

/// The transmitters that a tank's level hangs on, each once.
fn watched(tank: &TankPlan) -> impl Iterator<Item = TransmitterId> + '_ {
    let all = || {
        tank.transmitters()
            .chain(tank.gas.pressure.tags().iter().copied())
    };
    all()
        .enumerate()
        .filter(move |(place, id)| !all().take(*place).any(|earlier| earlier == *id))
        .map(|(_, id)| id)
}

/// All that is found on a tank now.
fn findings(state: &TankState, tank: &TankPlan) -> Vec<Finding> {
    let mut found = Vec::new();
    if let Some(jump) = state.jump.open() {
        let (fault, confidence) = match jump.verdict {
            JumpVerdict::PressureArtefact => (Fault::PressureArtefact, Confidence::Probable),
            JumpVerdict::CommonCause => (Fault::CommonCause, Confidence::Probable),
            JumpVerdict::EqualiserOpen => (Fault::EqualiserOpen, Confidence::Probable),
            JumpVerdict::LegLost => (Fault::WetLegLost, Confidence::Possible),
            JumpVerdict::UnitOrWords => (Fault::UnitOrWords, Confidence::Possible),
            JumpVerdict::Real => (Fault::RealJump, Confidence::Possible),
            JumpVerdict::Unexplained => (Fault::UnexplainedJump, Confidence::Possible),
            JumpVerdict::GlassUnmoved => (Fault::JumpArtefact, Confidence::Probable),
        };
        found.push(Finding::of_tank(fault, confidence, words::jump(jump)));
    }
    let reasons = state.reading.reasons;
    if reasons.has(Reason::LowLegFlooded) {
        let evidence = "the level was near the upper tap and fell further than anything draws; an equaliser that was opened just then looks the same: look at the manifold first".to_owned();
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
    if reasons.has(Reason::LowLegSuspected) {
        let evidence = "the level was near the upper tap and fell further than is known to be drawn; a meter or a pump's stated rate that is too low looks the same".to_owned();
        found.push(Finding::of_tank(
            Fault::LowLegFlooded,
            Confidence::Possible,
            evidence,
        ));
    }
    // A leg that is full to the tap leaves no difference either: one verdict, the one that keeps the tank full.
    if reasons.has(Reason::OutsideIntactLines) && !reasons.has(Reason::LowLegFlooded) {
        let (fault, evidence) = match state.outside() {
            Some(JumpVerdict::EqualiserOpen) => (
                Fault::EqualiserOpen,
                "no difference is left between the two ports, which intact lines can't give",
            ),
            Some(JumpVerdict::LegLost) => (
                Fault::WetLegLost,
                "the difference moved by what the whole column in the low leg is worth, beyond what intact lines give",
            ),
            Some(JumpVerdict::UnitOrWords) => (
                Fault::UnitOrWords,
                "the number is off by the factor of another unit, beyond what intact lines give",
            ),
            _ => (
                Fault::LinesUnsound,
                "the difference is beyond what a full or an empty tank gives through intact lines",
            ),
        };
        found.push(Finding::of_tank(
            fault,
            Confidence::Possible,
            evidence.to_owned(),
        ));
    }
    found.extend(state.rounds.finding(tank, state.workings()));
    found
}

/// What has told itself already when it was found.
fn has_event_of_its_own(fault: Fault) -> bool {
    matches!(
        fault,
        Fault::PressureArtefact
            | Fault::UnexplainedJump
            | Fault::EqualiserOpen
            | Fault::UnitOrWords
            | Fault::RealJump
            | Fault::JumpArtefact
            | Fault::LowLegFlooded
            | Fault::HookupsDisagree
    )
}
