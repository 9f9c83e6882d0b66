//! The snapshot of the engine at this moment.

use super::annunciation::alarm_view;
use super::ids::TankId;
use super::plan::{Correction, TankPlan};
use super::reading::Reading;
use super::restart::Removed;
use super::snapshot::{
    AlarmView, Budget, ContactView, CorrectionView, JumpView, LinkView, OpenFinding, SignalView,
    Snapshot, TankView, TestView, WorkView,
};
use super::step::Engine;
use super::tank::TankState;
use super::{LinkState, words};
use crate::quantity::Timestamp;
use std::sync::Arc;

impl Engine {
    pub fn snapshot(&self) -> Snapshot {
        let plan = &self.plan;
        Snapshot {
            up: self.last.up,
            utc: self.last.utc,
            site: Arc::clone(&plan.site),
            site_folded: Arc::clone(&plan.site_folded),
            links: self
                .links
                .iter()
                .enumerate()
                .map(|(index, (state, since))| self.link_view(index, state, *since))
                .collect(),
            transmitters: (0..self.signals.len())
                .map(|index| self.signal_view(index))
                .collect(),
            tanks: self
                .tanks
                .iter()
                .zip(&plan.tanks)
                .enumerate()
                .map(|(index, (state, tank))| {
                    let test = self.test_view(index);
                    tank_view(state, tank, &self.removed, test)
                })
                .collect(),
            horn: self.horn.clone(),
            system: self.system_views(),
            gone: self.gone_views(),
            contacts: (0..self.contacts.len())
                .map(|index| self.contact_view(index))
                .collect(),
            notices: self.notices_view(),
            tests: self.test_records(),
        }
    }

    /// A tank's reading alone, where a whole snapshot would be made for nothing.
    pub fn reading(&self, tank: TankId) -> &Reading {
        &self.tanks[tank.index()].reading
    }

    /// What that reading's uncertainties are made of, the largest first.
    pub fn budget(&self, tank: TankId) -> Budget {
        self.tanks[tank.index()].budget()
    }

    /// The product in a tank, where it can hold several.
    pub fn product(&self, tank: TankId) -> Option<&str> {
        self.plan.tanks[tank.index()]
            .product()
            .map(|product| &*product.name)
    }

    /// The correction by hand that is in a tank's reading.
    pub fn corrected(&self, tank: TankId) -> Option<CorrectionView> {
        let index = tank.index();
        self.tanks[index]
            .correction(&self.plan.tanks[index])
            .map(CorrectionView::of)
    }

    /// What diagnosis finds of a tank now.
    pub fn findings(&self, tank: TankId) -> &[OpenFinding] {
        self.tanks[tank.index()].diagnosis.open()
    }

    fn link_view(&self, index: usize, state: &LinkState, since: Timestamp) -> LinkView {
        let (up, trouble) = match state {
            LinkState::Up => (true, Arc::from("")),
            LinkState::Down { trouble } => (false, Arc::clone(trouble)),
        };
        LinkView {
            name: Arc::clone(&self.plan.links[index].name),
            up,
            trouble,
            since,
        }
    }

    fn contact_view(&self, index: usize) -> ContactView {
        let (contact, plan) = (&self.contacts[index], &self.plan.contacts[index]);
        let said = contact.read(plan, self.last);
        ContactView {
            tag: Arc::clone(&plan.tag),
            link: Arc::clone(&self.plan.links[plan.link.index()].name),
            on: said.on,
            means: said.on.and_then(|on| plan.means(on)).cloned(),
            quality: said.quality(),
            reasons: said.reasons,
            time: contact.time(),
        }
    }

    fn signal_view(&self, index: usize) -> SignalView {
        let (signal, plan) = (&self.signals[index], &self.plan.transmitters[index]);
        let said = signal.read(plan, self.last);
        SignalView {
            tag: Arc::clone(&plan.tag),
            link: Arc::clone(&self.plan.links[plan.link.index()].name),
            raw: signal.raw(),
            words: None,
            value: said.value,
            unit: plan.unit,
            quality: said.quality(),
            reasons: said.reasons,
            time: signal.time(),
            work: self.work[index].as_ref().map(|work| WorkView {
                memory: work.memory.clone(),
                overdue: work.is_overdue(self.last),
            }),
        }
    }
}

impl CorrectionView {
    pub fn of(correction: &Correction) -> Self {
        Self {
            by: correction.by.clone(),
            until: correction.until,
        }
    }
}

fn tank_view(
    state: &TankState,
    tank: &TankPlan,
    removed: &[Removed],
    test: Option<TestView>,
) -> TankView {
    let jump = state.jump.open().zip(state.jump_since);
    let removed = removed.iter().filter(|removed| removed.tank == tank.name);
    TankView {
        name: Arc::clone(&tank.name),
        title: Arc::clone(&tank.title),
        frame: Arc::clone(&state.frame),
        product: tank.product().map(|product| Arc::clone(&product.name)),
        reading: state.reading,
        budget: state.budget(),
        corrected: state.correction(tank).map(CorrectionView::of),
        last_good: state.last_good,
        alarms: (0..tank.alarms.len())
            .map(|place| AlarmView {
                test: test.is_some(),
                ..alarm_view(state, tank, place)
            })
            .chain(removed.filter_map(Removed::view))
            .collect(),
        jump: jump.map(|(jump, since)| JumpView {
            since,
            verdict: jump.verdict,
            text: words::jump(jump).into(),
        }),
        hookups: state.views(tank),
        transfer: state.transfer.clone(),
        findings: state.diagnosis.open().to_vec(),
        abilities: Arc::clone(&state.diagnosis.abilities),
        rounds: Arc::clone(state.rounds.view()),
        test,
    }
}
