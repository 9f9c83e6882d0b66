//! A site and a script become a plant and its timeline.
//!
//! The plant is built as the site file says; the script says where the truth differs. Every name of the
//! script is checked against the site, all problems together.

mod connect;
mod deeds;
mod faults;
mod names;
mod pipes;
mod senses;
#[cfg(test)]
mod tests;

use super::script::{GasStart, Headspace, Named, Script, TankStart, Truth};
use super::timeline::Timeline;
use crate::engine::plan::{Ambient, Hookup, LegFill, Source, TankPlan};
use crate::physics::liquid::Conditions;
use crate::plant::{AirModel, GasModel, HeadspaceModel, LowerLiquid, PlantModel, TankModel};
use crate::quantity::{
    AbsolutePressure, Length, Reference, Temperature, cubic_metres_per_second, kelvin,
    kilograms_per_cubic_metre, metres,
};
use crate::site::Site;
use crate::site::problem::{Problem, Problems};
use std::cell::{Cell, RefCell};
use std::ops::Range;

/// Of thickened sludge and of foam, where a script says nothing: choices of this plant.
const SEDIMENT_KG_M3: f64 = 1200.0;
const FOAM_SHARE: f64 = 0.1;

/// A plant that can be started, and what will happen to it.
#[derive(Clone, Debug)]
pub struct Scenario {
    pub plant: PlantModel,
    pub timeline: Timeline,
    /// What the plant cannot show of this site, for people.
    pub notes: Vec<String>,
}

/// The plant of a site as a script has it.
pub fn plant(site: &Site, script: &Script) -> Result<Scenario, Problems> {
    let scene = Scene {
        site,
        script,
        air: air(&site.plan.ambient),
        problems: RefCell::default(),
        tanks: Default::default(),
    };
    scene.check_starts();
    scene.check_expectations();
    let tanks = site
        .plan
        .tanks
        .iter()
        .map(|tank| scene.tank(tank))
        .collect();
    let (transmitters, notes) = scene.transmitters();
    let contacts = scene.contacts();
    let pipes = scene.pipes();
    let mut due = scene.demands();
    due.extend(scene.due());
    if matches!(scene.tanks.each_ref().map(Cell::get), [0, 1..=u32::MAX]) {
        return Err(script.problems(vec![another_site(site, script)]));
    }
    match scene.problems.into_inner() {
        problems if problems.is_empty() => Ok(Scenario {
            plant: PlantModel {
                gravity: site.plan.gravity,
                air: scene.air,
                links: site.links.iter().map(|link| link.name.clone()).collect(),
                tanks,
                transmitters,
                contacts,
                pipes,
            },
            timeline: Timeline::new(due, script.last),
            notes,
        }),
        problems => Err(script.problems(problems)),
    }
}

/// None of the script's tanks is there: all else that is wrong follows from it.
fn another_site(site: &Site, script: &Script) -> Problem {
    let names: Vec<&str> = site.plan.tanks.iter().map(|tank| &*tank.name).collect();
    let message = format!(
        "this script is of another site: none of its tanks is one of {}, which has {}",
        site.plan.site,
        names.join(", ")
    );
    let own = script.site.display();
    Problem::of_file(message).cure(format!("its own site is {own}: rehearse it with that"))
}

/// Site and script side by side, and what is wrong between them.
struct Scene<'a> {
    site: &'a Site,
    script: &'a Script,
    air: AirModel,
    problems: RefCell<Vec<Problem>>,
    /// How many times a tank of the script is one of the site, or nearly, and is none.
    tanks: [Cell<u32>; 2],
}

fn air(ambient: &Ambient) -> AirModel {
    let fixed = |source: &Source, otherwise: f64| match source {
        Source::Fixed(value) => *value,
        Source::Ambient | Source::Tags(_) => otherwise,
    };
    AirModel {
        temperature: kelvin(fixed(
            &ambient.temperature,
            ambient.temperature_otherwise.value,
        )),
        pressure: AbsolutePressure::pascals(fixed(
            &ambient.pressure,
            ambient.pressure_otherwise.0.value,
        )),
        pressure_at: ambient.pressure_at,
    }
}

