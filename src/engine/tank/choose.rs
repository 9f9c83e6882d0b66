//! One level from several hookups: the choice, its stand-in, and whether an interface's taps are flooded.
//!
//! A hookup counts while its reading is not bad and tells a level. With one hookup all this is that one.

use super::Working;
use crate::engine::plan::{Choose, Gives, TankPlan};
use crate::engine::quality::{Quality, Reason, Reasons};
use crate::quantity::{Length, metres};

/// What the tank's hookups together say.
#[derive(Clone, Copy, Debug)]
pub struct Chosen {
    pub pick: Pick,
    /// The boundary of two liquids, where a hookup of its own tells it beside the level.
    pub interface: Option<Length>,
    /// How far the levels of the hookups are apart, where two or more tell one.
    pub spread: Option<Length>,
}

/// Chooses among the workings of a tank's hookups, in the order of its plan; at least one.
pub fn choose(tank: &TankPlan, workings: &mut [Working]) -> Chosen {
    let pick = Levels { tank, workings }.pick();
    let is_interface = |place: &usize| tank.hookups[*place].gives == Gives::Interface;
    let interface = (0..workings.len()).find(is_interface);
    if interface.is_some() {
        let total = pick.map(|pick| pick.of(workings));
        verify_flooding(tank, workings, total.as_ref());
    }
    let interface = interface
        .filter(|_| pick.is_some())
        .filter(|place| workings[*place].reasons.quality() < Quality::Bad);
    Chosen {
        pick: pick.unwrap_or_default(),
        interface: interface.and_then(|place| workings[place].level),
        spread: Levels { tank, workings }.spread(),
    }
}

/// What is chosen, by its place, and what the choice makes of it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pick {
    /// The hookup that it comes from, and the one whose uncertainty it has.
    pub hookup: usize,
    pub uncertainty_of: usize,
    /// Added to its own.
    reasons: Reasons,
    /// Instead of its own level.
    mean: Option<Length>,
}

impl Pick {
    fn at(hookup: usize) -> Self {
        Self {
            hookup,
            uncertainty_of: hookup,
            ..Self::default()
        }
    }

    /// The working that the tank's reading is made from.
    pub fn of(&self, workings: &[Working]) -> Working {
        let mut working = workings[self.hookup];
        working.uncertainty = workings[self.uncertainty_of].uncertainty;
        working.reasons.merge(self.reasons);
        working.level = self.mean.or(working.level);
        working
    }
}

/// The boundary that an interface hookup tells holds only while its upper tap is under the liquid, which
/// the level of another hookup tells.
fn verify_flooding(tank: &TankPlan, workings: &mut [Working], total: Option<&Working>) {
    for (hookup, working) in tank.hookups.iter().zip(workings) {
        if hookup.gives != Gives::Interface {
            continue;
        }
        let upper_tap = working.balance.low.tap;
        let total = total.filter(|total| total.reasons.quality() < Quality::Bad);
        let off = total.map_or(metres(0.0), Working::level_uncertainty);
        let least = total.and_then(|total| {
            total
                .level
                .map(|level| level - off)
                .or(total.level_at_least)
        });
        let most =
            total.and_then(|total| total.level.map(|level| level + off).or(total.level_at_most));
        if most.is_some_and(|most| most < upper_tap) {
            working.reasons.add(Reason::UpperTapNotFlooded);
        } else if least.is_none_or(|least| least < upper_tap) {
            working.reasons.add(Reason::FloodingNotVerified);
        }
    }
}

/// The hookups that tell the level.
struct Levels<'a> {
    tank: &'a TankPlan,
    workings: &'a [Working],
}

impl Levels<'_> {
    fn all(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.workings.len()).filter(|place| self.tank.hookups[*place].gives == Gives::Level)
    }

    /// Those that tell a level now.
    fn telling(&self) -> impl Iterator<Item = (usize, Length)> + '_ {
        self.all()
            .filter(|place| self.is_usable(*place))
            .filter_map(|place| Some((place, self.workings[place].level?)))
    }

    fn is_usable(&self, place: usize) -> bool {
        self.workings[place].reasons.quality() < Quality::Bad
    }

    fn spread(&self) -> Option<Length> {
        let levels = || self.telling().map(|(_, level)| level);
        let (highest, lowest) = (levels().reduce(Length::max)?, levels().reduce(Length::min)?);
        (levels().count() > 1).then(|| highest - lowest)
    }

    /// None where no hookup tells a level at all.
    fn pick(&self) -> Option<Pick> {
        let first = self.all().next()?;
        let choice = &self.tank.choice;
        let place = match choice.level {
            Choose::One(place) => Some(place).filter(|place| self.is_usable(*place)),
            Choose::Higher => self
                .telling()
                .reduce(|a, b| if b.1 > a.1 { b } else { a })
                .map(|(place, _)| place),
            Choose::Lower => self
                .telling()
                .reduce(|a, b| if b.1 < a.1 { b } else { a })
                .map(|(place, _)| place),
            Choose::Middle => self.middle(),
            Choose::Mean => return Some(self.mean().unwrap_or_else(|| self.stand_in(first))),
        };
        let Some(place) = place else {
            return Some(self.stand_in(first));
        };
        let mut pick = Pick::at(place);
        if !matches!(choice.level, Choose::One(_)) {
            self.note_missing(&mut pick);
        }
        Some(pick)
    }

    fn note_missing(&self, pick: &mut Pick) {
        if self.telling().count() < self.all().count() {
            pick.reasons.add(Reason::HookupMissing);
        }
    }

    /// What is taken where the choice gives nothing: `instead`, or the chosen one with what is wrong of it.
    fn stand_in(&self, first: usize) -> Pick {
        let instead = self.tank.choice.instead;
        if let Some(instead) = instead.filter(|place| self.is_usable(*place)) {
            return Pick {
                reasons: Reason::InsteadTaken.into(),
                ..Pick::at(instead)
            };
        }
        Pick::at(match self.tank.choice.level {
            Choose::One(place) => place,
            _ => self
                .all()
                .find(|place| self.is_usable(*place))
                .unwrap_or(first),
        })
    }

    /// The one that as many are below as above; of an even count, the lower of the two in the middle.
    fn middle(&self) -> Option<usize> {
        let count = self.telling().count();
        let rank = |place: usize, level: Length| {
            self.telling()
                .filter(|(other, at)| *at < level || (*at == level && *other < place))
                .count()
        };
        self.telling()
            .find(|(place, level)| rank(*place, *level) == (count - 1) / 2)
            .map(|(place, _)| place)
    }

    /// Their mean. Its uncertainty is the largest of theirs: their errors may be common ones.
    fn mean(&self) -> Option<Pick> {
        let count = self.telling().count();
        let sum: Length = self.telling().map(|(_, level)| level).sum();
        let (first, _) = self.telling().next()?;
        let mut pick = Pick::at(first);
        for (place, _) in self.telling() {
            let of = |place: usize| self.workings[place].level_uncertainty();
            if of(place) > of(pick.uncertainty_of) {
                pick.uncertainty_of = place;
            }
            pick.reasons.merge(self.workings[place].reasons);
        }
        pick.mean = Some(sum / count as f64);
        self.note_missing(&mut pick);
        Some(pick)
    }
}
