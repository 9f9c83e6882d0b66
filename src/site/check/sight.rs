//! What a hookup can see, and whether its transmitter's set range can tell it.
//!
//! Worked out with [`Balance`] at the site's own conditions, where these are fixed.

use super::hookup::{Extent, Hooked, shown};
use super::transmitter::Transmitters;
use crate::engine::TransmitterId;
use crate::engine::plan::{
    Ambient, GasPlan, Gives, Hookup, LegFill, LiquidPlan, LiquidPressure, Marks, Measures, Reads,
    Source,
};
use crate::engine::tank::{Arrangement, End, Fill, Layers};
use crate::physics::balance::{Balance, Leg};
use crate::physics::liquid::{Conditions, Gas};
use crate::quantity::{
    AbsolutePressure, Acceleration, Dimension, Length, MassDensity, Temperature, kelvin,
    kilograms_per_cubic_metre, metres,
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

    /// What two hookups see between them: a limit that either of them can decide is decided.
    pub fn widest(self, other: Self) -> Self {
        let low = if other.lowest < self.lowest {
            other
        } else {
            self
        };
        let high = if other.highest > self.highest {
            other
        } else {
            self
        };
        Self {
            lowest: low.lowest,
            lowest_is_tap: low.lowest_is_tap,
            highest: high.highest,
            highest_is_tap: high.highest_is_tap,
        }
    }
}

