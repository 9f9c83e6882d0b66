//! What a hookup can see, and whether its transmitter's set range can tell it.
//!
//! Worked out with [`Balance`] at the site's own conditions, where these are fixed.

use super::hookup::{Extent, Hooked, shown};
use super::transmitter::Transmitters;
use crate::engine::TransmitterId;
use crate::engine::plan::{
    Ambient, GasPlan, Hookup, Leg, LegFill, LiquidPlan, Marks, Measures, Source,
};
use crate::physics::balance::{self, Balance};
use crate::physics::liquid::{Conditions, Gas};
use crate::quantity::{
    AbsolutePressure, Acceleration, Dimension, Length, MassDensity, Temperature, kelvin,
};

/// The levels between which a hookup tells the level, from the site's zero.
#[derive(Clone, Copy, Debug)]
pub struct Sight {
    pub lowest: Length,
    pub highest: Length,
    /// Whether it is a tap that ends the view, or the vessel.
    pub lowest_is_tap: bool,
    pub highest_is_tap: bool,
}

impl Sight {
    /// Of a tank whose hookup is not known.
    pub fn of_vessel(extent: Extent) -> Self {
        Self {
            lowest: extent.bottom,
            highest: extent.top,
            lowest_is_tap: false,
            highest_is_tap: false,
        }
    }
}

/// What a hookup on a vessel can see.
pub fn sight(hookup: &Hookup, extent: Extent) -> Sight {
    let (low, high) = match hookup {
        Hookup::Vented { high, .. } => (high.tap, None),
        Hookup::Differential { high, low, .. } => (high.tap, Some(low.tap)),
        Hookup::TwoTransmitter { bottom, headspace } => (bottom.leg.tap, Some(headspace.leg.tap)),
    };
    let (low, high) = (
        extent.level(low),
        high.map(|elevation| extent.level(elevation)),
    );
    let upper = high.filter(|high| *high < extent.top);
    Sight {
        lowest: low.max(extent.bottom),
        highest: upper.unwrap_or(extent.top),
        lowest_is_tap: low > extent.bottom,
        highest_is_tap: upper.is_some(),
    }
}

/// Everything that the balance of a tank is made of, at conditions that stand in the file.
#[derive(Debug)]
pub struct Conditioned<'a> {
    pub gravity: Acceleration,
    pub ambient: &'a Ambient,
    pub liquid: &'a LiquidPlan,
    pub gas: &'a GasPlan,
}

impl Conditioned<'_> {
    fn temperature(&self, source: &Source) -> Temperature {
        match source {
            Source::Fixed(fixed_k) => kelvin(*fixed_k),
            Source::Ambient | Source::Tags(_) => self.ambient.temperature_otherwise,
        }
    }

    fn pressure(&self) -> AbsolutePressure {
        match self.gas.pressure {
            Source::Fixed(fixed_pa) => AbsolutePressure::pascals(fixed_pa),
            Source::Ambient | Source::Tags(_) => self.ambient.pressure_otherwise,
        }
    }

    fn at(&self, temperature: Temperature) -> Conditions {
        Conditions {
            temperature,
            pressure: self.pressure(),
        }
    }

    pub fn liquid_density(&self) -> MassDensity {
        self.liquid
            .liquid
            .density(self.at(self.temperature(&self.liquid.temperature)))
            .value
    }

    fn gas_density(&self) -> MassDensity {
        self.gas
            .gas
            .density(self.at(self.temperature(&self.gas.temperature)))
            .value
    }

    fn leg(&self, leg: &Leg, diaphragm: Length) -> balance::Leg {
        let air = self.ambient.temperature_otherwise;
        let fill = match &leg.fill {
            LegFill::OwnLiquid => self.liquid.liquid.density(self.at(air)).value,
            LegFill::Gas => self.gas.gas.density(self.at(air)).value,
            LegFill::Filled(fill) => {
                fill.liquid
                    .density(self.at(self.temperature(&fill.temperature)))
                    .value
            }
        };
        balance::Leg {
            tap: leg.tap,
            diaphragm,
            fill,
        }
    }

    /// The balance of a hookup; the site's zero is its datum.
    pub fn balance(&self, hookup: &Hookup, extent: Extent) -> Balance {
        let (high, low) = match hookup {
            Hookup::Vented { at, high, vent, .. } => {
                let air = self.ambient.temperature_otherwise;
                let outside = Conditions {
                    temperature: air,
                    pressure: self.ambient.pressure_otherwise,
                };
                let open = balance::Leg {
                    tap: vent.unwrap_or(extent.elevation(extent.top)),
                    diaphragm: *at,
                    fill: Gas::Air.density(outside).value,
                };
                (self.leg(high, *at), open)
            }
            Hookup::Differential { at, high, low, .. } => (self.leg(high, *at), self.leg(low, *at)),
            Hookup::TwoTransmitter { bottom, headspace } => (
                self.leg(&bottom.leg, bottom.at),
                self.leg(&headspace.leg, headspace.at),
            ),
        };
        Balance {
            gravity: self.gravity,
            liquid: self.liquid_density(),
            gas: self.gas_density(),
            high,
            low,
        }
    }
}

