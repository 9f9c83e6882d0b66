//! The budget against chance: readings worked out many times, each from a plan and signals that are drawn
//! anew within what the site file says of them, spread as the budget says (JCGM 101:2008, propagation of
//! distributions by Monte Carlo).
//!
//! One driver for all hookups. It knows what may be wrong of a plan (gravity, elevations, densities, the
//! vessel's table) and of a signal (accuracy, temperature effect, stability, resolution), and nothing of any
//! balance: what a wrong input does is worked out by the engine from the drawn plan.

use crate::chances::{SCENES, Scene};
use rand_distr::{Distribution, Normal, Uniform};
use rand_pcg::Pcg64;
use standpipe::engine::TransmitterId;
use standpipe::engine::plan::{Hookup, Leg, LegFill, LiquidPlan, Plan, TransmitterPlan};
use standpipe::engine::tank::{Stated, Working, contents};
use standpipe::physics::budget::{Budget, COVERAGE};
use standpipe::physics::liquid::{Gas, Liquid};
use standpipe::physics::vessel::{Shape, StrappingTable, Vessel};
use standpipe::quantity::{Length, cubic_metres, kilograms_per_mole, metres};
use standpipe::site;
use std::path::Path;
use std::time::Duration;

const DRAWS: usize = 20_000;
/// How far the two may be apart: 3 %; the draws alone leave 0.5 %.
const APART: f64 = 0.03;
/// Share of an ideal gas of a given molar mass that its density is uncertain by, k = 2.
const OF_MOLAR_MASS: f64 = 0.08;
/// The same of air.
const OF_AIR: f64 = 0.02;
/// The temperature of calibration, K.
const CALIBRATED_AT_K: f64 = 293.15;
const YEAR: Duration = Duration::from_secs(365 * 86_400);