impl Scene<'_> {
    fn report(&self, problem: Problem) {
        self.problems.borrow_mut().push(problem);
    }

    /// Every start belongs to a tank of the site and fits into it.
    fn check_starts(&self) {
        for start in &self.script.tanks {
            let Some(place) = self.tank_place(&start.tank) else {
                continue;
            };
            let plan = &self.site.plan.tanks[place];
            if let Some(level) = &start.level {
                let (low, high) = (
                    plan.vessel.bottom() - plan.zero,
                    plan.vessel.top() - plan.zero,
                );
                if level.value < low || level.value > high {
                    let message = format!(
                        "the level is outside of the vessel of tank \"{}\"",
                        plan.name
                    );
                    let cure = format!("it goes from {:.3} m to {:.3} m", low.value, high.value);
                    self.report(Problem::new(level.place.clone(), message).cure(cure));
                }
            }
            if let Some(interface) = &start.interface {
                self.check_layers(plan, &interface.place, "interface");
            }
            if let Some(headspace) = &start.headspace {
                self.check_closed(plan, &headspace.place, "headspace");
            }
            if let Some(gas) = &start.gas {
                self.check_closed(plan, &gas.place, "gas");
            }
            if let Some(density) = &start.truth.leg_density
                && !connect::has_seal(plan)
            {
                let message = format!("tank \"{}\" has no leg with a fill of its own", plan.name);
                self.report(
                    Problem::new(density.place.clone(), message).cure("take `leg_density` out"),
                );
            }
        }
    }

    /// A boundary needs two liquids.
    fn check_layers(&self, plan: &TankPlan, place: &Range<usize>, key: &str) {
        if layers(plan).is_none() {
            let message = format!("tank \"{}\" holds one liquid only", plan.name);
            self.report(Problem::new(place.clone(), message).cure(format!(
                "take `{key}` out, or name a tank with a hookup that tells where its liquids meet"
            )));
        }
    }

    /// The gas of a vented tank has the pressure of the air.
    fn check_closed(&self, plan: &TankPlan, place: &Range<usize>, key: &str) {
        if plan.is_open() {
            let message = format!(
                "tank \"{}\" is open to the air: it has no pressure of its own",
                plan.name
            );
            self.report(
                Problem::new(place.clone(), message)
                    .cure(format!("take `{key}` out, or name a closed tank")),
            );
        }
    }

    fn tank_place(&self, named: &Named) -> Option<usize> {
        let names = || self.site.plan.tanks.iter().map(|tank| &*tank.name);
        let place = names().position(|name| name == named.name);
        let is_like = || crate::site::key::nearest(&named.name, names()).is_some();
        let count = &self.tanks[usize::from(place.is_none() && !is_like())];
        count.set(count.get() + 1);
        self.place("tank", named, place, names())
    }

    fn place<'n>(
        &self,
        what: &str,
        named: &Named,
        place: Option<usize>,
        names: impl Iterator<Item = &'n str>,
    ) -> Option<usize> {
        if place.is_none() {
            let names: Vec<&str> = names.collect();
            let cure = match crate::site::key::nearest(&named.name, names.iter().copied()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("the site has: {}", names.join(", ")),
            };
            let message = format!("the site has no {what} \"{}\"", named.name);
            self.report(Problem::new(named.place.clone(), message).cure(cure));
        }
        place
    }

    fn start(&self, plan: &TankPlan) -> Option<&TankStart> {
        self.script
            .tanks
            .iter()
            .find(|start| start.tank.name == *plan.name)
    }

    fn truth(&self, plan: &TankPlan) -> Truth {
        self.start(plan)
            .map(|start| start.truth.clone())
            .unwrap_or_default()
    }

    fn tank(&self, plan: &TankPlan) -> TankModel {
        let start = self.start(plan);
        let top = top_of(plan);
        let liquid = match layers(plan) {
            Some(layers) => self.layer(plan, layers.upper).0,
            None => &plan.liquid.liquid,
        };
        let temperature = start
            .and_then(|start| start.liquid_temperature)
            .unwrap_or_else(|| self.temperature(&plan.liquid.temperature));
        let flow = |flow: Option<_>| flow.unwrap_or(cubic_metres_per_second(0.0));
        let truth = self.truth(plan);
        let pressure = match start.and_then(|start| start.headspace.as_ref()) {
            Some(headspace) => self.absolute(headspace.value, top),
            None => self.gas_pressure(plan, top),
        };
        TankModel {
            name: plan.name.to_string(),
            vessel: plan.vessel.clone(),
            zero: plan.zero,
            level: start
                .and_then(|start| start.level.as_ref())
                .map_or_else(|| usual_level(plan), |level| level.value),
            overflow: plan.marks.overflow,
            inflow: flow(start.and_then(|start| start.inflow)),
            outflow: flow(start.and_then(|start| start.outflow)),
            liquid: liquid.clone(),
            liquid_temperature: temperature,
            density: truth.density,
            gas: plan.gas.gas.clone(),
            gas_temperature: self.temperature(&plan.gas.temperature),
            headspace: match (plan.is_open(), start.and_then(|start| start.gas.as_ref())) {
                (true, _) => HeadspaceModel::Vented {
                    at: vent(plan).unwrap_or(top),
                },
                (false, None) => HeadspaceModel::Closed { pressure },
                (false, Some(gas)) => HeadspaceModel::Gas(self.gas(gas.value, pressure, top)),
            },
            sediment_density: truth
                .sediment_density
                .unwrap_or(kilograms_per_cubic_metre(SEDIMENT_KG_M3)),
            foam_share: truth.foam_share.unwrap_or(FOAM_SHARE),
            tap_in_outlet: truth.tap_in_outlet,
            lower: self.lower(plan),
        }
    }

    /// The heavier liquid of a tank that has two.
    fn lower(&self, plan: &TankPlan) -> Option<LowerLiquid> {
        let Layers {
            lower,
            taps: (high, low),
            ..
        } = layers(plan)?;
        let (liquid, temperature) = self.layer(plan, lower);
        let at = Conditions {
            temperature,
            pressure: self.air.pressure,
        };
        let start = self.start(plan).and_then(|start| start.interface.as_ref());
        Some(LowerLiquid {
            density: liquid.density(at).value,
            boundary: start.map_or((high + low) * 0.5, |placed| placed.value),
        })
    }

    fn gas(&self, gas: GasStart, pressure: AbsolutePressure, top: Length) -> GasModel {
        let fitted = |(headspace, flow)| (self.absolute(headspace, top), flow);
        GasModel {
            pressure,
            blanket: gas.blanket.map(fitted),
            vent: gas.vent.map(fitted),
            leak: gas.leak,
        }
    }

    /// What the site file gives; that of the air, where it is measured or not given.
    fn temperature(&self, source: &Source) -> Temperature {
        match source {
            Source::Fixed(value) => kelvin(*value),
            Source::Ambient | Source::Tags(_) => self.air.temperature,
        }
    }

    fn gas_pressure(&self, plan: &TankPlan, top: Length) -> AbsolutePressure {
        match plan.gas.pressure {
            Source::Fixed(value) => AbsolutePressure::pascals(value),
            Source::Ambient | Source::Tags(_) => self.air_pressure(top),
        }
    }

    fn absolute(&self, headspace: Headspace, at: Length) -> AbsolutePressure {
        match headspace.reference {
            Reference::Absolute => AbsolutePressure::pascals(headspace.pascals),
            Reference::Gauge => {
                AbsolutePressure::pascals(headspace.pascals + self.air_pressure(at).0.value)
            }
        }
    }

    fn air_pressure(&self, at: Length) -> AbsolutePressure {
        self.air.pressure(at, self.site.plan.gravity)
    }
}

