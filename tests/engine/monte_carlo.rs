//! The budget against chance: the same balance solved many times with inputs drawn from their
//! distributions spreads as the budget says (JCGM 101:2008, propagation of distributions by Monte Carlo).

use rand_distr::{Distribution, Normal, Uniform};
use rand_pcg::Pcg64;
use standpipe::engine::TransmitterId;
use standpipe::engine::tank::{Stated, Working};
use standpipe::physics::balance::Balance;
use standpipe::physics::budget::COVERAGE;
use standpipe::quantity::DifferentialPressure;
use standpipe::site;
use std::path::Path;

/// A closed tank on a wet leg, each input with an uncertainty of its own.
const SITE: &str = r#"
[site]
name = "Alder Rise"
gravity = { latitude = "51.2 deg", elevation = "140 m" }
[[link]]
name = "a"
tcp = "127.0.0.1:1502"
[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-70 kPa", "0 kPa"]
accuracy = "0.5 %"
[[tank]]
name = "day"
vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "870 kg/m3", uncertainty = "8 kg/m3" }
gas = { density = "6 kg/m3" }
[tank.hookup]
kind = "differential"
transmitter = "PDT-1"
at = "-1 m"
high = { tap = "0.2 m" }
low = { tap = "5.8 m", leg = { kind = "constant", density = "1060 kg/m3", uncertainty = "6 kg/m3" } }
elevations = { uncertainty = "10 mm" }
"#;
const DRAWS: usize = 200_000;
/// How far the two may be apart: 3 %; the draws alone leave 0.2 %.
const APART: f64 = 0.03;

#[test]
fn the_budget_is_what_chance_makes() {
    let site = site::parse(SITE, Path::new("chance.toml")).expect("a sound site");
    let (plan, tank) = (&site.plan, &site.plan.tanks[0]);
    let mut stated = Stated::new(plan);
    stated.set(plan, TransmitterId(0), -45_000.0);
    let working = Working::of(plan, tank, &tank.hookups[0], &stated, None);
    let budgeted_m = working.budget.expanded().value;

    let standard = |expanded: f64| Normal::new(0.0, expanded / COVERAGE).expect("a spread");
    let accuracy_pa = plan.transmitters[0].accuracy.expect("an accuracy");
    let pressure = Uniform::new_inclusive(-accuracy_pa, accuracy_pa).expect("a range");
    let liquid = standard(working.liquid.uncertainty.value);
    let leg = standard(working.low_leg.uncertainty.value);
    let elevation = standard(tank.hookups[0].elevation_uncertainty.value);
    let gravity = standard(plan.gravity_uncertainty.value);
    let difference = working.difference.expect("a pressure was stated");

    let mut dice = Pcg64::new(7, 11);
    let levels: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let mut drawn: Balance = working.balance;
            let of_liquid = liquid.sample(&mut dice);
            drawn.liquid.value += of_liquid;
            // The high leg holds the tank's own liquid: one and the same error.
            drawn.high.fill.value += of_liquid;
            drawn.low.fill.value += leg.sample(&mut dice);
            drawn.high.tap.value += elevation.sample(&mut dice);
            drawn.low.tap.value += elevation.sample(&mut dice);
            let of_transmitter = elevation.sample(&mut dice);
            drawn.high.diaphragm.value += of_transmitter;
            drawn.low.diaphragm.value += of_transmitter;
            drawn.gravity.value += gravity.sample(&mut dice);
            let felt = DifferentialPressure::pascals(pressure.sample(&mut dice));
            drawn.solve(difference + felt).value
        })
        .collect();
    let mean = levels.iter().sum::<f64>() / DRAWS as f64;
    let variance = levels
        .iter()
        .map(|level| (level - mean).powi(2))
        .sum::<f64>()
        / DRAWS as f64;
    let drawn_m = COVERAGE * variance.sqrt();
    assert!(
        (drawn_m / budgeted_m - 1.0).abs() < APART,
        "drawn {drawn_m} m, budgeted {budgeted_m} m: {:?}",
        working.budget.lines()
    );
    assert!(
        working.budget.lines().len() >= 6,
        "{:?}",
        working.budget.lines()
    );
}
