//! The hookups of a tank against each other: each two that share no transmitter, and which of them is the odd one.

use super::finding::{Ability, Confidence, Fault, Finding};
use super::kept::{basis_of_pair, pair_name};
use super::period::HookupBlock;
use super::redundant::{Pair, PairWatch};
use super::seen::HookupSeen;
use super::terms::others;
use crate::engine::memory::PairMemory;
use crate::engine::plan::{Gives, Plan, TankPlan};
use std::sync::Arc;
use std::time::Duration;

const CHECK: &str = "redundant levels";
/// The least that two levels are uncertain by, m: where no accuracy is stated. Common practice, no source.
const LEAST_SIGMA_M: f64 = 0.001;

/// All pairs of a tank.
#[derive(Clone, Debug, Default)]
pub struct Pairs(Vec<Two>);

/// Two hookups by their places, the first one first.
#[derive(Clone, Debug)]
struct Two {
    first: usize,
    second: usize,
    watch: PairWatch,
}

impl Pairs {
    /// Takes what each hookup was over a period.
    pub fn compare(&mut self, tank: &TankPlan, up: Duration, hookups: &[HookupBlock]) {
        self.begin(tank);
        for two in &mut self.0 {
            let (first, second) = (&hookups[two.first], &hookups[two.second]);
            if let Some((a, b)) = first.level_m.value().zip(second.level_m.value()) {
                let combined_m = first.level_sigma_m.hypot(second.level_sigma_m);
                two.watch.take(up, a - b, combined_m.max(LEAST_SIGMA_M));
            }
        }
    }

    fn begin(&mut self, tank: &TankPlan) {
        let count = tank.hookups.len();
        if !self.0.is_empty() || count < 2 {
            return;
        }
        let tells = |index: usize| tank.hookups[index].gives == Gives::Level;
        for first in (0..count).filter(|first| tells(*first)) {
            let later = others(tank, first).filter(|second| *second > first);
            self.0.extend(later.map(|second| Two {
                first,
                second,
                watch: PairWatch::default(),
            }));
        }
    }

    /// What is to be kept over a restart, each by its name.
    pub fn to_keep(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
    ) -> impl Iterator<Item = (Arc<str>, PairMemory)> {
        let due = self.0.iter_mut().filter(|two| two.watch.is_to_keep());
        due.map(|two| {
            let basis = basis_of_pair(plan, tank, two.first, two.second);
            (two.name(tank), two.watch.memory(basis))
        })
    }

    /// Takes up what was kept; false where nobody looks at it any more. Another zero or another place of a transmitter
    /// is no drift.
    pub fn restore(&mut self, plan: &Plan, tank: &TankPlan, of: &str, kept: &PairMemory) -> bool {
        self.begin(tank);
        let found = self.0.iter_mut().find(|two| *two.name(tank) == *of);
        let same =
            found.filter(|two| kept.basis == basis_of_pair(plan, tank, two.first, two.second));
        let Some(two) = same else {
            return false;
        };
        two.watch = PairWatch::restored(kept);
        true
    }

    /// Where somebody works on a transmitter, another zero is no drift.
    pub fn renew(&mut self, hookups: impl Iterator<Item = HookupSeen> + Clone) {
        if self.0.is_empty() || !hookups.clone().any(|hookup| hookup.worked_on) {
            return;
        }
        for (index, _) in hookups.enumerate().filter(|(_, hookup)| hookup.worked_on) {
            let of_it = self.0.iter_mut().filter(|two| two.has(index));
            of_it.for_each(|two| two.watch.renew());
        }
    }

    /// Another liquid: what they were apart by is void.
    pub fn forget(&mut self) {
        self.0.iter_mut().for_each(|two| two.watch.forget());
    }

    /// Those that are apart or drift; where all others agree with each other, the odd one by its name.
    pub fn findings(&self, tank: &TankPlan) -> Vec<Finding> {
        let odd = self.odd_one(tank.hookups.len());
        let found = self.0.iter().filter_map(|two| {
            let both = || two.names(tank).into();
            match two.watch.shows() {
                Pair::Agrees => None,
                Pair::Apart(sure, text) => Some(match odd {
                    Some(odd) => Finding::of(
                        Fault::RedundantApart,
                        &tank.hookups[odd].name,
                        sure,
                        format!("the others agree; {text}"),
                    ),
                    None => Finding::of(Fault::RedundantApart, &both(), sure, text),
                }),
                Pair::Drifts(text) => Some(Finding::of(
                    Fault::RedundantDrift,
                    &both(),
                    Confidence::Possible,
                    text,
                )),
            }
        });
        let mut found: Vec<Finding> = found.collect();
        // The odd one is told once, as sure as the surest.
        found.sort_by_key(|finding| std::cmp::Reverse(finding.confidence));
        let mut once: Vec<Finding> = Vec::new();
        for finding in found {
            if !once.iter().any(|told| told.is_same(&finding)) {
                once.push(finding);
            }
        }
        once
    }

    /// The one that all others are apart from, while they agree.
    fn odd_one(&self, hookups: usize) -> Option<usize> {
        let all = self.0.iter();
        let apart: Vec<&Two> = all.filter(|two| two.is_apart()).collect();
        (0..hookups).find(|index| {
            let pairs = self.0.iter().filter(|two| two.has(*index)).count();
            let of_it = apart.iter().filter(|two| two.has(*index)).count();
            pairs >= 2 && of_it == pairs && of_it == apart.len()
        })
    }

    pub fn abilities(&self, tank: &TankPlan) -> Vec<Ability> {
        if self.0.is_empty() {
            let reason = "no two hookups tell the level by transmitters of their own";
            return vec![Ability::cannot(CHECK, reason)];
        }
        let each = self.0.iter().map(|two| {
            let both = two.names(tank);
            match two.watch.text() {
                Ok(text) => Ability::can(CHECK, format!("{both}: {text}")),
                Err(why) => Ability::cannot(CHECK, format!("{both}: {why}")),
            }
        });
        each.collect()
    }
}

impl Two {
    fn has(&self, hookup: usize) -> bool {
        [self.first, self.second].contains(&hookup)
    }

    fn is_apart(&self) -> bool {
        matches!(self.watch.shows(), Pair::Apart(..))
    }

    /// What it is kept by.
    fn name(&self, tank: &TankPlan) -> Arc<str> {
        pair_name(tank, self.first, self.second)
    }

    /// For people.
    fn names(&self, tank: &TankPlan) -> String {
        let name = |place: usize| &tank.hookups[place].name;
        format!("{} and {}", name(self.first), name(self.second))
    }
}
