//! The checks of one tank with what they remember.

use super::finding::{Ability, Finding};
use super::flat::FlatWatch;
use super::follows::{OutsideBlock, OutsideWatch};
use super::idle::{IdleWatch, RestBlock};
use super::kept::{hookup_name, hour_of_day};
use super::lines::{LineBlock, LineTerms, LinesWatch, OF_HOOKUP};
use super::monitor::NoiseMonitor;
use super::pairs::Pairs;
use super::period::Period;
use super::seen::{HookupSeen, Seen};
use super::terms::{
    Place, headspace_terms, largest_flow_m3_s, level_terms, others, outside_terms, reference,
    rest_terms,
};
use super::usual::Usual;
use crate::engine::memory::Remembered;
use crate::engine::plan::{Gives, Plan, TankPlan};
use crate::engine::signal::is_worked_on;
use crate::quantity::{cubic_metres, metres};
use std::sync::Arc;
use std::time::Duration;

/// The level that flows are added to is taken anew after this time: their errors add up.
const RECKONED: Duration = Duration::from_secs(3600);

/// For so long it may be unknown whether something flows. Common practice, no source.
const UNKNOWN_REST: Duration = Duration::from_secs(600);

#[derive(Clone, Debug, Default)]
pub struct Checks {
    flat: FlatWatch,
    period: Period,
    lines: Vec<LinesWatch>,
    /// One a hookup, where its lines are known to be clear.
    noises: Vec<NoiseMonitor>,
    reckoning: Option<Reckoning>,
    /// Of the liquid's surface, as last known.
    area_m2: Option<f64>,
    /// When it was last known whether something flows.
    rest_known: Duration,
    idle: IdleWatch,
    /// One a hookup.
    outside: Vec<OutsideWatch>,
    pairs: Pairs,
}

/// A level that known flow is added to.
#[derive(Clone, Copy, Debug)]
struct Reckoning {
    since: Duration,
    level_m: f64,
    flowed_m3: f64,
    /// Which one it is; windows don't reach over two.
    number: u8,
}

impl Checks {
    pub fn take(
        &mut self,
        place: &Place<'_>,
        seen: &Seen,
        hookups: impl Iterator<Item = HookupSeen> + Clone,
    ) {
        if is_worked_on(seen.reasons) {
            self.interrupt();
            self.pairs.renew(hookups);
            return;
        }
        self.flat.take(seen, place.resolution_m(seen));
        if self.period.is_full(seen.now.up) {
            self.look(place, seen);
            self.period.begin();
        }
        if place.tank.checks.plugging {
            self.listen(place, seen, hookups.clone());
        }
        let leading = place.tank.hookups[0].hookup.leading();
        let poll_every = place.plan.transmitters[leading.index()].poll_every;
        self.period.take(seen, hookups.clone(), poll_every);
        self.pairs.renew(hookups);
    }

    /// What comes next does not belong to what was.
    fn interrupt(&mut self) {
        self.flat = FlatWatch::default();
        self.period.begin();
        self.reckoning = None;
        self.lines.iter_mut().for_each(LinesWatch::interrupt);
        self.noises.iter_mut().for_each(NoiseMonitor::interrupt);
        self.idle.take(None);
        self.outside.iter_mut().for_each(|watch| watch.take(None));
    }

    /// Somebody saw the level just now; `sigma_m` its standard uncertainty, k = 1.
    pub fn saw_level(&mut self, tank: &TankPlan, up: Duration, level_m: f64, sigma_m: f64) {
        let hookups = tank.hookups.iter().zip(&self.period.hookups);
        for (lines, (plan, hookup)) in self.lines.iter_mut().zip(hookups) {
            if plan.gives == Gives::Level {
                let per_metre = hookup.pascals_per_metre;
                lines.saw(up, per_metre * level_m, per_metre * sigma_m);
            }
        }
    }

    fn listen(
        &mut self,
        place: &Place<'_>,
        seen: &Seen,
        hookups: impl Iterator<Item = HookupSeen>,
    ) {
        if self.noises.len() < place.tank.hookups.len() {
            let all = place.tank.hookups.len();
            self.noises.resize_with(all, NoiseMonitor::default);
        }
        // Where no stream says whether it runs, all is one mode.
        let mode = seen.flows.mode.unwrap_or(u32::MAX);
        for (noise, hookup) in self.noises.iter_mut().zip(hookups) {
            noise.take(seen.now, hookup.difference_pa, mode);
        }
    }