/// Share of what is needed that a span may fall short of it, for densities that change.
const SLACK: f64 = 0.02;

/// The set range must tell the levels that the site works to; without marks, some level at least.
pub fn check_span(
    hooked: &Hooked<'_>,
    conditioned: &Conditioned<'_>,
    extent: Extent,
    marks: &Marks,
    transmitters: &Transmitters<'_>,
) {
    let balance = conditioned.balance(&hooked.hookup, extent);
    let table = &hooked.table;
    if !balance.is_solvable() {
        let problem = table.problem_at(
            "kind",
            "the liquid is no denser than what is above it: no level can be told",
        );
        table.report(problem.cure("check the densities of the liquid and of the gas"));
        return;
    }
    let sight = sight(&hooked.hookup, extent);
    let id = hooked
        .hookup
        .transmitters()
        .next()
        .expect("every hookup has a transmitter");
    let Some((low_pa, high_pa)) = transmitters.of(id).plan.as_ref().and_then(|plan| plan.span)
    else {
        return;
    };
    let pressure = |level: Length| {
        let surface = extent.elevation(level);
        balance.differential_pressure(surface).0.value
    };
    let reading = |level: Length| {
        signal(
            &hooked.hookup,
            pressure(level),
            id,
            transmitters,
            conditioned.ambient,
        )
    };
    let (from, to) = (
        marks.working_low.unwrap_or(sight.lowest),
        marks.working_high.unwrap_or(sight.highest),
    );
    let (from, to) = (from.max(sight.lowest), to.min(sight.highest));
    if from >= to {
        return;
    }
    if let Hookup::TwoTransmitter { .. } = hooked.hookup {
        let (head_pa, width_pa) = (pressure(to) - pressure(from), high_pa - low_pa);
        if head_pa > width_pa * (1.0 + SLACK) {
            report(
                hooked,
                id,
                transmitters,
                &format!(
                    "its width is {}, but the liquid alone gives {}",
                    kpa(width_pa),
                    kpa(head_pa)
                ),
                "set the transmitter, and then `span`, to a range that takes liquid and gas together",
            );
        }
        return;
    }
    let (a, b) = (reading(from), reading(to));
    let (least, most) = (a.min(b), a.max(b));
    let slack = SLACK * (most - least);
    let marked = marks.working_low.is_some() && marks.working_high.is_some();
    let fits = match marked {
        true => low_pa <= least + slack && high_pa >= most - slack,
        false => low_pa < most && high_pa > least,
    };
    if !fits {
        let needed = format!(
            "levels from {} to {} give {} to {}",
            shown(from),
            shown(to),
            kpa(a),
            kpa(b)
        );
        report(
            hooked,
            id,
            transmitters,
            &needed,
            "check `span` and its sign, the elevations, what fills the legs, and `reversed`",
        );
    }
}

/// What the transmitter reads at a difference between the ports.
fn signal(
    hookup: &Hookup,
    difference_pa: f64,
    id: TransmitterId,
    transmitters: &Transmitters<'_>,
    ambient: &Ambient,
) -> f64 {
    let sealed = transmitters.of(id).plan.as_ref().map(|plan| plan.reads);
    match (hookup, sealed) {
        (Hookup::Differential { reversed: true, .. }, _) => -difference_pa,
        (
            Hookup::Vented { .. },
            Some(crate::engine::plan::Reads::Pressure(Measures::SealedGauge(sealed))),
        ) => difference_pa + (ambient.pressure_otherwise - sealed).0.value,
        _ => difference_pa,
    }
}

fn report(
    hooked: &Hooked<'_>,
    id: TransmitterId,
    transmitters: &Transmitters<'_>,
    needed: &str,
    cure: &str,
) {
    let transmitter = transmitters.of(id);
    let message = format!(
        "the span of {} does not fit the hookup: {needed}",
        transmitter.tag
    );
    let problem = transmitter
        .table
        .problem_at("span", message)
        .related(hooked.table.place(), "this hookup");
    transmitter.table.report(problem.cure(cure));
}

fn kpa(pressure_pa: f64) -> String {
    let unit = crate::quantity::find("kPa", Dimension::Pressure)
        .expect("the kilopascal stands in the unit table");
    crate::quantity::print(pressure_pa, unit, 2)
}
