//! What of the site a tank's checks need, and why a tank does not have it.

use super::flat;
use super::follows::OutsideTerms;
use super::idle::RestTerms;
use super::lines::Reference;
use super::seen::Seen;
use crate::engine::ids::TransmitterId;
use crate::engine::plan::{Gives, Hookup, Measures, Plan, Reads, Source, TankPlan};
use crate::physics::vessel::VesselAt;

/// What of the site a tank's checks look at.
#[derive(Clone, Copy, Debug)]
pub struct Place<'a> {
    pub plan: &'a Plan,
    pub tank: &'a TankPlan,
    pub vessel: VesselAt<'a>,
}

impl Place<'_> {
    /// The step of the level that the first hookup's pressure is stated to go in; 0 where nothing is stated.
    pub fn resolution_m(&self, seen: &Seen) -> f64 {
        let leading = self.tank.hookups[0].hookup.leading();
        let transmitter = &self.plan.transmitters[leading.index()];
        let is_pressure = matches!(transmitter.reads, Reads::Pressure(_));
        match transmitter
            .resolution
            .filter(|_| is_pressure && seen.pascals_per_metre > 0.0)
        {
            Some(resolution_pa) => resolution_pa / seen.pascals_per_metre,
            None => 0.0,
        }
    }
}

/// Which way a hookup feels the headspace when all is well.
pub fn reference(hookup: &Hookup) -> Reference {
    if hookup.low_leg().is_some() {
        Reference::Headspace
    } else {
        Reference::Air
    }
}

/// The hookups of the same level that share no transmitter with this one.
pub fn others(tank: &TankPlan, index: usize) -> impl Iterator<Item = usize> + '_ {
    let own = &tank.hookups[index].hookup;
    (0..tank.hookups.len()).filter(move |other| {
        let plan = &tank.hookups[*other];
        let shared = plan
            .hookup
            .transmitters()
            .any(|id| own.transmitters().any(|mine| mine == id));
        plan.gives == Gives::Level && *other != index && !shared
    })
}

pub fn headspace_terms(place: &Place<'_>, index: usize) -> Result<(), &'static str> {
    let hookup = &place.tank.hookups[index];
    if hookup.gives == Gives::Interface {
        return Err("it tells a boundary of two liquids");
    }
    if matches!(hookup.hookup, Hookup::Level { .. }) {
        return Err("its transmitter tells a level, not a pressure");
    }
    let Some(tag) = headspace_tag(place) else {
        return Err("no transmitter of its own reads the headspace");
    };
    if hookup.hookup.transmitters().any(|id| id == tag) {
        return Err("the headspace's transmitter is part of the hookup");
    }
    Ok(())
}

pub fn headspace_tag(place: &Place<'_>) -> Option<TransmitterId> {
    let tag = *place.tank.gas.pressure.tags().first()?;
    let reads = place.plan.transmitters[tag.index()].reads;
    let reads_pressure = matches!(
        reads,
        Reads::Pressure(Measures::Gauge | Measures::Absolute | Measures::SealedGauge(_))
    );
    reads_pressure.then_some(tag)
}

pub fn level_terms(place: &Place<'_>, seen: &Seen, index: usize) -> Result<(), &'static str> {
    let hookup = &place.tank.hookups[index];
    if hookup.gives == Gives::Interface {
        return Err("it tells a boundary of two liquids");
    }
    if others(place.tank, index).next().is_some() || seen.flows.net_m3_s().is_some() {
        return Ok(());
    }
    Err(flat::net_reason(&seen.flows))
}

/// The most that can flow, either way; none where that is not known.
pub fn largest_flow_m3_s(tank: &TankPlan) -> Option<f64> {
    if let Some(jump) = tank.jump {
        return Some(jump.fill_at_most.value.max(jump.draw_at_most.value));
    }
    let sum = |fills: bool| -> Option<f64> {
        let mut side = tank
            .streams
            .iter()
            .filter(|stream| stream.fills == fills)
            .peekable();
        side.peek()?;
        side.map(|stream| stream.at_most.map(|flow| flow.value))
            .sum()
    };
    Some(sum(true)?.max(sum(false)?))
}

/// What a movement at rest is judged by; none where mass or volume are not known.
pub fn rest_terms(place: &Place<'_>, seen: &Seen) -> Option<RestTerms> {
    let density_kg_m3 = seen.mass_kg? / seen.volume_m3.filter(|volume| *volume > 0.0)?;
    let idle = place.tank.checks.idle.as_ref();
    Some(RestTerms {
        density_kg_m3,
        // p = m·g/A
        kg_per_pa: seen.area_m2? / place.plan.gravity.value,
        effect_pa_k: effect_pa_k(place, 0),
        allowed_m3_s: idle
            .and_then(|idle| idle.moves_at_most)
            .map(|flow| flow.value),
    })
}

/// What a hookup's transmitter may show of a kelvin; none where that is not stated, or it reads no pressure.
fn effect_pa_k(place: &Place<'_>, index: usize) -> Option<f64> {
    let transmitter = &place.plan.transmitters[place.tank.hookups[index].hookup.leading().index()];
    let reads_pressure = matches!(transmitter.reads, Reads::Pressure(_));
    transmitter.temperature_effect.filter(|_| reads_pressure)
}

pub fn outside_terms(place: &Place<'_>, seen: &Seen, index: usize) -> OutsideTerms {
    let ambient = &place.plan.ambient;
    let is_read = |source: &Source| !source.tags().is_empty();
    OutsideTerms {
        ambient: is_read(&ambient.temperature),
        barometer: is_read(&ambient.pressure),
        rest: seen.at_rest.is_some(),
        open_to_air: matches!(
            place.tank.hookups[index].hookup,
            Hookup::Vented { .. } | Hookup::DipTube { low: None, .. }
        ),
        effect_pa_k: effect_pa_k(place, index),
    }
}