    /// What is to be kept over a restart, each by its name.
    pub fn to_keep(&mut self, plan: &Plan, tank: &TankPlan) -> Vec<(Arc<str>, Remembered)> {
        let mut kept = Vec::new();
        for (place, noise) in self.noises.iter_mut().enumerate() {
            if let Some(memory) = noise.to_keep() {
                kept.push((hookup_name(tank, place), Remembered::Noise(memory)));
            }
        }
        if let Some(memory) = self.idle.usual.to_keep() {
            kept.push((Arc::clone(&tank.name), Remembered::Rest(memory)));
        }
        let pairs = self.pairs.to_keep(plan, tank);
        kept.extend(pairs.map(|(name, memory)| (name, Remembered::Pair(memory))));
        kept
    }

    /// Takes up what was kept; false where nobody looks at it any more.
    pub fn restore(&mut self, plan: &Plan, tank: &TankPlan, of: &str, kept: &Remembered) -> bool {
        let places = 0..tank.hookups.len();
        match kept {
            Remembered::Noise(kept) => {
                let place = places
                    .clone()
                    .find(|place| *hookup_name(tank, *place) == *of);
                let Some(place) = place.filter(|_| tank.checks.plugging) else {
                    return false;
                };
                if self.noises.len() <= place {
                    self.noises.resize_with(place + 1, NoiseMonitor::default);
                }
                self.noises[place] = NoiseMonitor::restored(kept);
                true
            }
            Remembered::Rest(kept) if *tank.name == *of => {
                self.idle.usual = Usual::restored(kept);
                true
            }
            Remembered::Pair(kept) => self.pairs.restore(plan, tank, of, kept),
            _ => false,
        }
    }

    /// Another liquid: what levels have shown is void; what the lines sound like is not.
    pub fn begin_product(&mut self) {
        self.idle.usual.forget();
        self.pairs.forget();
        *self = Self {
            noises: std::mem::take(&mut self.noises),
            idle: IdleWatch::knowing(std::mem::take(&mut self.idle.usual)),
            pairs: std::mem::take(&mut self.pairs),
            ..Self::default()
        };
    }

    fn look(&mut self, place: &Place<'_>, seen: &Seen) {
        self.reckon(seen.now.up);
        self.area_m2 = seen.area_m2.or(self.area_m2);
        self.lines
            .resize(self.period.hookups.len(), LinesWatch::default());
        for index in 0..self.lines.len() {
            match self.line_block(place, seen, index) {
                Some(block) => self.lines[index].take(block),
                None => self.lines[index].interrupt(),
            }
        }
        self.look_at_rest(seen);
        self.pairs
            .compare(place.tank, seen.now.up, &self.period.hookups);
    }

    fn look_at_rest(&mut self, seen: &Seen) {
        let (up, tank) = (seen.now.up, &self.period.tank);
        if !tank.rest_unknown {
            self.rest_known = up;
        }
        // What moved in so short a time is no rhythm of the day.
        let may_have_moved = tank.moved || up.saturating_sub(self.rest_known) > UNKNOWN_REST;
        let (ambient_k, barometer_pa) = (
            tank.ambient_k.known_in_most(),
            tank.barometer_pa.known_in_most(),
        );
        // What may have flowed unseen is no loss.
        match tank.mass_kg.known_in_most() {
            _ if tank.moved || tank.rest_unknown => self.idle.take(None),
            None => {}
            Some(mass_kg) => self.idle.take(Some(RestBlock {
                up,
                hour: hour_of_day(seen.now),
                mass_kg,
                ambient_k,
            })),
        }
        let count = self.period.hookups.len();
        self.outside.resize_with(count, OutsideWatch::default);
        for (watch, hookup) in self.outside.iter_mut().zip(&self.period.hookups) {
            match hookup.head_pa.known_in_most() {
                _ if may_have_moved => watch.take(None),
                Some(head_pa) if !tank.rest_unknown => watch.take(Some(OutsideBlock {
                    up,
                    head_pa,
                    ambient_k,
                    barometer_pa,
                })),
                _ => {}
            }
        }
    }

    fn reckon(&mut self, up: Duration) {
        let (level, flowed) = (
            self.period.tank.level_m.value(),
            self.period.tank.flowed_m3.value(),
        );
        let Some(flowed_m3) = flowed else {
            self.reckoning = None;
            return;
        };
        let old = self.reckoning;
        if old.is_some_and(|old| up.saturating_sub(old.since) < RECKONED) {
            return;
        }
        if let Some(level_m) = level {
            let number = old.map_or(0, |old| old.number.wrapping_add(1)) % OF_HOOKUP;
            self.reckoning = Some(Reckoning {
                since: up,
                level_m,
                flowed_m3,
                number,
            });
        }
    }

