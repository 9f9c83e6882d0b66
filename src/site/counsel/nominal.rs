//! A hookup at the conditions that the file tells: what its transmitter reads at a level, and how well that is known.
//!
//! Transmitters whose value a condition hangs on stand in the middle of their set ranges. At fixed conditions a
//! level is linear in the leading transmitter's reading, so two readings tell every other.

use crate::engine::TransmitterId;
use crate::engine::plan::{Choose, Gives, Hookup, HookupPlan, Plan, TankPlan};
use crate::engine::tank::{Stated, Working};
use crate::quantity::{Length, Temperature, cubic_metres, kelvin, metres};

/// How far a reading is moved to see what it moves: this share of the range that it is set to.
const STEP: f64 = 0.01;
/// The same where there is no set range, in SI units: 100 Pa, or 0.1 m of level would be 0.1.
const STEP_OTHERWISE: f64 = 0.1;

#[derive(Clone, Debug)]
pub struct Nominal<'a> {
    plan: &'a Plan,
    tank: &'a TankPlan,
    pub hookup: &'a HookupPlan,
    stated: Stated,
    /// A reading in SI units, the level that it shows, and what one unit of it moves.
    reading: f64,
    level_m: f64,
    per_reading: f64,
    /// Of the liquid.
    temperature: Temperature,
    density_kg_m3: f64,
}

impl<'a> Nominal<'a> {
    /// None where the file alone tells no level: the liquid no denser than the gas, say.
    pub fn of(plan: &'a Plan, tank: &'a TankPlan) -> Option<Self> {
        let hookup = chosen(tank);
        let mut nominal = Self {
            plan,
            tank,
            hookup,
            stated: Stated::new(plan),
            reading: 0.0,
            level_m: 0.0,
            per_reading: 0.0,
            temperature: kelvin(0.0),
            density_kg_m3: 0.0,
        };
        let middle_of_three = match &hookup.hookup {
            // What it reads follows from the level; without it the stated density is taken.
            Hookup::ThreeTransmitter { middle, .. } => Some(middle.transmitter),
            _ => None,
        };
        for index in 0..plan.transmitters.len() {
            let id = TransmitterId(index as u32);
            if let Some((low, high)) = plan.transmitters[index].span
                && Some(id) != middle_of_three
            {
                nominal.state(id, f64::midpoint(low, high));
            }
        }
        let leading = hookup.hookup.leading();
        nominal.reading = nominal.usual(leading);
        nominal.level_m = nominal.shown(leading, nominal.reading)?;
        nominal.per_reading = nominal.sensitivity(leading)?;
        let working = nominal.working(nominal.level_m);
        nominal.temperature = working.surroundings.liquid_temperature;
        nominal.density_kg_m3 = working.liquid.value.value;
        (nominal.per_reading.abs() > 0.0).then_some(nominal)
    }

    /// What the leading transmitter reads at a level, in SI units.
    pub fn reading(&self, level_m: f64) -> f64 {
        self.reading + (level_m - self.level_m) / self.per_reading
    }

    /// Everything that is worked out at a level.
    pub fn working(&self, level_m: f64) -> Working {
        let mut at = self.clone();
        at.state(self.hookup.hookup.leading(), self.reading(level_m));
        Working::of(at.plan, at.tank, at.hookup, &at.stated, None)
    }

    /// What one SI unit of a transmitter moves the level by, m.
    pub fn sensitivity(&self, id: TransmitterId) -> Option<f64> {
        let (from, step) = (self.usual(id), self.step(id));
        let moved_m = self.shown(id, from + step)? - self.shown(id, from)?;
        Some(moved_m / step).filter(|per_reading| per_reading.is_finite())
    }

    /// The level with one transmitter at that reading.
    fn shown(&self, id: TransmitterId, reading: f64) -> Option<f64> {
        let mut at = self.clone();
        at.state(id, reading);
        let working = Working::of(at.plan, at.tank, at.hookup, &at.stated, None);
        working.corrected.map(|level: Length| level.value)
    }

    fn state(&mut self, id: TransmitterId, reading: f64) {
        // The zero is subtracted from what is stated.
        let shown = reading + self.plan.transmitters[id.index()].zero;
        self.stated.set(self.plan, id, shown);
    }

    /// The middle of what it is set to, else of what it can tell.
    fn usual(&self, id: TransmitterId) -> f64 {
        let transmitter = &self.plan.transmitters[id.index()];
        let range = transmitter.span.or(transmitter.limits);
        range.map_or(0.0, |(low, high)| f64::midpoint(low, high))
    }

    fn step(&self, id: TransmitterId) -> f64 {
        let span = self.plan.transmitters[id.index()].span;
        span.map_or(STEP_OTHERWISE, |(low, high)| STEP * (high - low))
    }

    /// The density of what is measured, kg/m³.
    pub fn density_kg_m3(&self) -> f64 {
        self.density_kg_m3
    }

    /// The expanded uncertainty (k = 2) of the volume at a level, m³; none where nothing is read there.
    pub fn volume_uncertainty_m3(&self, level_m: f64) -> Option<f64> {
        let working = self.working(level_m);
        working.difference?;
        Some(working.uncertainty.volume.value)
    }

    /// Whether it tells the tank's level and not a boundary of two liquids.
    pub fn gives_level(&self) -> bool {
        self.hookup.gives == Gives::Level
    }

    /// The vessel's volume up to a level, and its surface there, as warm as the liquid is taken; m³ and m².
    pub fn volume_and_area(&self, level_m: f64) -> (f64, f64) {
        let vessel = self.tank.vessel.at(Some(self.temperature));
        let above_bottom = metres(level_m) + self.tank.zero;
        let (volume, area) = (vessel.volume(above_bottom), vessel.area(above_bottom));
        (volume.value, area.value)
    }

    /// The level up to which a volume reaches, m.
    pub fn level_of_volume(&self, volume_m3: f64) -> f64 {
        let vessel = self.tank.vessel.at(Some(self.temperature));
        (vessel.height(cubic_metres(volume_m3)) - self.tank.zero).value
    }
}

/// The hookup that makes the level; of several the first that does.
fn chosen(tank: &TankPlan) -> &HookupPlan {
    match tank.choice.level {
        Choose::One(place) => &tank.hookups[place],
        _ => {
            let mut hookups = tank.hookups.iter();
            let level = hookups.find(|hookup| hookup.gives == Gives::Level);
            level.unwrap_or(&tank.hookups[0])
        }
    }
}
