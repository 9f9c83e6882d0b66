//! The last working of a hookup, kept for as long as all that it was made from is said again.
//!
//! A working is a pure function of plan, product, trusted density and what its transmitters say. So one whose
//! every question to them is answered as before is the same to the bit, and need not be made again: at rest, or
//! between two steps of a coarse card, that is most of them. Where only the hookup's own readings are others, all
//! that they are taken at stays. The sensitivities of its budget stay as long as temperatures, pressures and densities
//! are near those that they were worked out at, and not at the end of a formula's range: an uncertainty has two digits
//! that count (JCGM 100, 7.2.6).

use super::basis::Basis;
use super::sensitivities::{Sensitivities, is_near_an_end, is_reading};
use super::{Place, Signals, Working};
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{HookupPlan, Plan, Reads, TankPlan};
use crate::engine::signal::SignalValue;
use crate::physics::budget::Budget;
use crate::physics::liquid::Density;
use std::cell::RefCell;

/// What is kept of a hookup's working.
#[derive(Clone, Debug, Default)]
pub struct Again {
    heard: Vec<Heard>,
    held: Option<Density>,
    product: usize,
    working: Option<Working>,
    budget: Budget,
    sensitivities: Kept,
    /// The conditions that these were worked out at, or the last working from nothing; in the order of `heard`.
    at: Vec<SignalValue>,
}

/// The sensitivities near the present conditions.
#[derive(Clone, Debug, Default)]
enum Kept {
    /// Conditions that were not near twice in a row may jump with each sample.
    #[default]
    NotYet,
    /// Of this hookup none can be kept, or none at these conditions.
    NotHere,
    Yes(Sensitivities),
}

/// What a transmitter was asked for and said.
#[derive(Clone, Copy, Debug)]
struct Heard {
    transmitter: TransmitterId,
    /// It moves nothing but the pressures of the hookup.
    is_reading: bool,
    value: SignalValue,
    last: Option<f64>,
}

/// What is other than before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Change {
    Nothing,
    Readings,
    Conditions,
    /// There is no before.
    All,
}

/// Conditions so near to each other give uncertainties within half a hundredth of each other: K, Pa, kg/m³.
const NEAR_K: f64 = 0.02;
const NEAR_PA: f64 = 100.0;
const NEAR_KG_M3: f64 = 0.1;

/// How near a transmitter's values are near; not at all where it can't be said.
fn near(reads: Reads) -> f64 {
    match reads {
        Reads::Temperature => NEAR_K,
        Reads::Pressure(_) => NEAR_PA,
        Reads::Density => NEAR_KG_M3,
        _ => 0.0,
    }
}

impl Again {
    /// As [`Working::with_budget`]; and whether it is the same as before.
    pub fn working(
        &mut self,
        plan: &Plan,
        tank: &TankPlan,
        hookup: &HookupPlan,
        signals: &impl Signals,
        held: Option<Density>,
    ) -> (&Working, bool) {
        let place = Place { plan, tank, hookup };
        let is_other = self.held != held || self.product != tank.product;
        let change = match &self.working {
            Some(_) if !is_other => self.listen(signals),
            _ => Change::All,
        };
        let is_near =
            change <= Change::Readings || (change == Change::Conditions && self.is_near(plan));
        if change > Change::Nothing && is_near && matches!(self.sensitivities, Kept::NotYet) {
            self.sensitivities = self.found(place, signals, held);
            self.at = self.conditions().map(|heard| heard.value).collect();
        }
        if change > Change::Nothing {
            let renewed = match (&self.sensitivities, &self.working) {
                (Kept::Yes(sensitivities), Some(working)) if is_near => {
                    let basis = (change == Change::Conditions)
                        .then(|| Basis::of(plan, tank, hookup, signals));
                    let before = basis.map_or(*working, |basis| Working::begun(&basis));
                    Some(before.renewed(place, signals, sensitivities, &mut self.budget))
                }
                _ => None,
            };
            self.working = Some(renewed.unwrap_or_else(|| self.made(place, signals, held)));
            if !is_near {
                self.sensitivities = Kept::NotYet;
                self.at = self.conditions().map(|heard| heard.value).collect();
            }
        }
        let working = self.working.as_ref();
        let working = working.expect("what there was not yet was a change of conditions");
        (working, change == Change::Nothing)
    }