    fn line_block(&self, place: &Place<'_>, seen: &Seen, index: usize) -> Option<LineBlock> {
        let hookup = &self.period.hookups[index];
        let independent = headspace_terms(place, index).is_ok();
        let headspace_pa = self.period.tank.headspace_pa.value();
        let (head_pa, source) = match self.head_pa(place, index) {
            Some((head_pa, source)) => (Some(head_pa), source),
            None => (None, u8::MAX),
        };
        Some(LineBlock {
            up: seen.now.up,
            difference_pa: hookup.difference_pa.value()?,
            headspace_pa: headspace_pa.filter(|_| independent),
            head_pa,
            source,
            fastest_pa_s: largest_flow_m3_s(place.tank)
                .zip(self.area_m2)
                .filter(|(_, area_m2)| *area_m2 > 0.0)
                .map(|(flow, area_m2)| flow / area_m2 * hookup.pascals_per_metre),
        })
    }

    /// ρ·g·h by anything but this hookup: another one, or known flow through the vessel.
    fn head_pa(&self, place: &Place<'_>, index: usize) -> Option<(f64, u8)> {
        let per_metre = self.period.hookups[index].pascals_per_metre;
        let others = others(place.tank, index);
        for other in others {
            if let Some(level_m) = self.period.hookups.get(other)?.level_m.value() {
                return Some((per_metre * level_m, OF_HOOKUP + other as u8 % 100));
            }
        }
        let flowed_m3 = self.period.tank.flowed_m3.value()?;
        let reckoning = self.reckoning?;
        let zero = place.tank.zero;
        // h(V(h₀) + ΔV)
        let from = place.vessel.volume(metres(reckoning.level_m) + zero);
        let volume = from + cubic_metres(flowed_m3 - reckoning.flowed_m3);
        let level = place.vessel.height(volume) - zero;
        Some((per_metre * level.value, reckoning.number))
    }

    pub fn findings(&self, place: &Place<'_>, seen: &Seen) -> Vec<Finding> {
        let hookups = &place.tank.hookups;
        let mut found: Vec<Finding> = self.flat.finding().into_iter().collect();
        for (index, plan) in hookups.iter().enumerate() {
            let of_it = |found| Finding::of_hookup(&plan.name, found);
            let lines = self.lines.get(index);
            found.extend(
                lines
                    .and_then(|lines| lines.finding(reference(&plan.hookup)))
                    .map(of_it),
            );
            let noise = self.noises.get(index);
            found.extend(noise.and_then(NoiseMonitor::finding).map(of_it));
            let terms = outside_terms(place, seen, index);
            let outside = self.outside.get(index).into_iter();
            let outside =
                outside.flat_map(|watch| watch.findings(terms.effect_pa_k, terms.open_to_air));
            found.extend(outside.map(of_it));
        }
        let idle = rest_terms(place, seen).and_then(|terms| self.idle.finding(&terms));
        found.extend(idle.map(|(fault, sure, text)| Finding::of_tank(fault, sure, text)));
        found.extend(self.pairs.findings(place.tank));
        found
    }

    pub fn abilities(&self, place: &Place<'_>, seen: &Seen) -> Vec<Ability> {
        let mut abilities = vec![self.flat.ability(seen, place.resolution_m(seen))];
        for (index, hookup) in place.tank.hookups.iter().enumerate() {
            let terms = LineTerms {
                headspace: headspace_terms(place, index),
                level: level_terms(place, seen, index),
            };
            let lines = self.lines.get(index).copied().unwrap_or_default();
            abilities.push(lines.ability(&hookup.name, &terms));
            let is_on = place.tank.checks.plugging;
            let leading = hookup.hookup.leading();
            let poll_every = place.plan.transmitters[leading.index()].poll_every;
            let unheard = NoiseMonitor::default();
            let noise = self.noises.get(index).unwrap_or(&unheard);
            abilities.push(noise.ability(&hookup.name, seen.now, is_on, poll_every));
            let terms = outside_terms(place, seen, index);
            let outside = self.outside.get(index);
            let outside = outside.map(|watch| watch.abilities(&hookup.name, &terms));
            abilities.extend(outside.into_iter().flatten());
        }
        let terms = rest_terms(place, seen);
        abilities.push(self.idle.ability(terms.as_ref(), seen.at_rest.is_some()));
        abilities.extend(self.pairs.abilities(place.tank));
        abilities
    }
}