#[test]
fn budgets_are_what_chance_makes() {
    let mut wrong = Vec::new();
    for scene in SCENES {
        let spread = Spread::of(scene);
        let [level, volume, mass] = spread.apart();
        for (what, (drawn, budgeted)) in [("level", level), ("volume", volume), ("mass", mass)] {
            // Written so that a value that is not a number counts as wrong.
            let agree = (drawn / budgeted - 1.0).abs() < APART;
            if !agree {
                let lines = spread.budget.lines();
                wrong.push(format!(
                    "{}: {what} drawn {drawn}, budgeted {budgeted}: {lines:#?}",
                    scene.name
                ));
            }
        }
        let names: Vec<&str> = (spread.budget.lines().iter())
            .map(|line| line.input)
            .collect();
        for due in scene.lines.iter().filter(|due| !names.contains(due)) {
            wrong.push(format!("{}: no {due} in {names:?}", scene.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Level, volume and mass.
type Three = [f64; 3];

struct Spread {
    budget: Budget,
    budgeted: Three,
    drawn: Vec<Three>,
}

impl Spread {
    fn of(scene: &Scene) -> Self {
        let site = site::parse(&scene.site(), Path::new("chance.toml"));
        let mut plan = site
            .unwrap_or_else(|problems| panic!("{}: {problems}", scene.name))
            .plan;
        for transmitter in &mut plan.transmitters {
            transmitter.since_calibration = Some(YEAR);
        }
        let shown: Vec<f64> = plan
            .transmitters
            .iter()
            .map(|t| scene.shown(&t.tag))
            .collect();
        let mut budget = Budget::default();
        let (working, _) = worked_out(&plan, &shown, scene.name, &mut budget);
        let level = working.level.expect("a level");
        let budgeted = contents(&plan.tanks[0], &working, level);
        let mut chance = Chance {
            dice: Pcg64::new(7, 11),
            fills: Vec::new(),
        };
        let drawn = (0..DRAWS)
            .map(|_| {
                let (plan, shown) = chance.draw(scene, &plan, &shown);
                worked_out(&plan, &shown, scene.name, &mut Budget::default()).1
            })
            .collect();
        Self {
            budgeted: [
                working.level_uncertainty().value,
                budgeted.volume_uncertainty.value,
                budgeted.mass_uncertainty.value,
            ],
            budget,
            drawn,
        }
    }

    /// Expanded uncertainty as drawn and as budgeted, of level, volume and mass.
    fn apart(&self) -> [(f64, f64); 3] {
        std::array::from_fn(|which| {
            let values = || self.drawn.iter().map(|three| three[which]);
            let mean = values().sum::<f64>() / DRAWS as f64;
            let squares = values().map(|value| (value - mean).powi(2)).sum::<f64>();
            let drawn = COVERAGE * (squares / DRAWS as f64).sqrt();
            (drawn, self.budgeted[which])
        })
    }
}

fn worked_out(plan: &Plan, shown: &[f64], name: &str, budget: &mut Budget) -> (Working, Three) {
    let tank = &plan.tanks[0];
    let mut stated = Stated::new(plan);
    for (place, value) in shown.iter().enumerate() {
        stated.set(plan, TransmitterId(place as u32), *value);
    }
    let working = Working::with_budget(plan, tank, &tank.hookups[0], &stated, None, budget);
    let level = working
        .level
        .unwrap_or_else(|| panic!("{name}: no level: {:?}", working.reasons));
    let inside = contents(tank, &working, level);
    (
        working,
        [level.value, inside.volume.value, inside.mass.value],
    )
}

/// What may be wrong, drawn.
struct Chance {
    dice: Pcg64,
    /// The liquids of one draw, and how many standard uncertainties each is off.
    fills: Vec<(LiquidPlan, f64)>,
}

impl Chance {
    fn draw(&mut self, scene: &Scene, plan: &Plan, shown: &[f64]) -> (Plan, Vec<f64>) {
        let mut drawn = plan.clone();
        self.fills.clear();
        drawn.gravity.value += self.normal(plan.gravity_uncertainty.value);
        let each = self.normal(1.0);
        if scene.air_is_drawn {
            // All gauges: the air's pressure drops out, but for what it makes of the air's density.
            if let standpipe::engine::plan::Source::Fixed(pa) = &mut drawn.ambient.pressure {
                *pa *= 1.0 + OF_AIR * each;
            }
        }
        let elevation = plan.tanks[0].hookups[0].elevation_uncertainty;
        drawn.ambient.pressure_at += self.length(elevation);
        let tank = &mut drawn.tanks[0];
        self.liquid(&mut tank.liquid);
        self.gas(&mut tank.gas.gas);
        self.hookup(&mut tank.hookups[0].hookup, elevation);
        if !scene.table.is_empty() {
            tank.vessel = table(scene.table, self.normal(tank.vessel.uncertainty().value));
        }
        let ambient_k = drawn.ambient.temperature_otherwise.value;
        let shown = plan.transmitters.iter().zip(shown);
        let shown = shown.map(|(transmitter, shown)| shown + self.signal(transmitter, ambient_k));
        let shown = shown.collect();
        (drawn, shown)
    }

    fn normal(&mut self, expanded: f64) -> f64 {
        let normal = Normal::new(0.0, expanded / COVERAGE).expect("a spread");
        normal.sample(&mut self.dice)
    }

    fn within(&mut self, half_width: f64) -> f64 {
        let uniform = Uniform::new_inclusive(-half_width, half_width).expect("a range");
        uniform.sample(&mut self.dice)
    }

    fn length(&mut self, expanded: Length) -> Length {
        metres(self.normal(expanded.value))
    }

    fn signal(&mut self, transmitter: &TransmitterPlan, ambient_k: f64) -> f64 {
        let away_k = (ambient_k - CALIBRATED_AT_K).abs();
        [
            transmitter.accuracy,
            transmitter.temperature_effect.map(|per_k| per_k * away_k),
            transmitter
                .stability
                .map(|per_s| per_s * YEAR.as_secs_f64()),
            transmitter.resolution.map(|step| step / 2.0),
        ]
        .into_iter()
        .flatten()
        .map(|half_width| self.within(half_width))
        .sum()
    }

    /// The same liquid, written in two places, is wrong by the same.
    fn liquid(&mut self, plan: &mut LiquidPlan) {
        let known = self.fills.iter().find(|(liquid, _)| liquid == plan);
        let off = match known.map(|(_, off)| *off) {
            Some(off) => off,
            None => {
                let off = self.normal(COVERAGE);
                self.fills.push((plan.clone(), off));
                off
            }
        };
        match &mut plan.liquid {
            Liquid::Constant {
                density,
                uncertainty,
            }
            | Liquid::Expanding {
                density,
                uncertainty,
                ..
            } => {
                density.value += off * uncertainty.map_or(0.0, |expanded| expanded.value / COVERAGE)
            }
            Liquid::Measured { otherwise: None } => {}
            other => panic!("nothing is known here of how {other:?} is drawn"),
        }
    }

    fn gas(&mut self, gas: &mut Gas) {
        match gas {
            Gas::MolarMass(mass) => {
                *mass = kilograms_per_mole(mass.value * (1.0 + self.normal(OF_MOLAR_MASS)));
            }
            // Given outright, of its uncertainty nothing is known; air is drawn in a scene of its own.
            Gas::Density(_) | Gas::Air => {}
            other => panic!("nothing is known here of how {other:?} is drawn"),
        }
    }

    fn leg(&mut self, leg: &mut Leg, off: Length) {
        leg.tap += self.length(off);
        self.fill(&mut leg.fill);
    }

    fn fill(&mut self, fill: &mut LegFill) {
        if let LegFill::Filled(liquid) = fill {
            self.liquid(liquid);
        }
    }

    fn hookup(&mut self, hookup: &mut Hookup, off: Length) {
        match hookup {
            Hookup::Vented { at, high, vent, .. } => {
                *at += self.length(off);
                self.leg(high, off);
                if let Some(vent) = vent {
                    *vent += self.length(off);
                }
            }
            Hookup::Barometer { at, vent, .. } => {
                *at += self.length(off);
                if let Some(vent) = vent {
                    *vent += self.length(off);
                }
            }
            Hookup::Differential { at, high, low, .. } => {
                *at += self.length(off);
                self.leg(high, off);
                self.leg(low, off);
            }
            Hookup::TwoTransmitter { bottom, headspace } => {
                for port in [bottom, headspace] {
                    port.at += self.length(off);
                    self.leg(&mut port.leg, off);
                }
            }
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => {
                for port in [bottom, middle, headspace] {
                    port.at += self.length(off);
                    self.leg(&mut port.leg, off);
                }
            }
            Hookup::DipTube {
                at,
                tube_end,
                purge,
                friction,
                low,
                ..
            } => {
                *at += self.length(off);
                *tube_end += self.length(off);
                self.gas(purge);
                friction.pressure.0.value += self.normal(friction.uncertainty.0.value);
                if let Some(low) = low {
                    self.leg(low, off);
                }
            }
            Hookup::Interface {
                at,
                high,
                low,
                lower,
                upper,
                ..
            } => {
                *at += self.length(off);
                self.leg(high, off);
                self.leg(low, off);
                self.fill(lower);
                self.fill(upper);
            }
            Hookup::Level { zero, full, .. } => {
                // The range as a whole stands higher or lower.
                let off = self.length(off);
                for end in [zero, full].into_iter().flatten() {
                    *end += off;
                }
            }
        }
    }
}

/// The strapping table with all its volumes off.
fn table(rows: &[(f64, f64)], off_m3: f64) -> Vessel {
    let rows = rows
        .iter()
        .map(|(h_m, v_m3)| (metres(*h_m), cubic_metres(v_m3 + off_m3)));
    let table = StrappingTable::new(rows.collect(), None).expect("the table rises");
    Vessel::new(Shape::Strapping(table)).expect("a table is checked already")
}