    fn found(&self, place: Place<'_>, signals: &impl Signals, held: Option<Density>) -> Kept {
        let conditions = self.conditions().map(|heard| {
            let reads = place.plan.transmitters[heard.transmitter.index()].reads;
            (heard.transmitter, near(reads))
        });
        match is_near_an_end(place, signals, conditions) {
            true => Kept::NotHere,
            false => Sensitivities::of(place, signals, held).map_or(Kept::NotHere, Kept::Yes),
        }
    }

    /// What its uncertainty is made of, the largest first.
    pub fn budget(&self) -> Budget {
        let mut budget = self.budget.clone();
        budget.sort();
        budget
    }

    /// Asks again what was asked, and notes what the hookup's own transmitters say now.
    fn listen(&mut self, signals: &impl Signals) -> Change {
        let mut change = Change::Nothing;
        for heard in &mut self.heard {
            let (value, last) = (
                signals.value(heard.transmitter),
                signals.last(heard.transmitter),
            );
            if (value, last) != (heard.value, heard.last) {
                change = change.max(match heard.is_reading {
                    true => Change::Readings,
                    false => Change::Conditions,
                });
                (heard.value, heard.last) = (value, last);
            }
        }
        change
    }

    /// What was heard of temperatures, pressures and densities that something is taken at.
    fn conditions(&self) -> impl Iterator<Item = &Heard> {
        self.heard.iter().filter(|heard| !heard.is_reading)
    }

    /// Whether what is heard now is near what sensitivities were worked out at, and as good. Where one falls silent, others
    /// are asked.
    fn is_near(&self, plan: &Plan) -> bool {
        self.conditions().zip(&self.at).all(|(heard, at)| {
            let (now, reads) = (
                &heard.value,
                plan.transmitters[heard.transmitter.index()].reads,
            );
            let is_as_good = (now.bound, now.reasons) == (at.bound, at.reasons);
            let apart = now.value.zip(at.value).map(|(now, at)| (now - at).abs());
            is_as_good && apart.is_some_and(|apart| apart <= near(reads))
        })
    }

    /// Made from nothing, with a note of all that was asked.
    fn made(&mut self, place: Place<'_>, signals: &impl Signals, held: Option<Density>) -> Working {
        self.heard.clear();
        let listening = Listening {
            place,
            signals,
            heard: RefCell::new(std::mem::take(&mut self.heard)),
        };
        let Place { plan, tank, hookup } = place;
        let budget = &mut self.budget;
        let working = Working::with_budget(plan, tank, hookup, &listening, held, budget);
        self.heard = listening.heard.into_inner();
        (self.held, self.product) = (held, tank.product);
        working
    }
}

/// Signals, with a note of all that was asked.
struct Listening<'s, S> {
    place: Place<'s>,
    signals: &'s S,
    heard: RefCell<Vec<Heard>>,
}

impl<S: Signals> Listening<'_, S> {
    fn hear(&self, transmitter: TransmitterId) -> Heard {
        let mut heard = self.heard.borrow_mut();
        if let Some(known) = heard.iter().find(|one| one.transmitter == transmitter) {
            return *known;
        }
        let one = Heard {
            transmitter,
            is_reading: is_reading(self.place, transmitter),
            value: self.signals.value(transmitter),
            last: self.signals.last(transmitter),
        };
        heard.push(one);
        one
    }
}

impl<S: Signals> Signals for Listening<'_, S> {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        self.hear(transmitter).value
    }

    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        self.hear(transmitter).last
    }
}