/// Two liquids in one tank, and the taps that their boundary is seen between.
pub(super) struct Layers<'p> {
    lower: &'p LegFill,
    upper: &'p LegFill,
    taps: (Length, Length),
}

fn layers(plan: &TankPlan) -> Option<Layers<'_>> {
    plan.hookups.iter().find_map(|hookup| match &hookup.hookup {
        Hookup::Interface {
            lower,
            upper,
            high,
            low,
            ..
        } => Some(Layers {
            lower,
            upper,
            taps: (high.tap, low.tap),
        }),
        _ => None,
    })
}

/// How high the vessel's top stands, plumb, above the site's zero.
fn top_of(plan: &TankPlan) -> Length {
    plan.vessel.elevation(plan.vessel.top() - plan.zero)
}

fn vent(plan: &TankPlan) -> Option<Length> {
    plan.hookups.iter().find_map(|hookup| hookup.hookup.vent())
}

/// The middle of the working range; of the vessel, where the site has none.
fn usual_level(plan: &TankPlan) -> Length {
    let (low, high) = (
        plan.vessel.bottom() - plan.zero,
        plan.vessel.top() - plan.zero,
    );
    let middle = |low: Length, high: Length| metres((low.value + high.value) / 2.0);
    middle(
        plan.marks.working_low.unwrap_or(low),
        plan.marks.working_high.unwrap_or(high),
    )
}