/// What a hookup on a vessel can see.
pub fn sight(hookup: &Hookup, extent: Extent) -> Sight {
    let level = |elevation: Length| extent.level(elevation);
    let low = hookup
        .lower_tap()
        .map(level)
        .filter(|low| *low > extent.bottom);
    let upper = hookup
        .upper_tap()
        .map(level)
        .filter(|upper| *upper < extent.top);
    Sight {
        lowest: low.unwrap_or(extent.bottom),
        highest: upper.unwrap_or(extent.top),
        lowest_is_tap: low.is_some(),
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
    /// Its name, where the tank has a choice.
    pub product: Option<&'a str>,
}

impl Conditioned<'_> {
    /// Before what is said of one product of several.
    fn with_product(&self) -> String {
        let named = |product| format!("with \"{product}\" ");
        self.product.map(named).unwrap_or_default()
    }

    fn temperature(&self, source: &Source) -> Temperature {
        match source {
            Source::Fixed(fixed_k) => kelvin(*fixed_k),
            Source::Ambient | Source::Tags(_) => self.ambient.temperature_otherwise,
        }
    }

    /// The pressure in the vessel.
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

    /// What a liquid is taken at: its own temperature and pressure, or those of the vessel.
    fn conditions(&self, liquid: &LiquidPlan) -> Conditions {
        let vessel = self.at(self.temperature(&liquid.temperature));
        let pressure = match liquid.pressure {
            Some(LiquidPressure::Of(Source::Fixed(fixed_pa))) => {
                AbsolutePressure::pascals(fixed_pa)
            }
            Some(LiquidPressure::AboveAir(gauge_pa)) => {
                AbsolutePressure::pascals(self.ambient.pressure_otherwise.0.value + gauge_pa)
            }
            _ => vessel.pressure,
        };
        Conditions { pressure, ..vessel }
    }

    /// Whether the file alone tells the density well enough: not where it is measured, or follows a pressure
    /// that is.
    fn is_settled(&self) -> bool {
        let pressed = match &self.liquid.pressure {
            Some(LiquidPressure::Of(source)) => matches!(source, Source::Tags(_)),
            Some(LiquidPressure::AboveAir(_)) => false,
            None => self.liquid.liquid.needs_pressure() && self.has_measured_gas(),
        };
        let steam = self.gas.gas == Gas::Steam && self.has_measured_gas();
        self.liquid.measured.is_none() && !pressed && !steam
    }

    fn has_measured_gas(&self) -> bool {
        matches!(self.gas.pressure, Source::Tags(_))
    }

    pub fn liquid_density(&self) -> MassDensity {
        self.liquid
            .liquid
            .density(self.conditions(self.liquid))
            .value
    }

    fn gas_density(&self) -> MassDensity {
        self.gas
            .gas
            .density(self.at(self.temperature(&self.gas.temperature)))
            .value
    }

    fn filled(&self, fill: &LegFill) -> MassDensity {
        let air = self.ambient.temperature_otherwise;
        match fill {
            LegFill::OwnLiquid => self.liquid.liquid.density_in_leg(self.at(air)).value,
            LegFill::Gas => {
                let vessel = self
                    .gas
                    .gas
                    .density(self.at(self.temperature(&self.gas.temperature)));
                self.gas.gas.density_in_leg(vessel, self.at(air)).value
            }
            LegFill::Filled(fill) => fill.liquid.density(self.conditions(fill)).value,
        }
    }

    fn leg(&self, end: &End<'_>) -> Leg {
        let outside = Conditions {
            temperature: self.ambient.temperature_otherwise,
            pressure: self.ambient.pressure_otherwise,
        };
        Leg {
            tap: end.tap,
            diaphragm: end.at,
            fill: match end.fill {
                Fill::Leg(fill) => self.filled(fill),
                Fill::OpenAir => Gas::Air.density(outside).value,
                Fill::Purge(gas) => gas.density(outside).value,
            },
        }
    }

    /// The balance of a hookup; the site's zero is its datum.
    pub fn balance(&self, hookup: &Hookup, extent: Extent) -> Balance {
        let range = (
            extent.elevation(extent.bottom),
            extent.elevation(extent.top),
        );
        let arrangement = Arrangement::of(hookup, range, self.ambient.pressure_at);
        let (liquid, gas) = match arrangement.layers {
            Layers::LiquidAndGas => (self.liquid_density(), self.gas_density()),
            Layers::LiquidAlone => (self.liquid_density(), kilograms_per_cubic_metre(0.0)),
            Layers::Liquids { lower, upper } => (self.filled(lower), self.filled(upper)),
        };
        Balance {
            gravity: self.gravity,
            liquid,
            gas,
            high: self.leg(&arrangement.high),
            low: self.leg(&arrangement.low),
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
    if !conditioned.is_settled() {
        return;
    }
    let balance = conditioned.balance(&hooked.plan.hookup, extent);
    let table = &hooked.table;
    if !balance.is_solvable() {
        let (message, cure) = match hooked.plan.gives {
            Gives::Level => (
                "the liquid is no denser than what is above it: no level can be told",
                "check the densities of the liquid and of the gas",
            ),
            Gives::Interface => (
                "the lower liquid is no denser than the upper one: no boundary can be told",
                "check the densities of both, and which is `lower`",
            ),
        };
        let message = format!("{}{message}", conditioned.with_product());
        table.report(table.problem_at("kind", message).cure(cure));
        return;
    }
    let hookup = &hooked.plan.hookup;
    let sight = sight(hookup, extent);
    let id = hookup.leading();
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
            hookup,
            &balance,
            level,
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
    if let Hookup::TwoTransmitter { .. } | Hookup::ThreeTransmitter { .. } = hookup {
        let (head_pa, width_pa) = (pressure(to) - pressure(from), high_pa - low_pa);
        if head_pa > width_pa * (1.0 + SLACK) {
            report(
                hooked,
                id,
                transmitters,
                &format!(
                    "{}its width is {}, but the liquid alone gives {}",
                    conditioned.with_product(),
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
            "{}levels from {} to {} give {} to {}",
            conditioned.with_product(),
            shown(from),
            shown(to),
            as_read(a, id, transmitters),
            as_read(b, id, transmitters)
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

/// What the transmitter reads at a level.
fn signal(
    hookup: &Hookup,
    balance: &Balance,
    level: Length,
    id: TransmitterId,
    transmitters: &Transmitters<'_>,
    ambient: &Ambient,
) -> f64 {
    let difference_pa = balance.differential_pressure(level).0.value;
    let air = ambient.pressure_otherwise;
    let from_zero_pa = match transmitters.of(id).plan.as_ref().map(|plan| plan.reads) {
        Some(Reads::Pressure(Measures::SealedGauge(sealed))) => (air - sealed).0.value,
        _ => 0.0,
    };
    match hookup {
        Hookup::Differential { reversed: true, .. } => -difference_pa,
        Hookup::Vented { .. } => difference_pa + from_zero_pa,
        Hookup::Barometer { .. } => difference_pa + air.0.value,
        Hookup::DipTube { friction, low, .. } => {
            let zero_pa = if low.is_none() { from_zero_pa } else { 0.0 };
            difference_pa + friction.pressure.0.value + zero_pa
        }
        Hookup::Level {
            zero,
            full,
            ranged_for,
            ..
        } => {
            let zero = zero.unwrap_or(balance.high.tap);
            let rho = ranged_for.unwrap_or(balance.liquid);
            // What it was ranged for gives this difference at the level that it shows.
            let above_m = difference_pa / (balance.gravity * rho).value;
            match full.filter(|_| transmitters.of(id).is_in_percent()) {
                Some(full) => above_m / (full - zero).value,
                None => zero.value + above_m,
            }
        }
        _ => difference_pa,
    }
}

/// A reading as people are told of it.
fn as_read(value: f64, id: TransmitterId, transmitters: &Transmitters<'_>) -> String {
    let transmitter = transmitters.of(id);
    match transmitter.reads {
        Some(Dimension::Length) if transmitter.is_in_percent() => {
            format!("{:.1} %", value * 100.0)
        }
        Some(Dimension::Length) => shown(metres(value)),
        _ => kpa(value),
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
