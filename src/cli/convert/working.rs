//! How a level was worked out: the columns of the balance, their densities, and the uncertainty budget.

use super::several;
use crate::engine::Reason;
use crate::engine::plan::{HookupPlan, LegFill, TankPlan};
use crate::engine::tank::{Arrangement, Fill, Layers, Working, level_range};
use crate::physics::budget::Budget;
use crate::physics::liquid::Density;
use crate::quantity::{Length, ZERO_CELSIUS_K};
use crate::site::Site;
use std::io::{Result, Write};

pub fn print(
    site: &Site,
    tank: &TankPlan,
    hookup: &HookupPlan,
    (working, budget): (&Working, &Budget),
    out: &mut impl Write,
) -> Result<()> {
    let Some((terms, solved)) = working.terms.zip(working.solved) else {
        return Ok(());
    };
    let balance = &working.balance;
    writeln!(
        out,
        "\nThe balance{} at {:.4} m, g = {:.5} m/s2",
        several(tank).map_or(String::new(), |_| format!(" of {}", hookup.name)),
        solved.value,
        site.plan.gravity.value
    )?;
    for (name, pressure, rho, (from, to)) in [
        (
            "liquid column",
            terms.liquid_column,
            balance.liquid,
            (balance.high.tap, solved),
        ),
        (
            "gas column",
            terms.gas_column,
            balance.gas,
            (solved, balance.low.tap),
        ),
        (
            "high leg",
            terms.high_leg,
            balance.high.fill,
            (balance.high.diaphragm, balance.high.tap),
        ),
        (
            "low leg",
            terms.low_leg,
            balance.low.fill,
            (balance.low.diaphragm, balance.low.tap),
        ),
    ] {
        writeln!(
            out,
            "  {name:<15} {:>12.1} Pa   {:>10.3} kg/m3   {:.4} m to {:.4} m",
            // Adding nothing makes a negative zero a plain one.
            pressure.0.value + 0.0,
            rho.value,
            from.value,
            to.value
        )?;
    }
    writeln!(
        out,
        "  {:<15} {:>12.1} Pa",
        "high minus low",
        terms.sum().0.value
    )?;
    if hookup.correction.is_set() {
        writeln!(out, "  {}", corrected(hookup, working))?;
    }
    print_densities(site, tank, hookup, working, out)?;
    print_budget(budget, out)
}

/// What was added to the level by hand, by whom, and until when.
fn corrected(hookup: &HookupPlan, working: &Working) -> String {
    let correction = &hookup.correction;
    let level = working.corrected.map_or(f64::NAN, |level| level.value);
    let by = correction.by.as_ref().map(|by| format!(", found by {by}"));
    let until = correction
        .until
        .map(|until| format!(", good until {until}"));
    format!(
        "corrected       {level:.4} m: {} times the level {:+.1} mm{}{}",
        correction.gain,
        correction.offset.value * 1e3,
        by.unwrap_or_default(),
        until.unwrap_or_default()
    )
}

/// Each density of the balance, how well it is known, and where it comes from.
fn print_densities(
    site: &Site,
    tank: &TankPlan,
    hookup: &HookupPlan,
    working: &Working,
    out: &mut impl Write,
) -> Result<()> {
    let elevation = |level: Length| tank.vessel.elevation(level);
    let (bottom, top) = level_range(tank);
    let arrangement = Arrangement::of(
        &hookup.hookup,
        (elevation(bottom), elevation(top)),
        site.plan.ambient.pressure_at,
    );
    let sources = Sources { tank, working };
    let (liquid, above) = match arrangement.layers {
        Layers::Liquids { lower, upper } => (sources.of_leg(lower), sources.of_leg(upper)),
        Layers::LiquidAndGas => (sources.liquid(), sources.gas()),
        Layers::LiquidAlone => (
            sources.liquid(),
            "none: the range counts without it".to_owned(),
        ),
    };
    let names = match arrangement.layers {
        Layers::Liquids { .. } => ("lower liquid", "upper liquid"),
        Layers::LiquidAndGas | Layers::LiquidAlone => ("liquid", "gas above"),
    };
    let mut rows = vec![
        (names.0, working.liquid, liquid),
        (names.1, working.above, above),
    ];
    for (name, end, density) in [
        ("high leg", &arrangement.high, working.high_leg),
        ("low leg", &arrangement.low, working.low_leg),
    ] {
        // A diaphragm at its tap has no leg.
        if end.tap != end.at {
            rows.push((name, density, sources.of_fill(end.fill)));
        }
    }
    let around = &working.surroundings;
    writeln!(
        out,
        "\nDensities, at an ambient of {:.2} degC and {:.2} hPa(a)",
        around.ambient.value - ZERO_CELSIUS_K,
        around.barometer.0.value / 100.0
    )?;
    for (name, density, source) in rows {
        writeln!(
            out,
            "  {name:<15} {:>12.3} kg/m3 {:<12} {source}",
            density.value.value,
            known_to(density)
        )?;
    }
    Ok(())
}

/// k = 2; zero means that nothing is known of it.
fn known_to(density: Density) -> String {
    match density.uncertainty.value {
        0.0 => "±     ?".to_owned(),
        uncertainty => format!("± {uncertainty:>7.3}"),
    }
}

/// Where densities come from, in words.
struct Sources<'a> {
    tank: &'a TankPlan,
    working: &'a Working,
}

impl Sources<'_> {
    fn liquid(&self) -> String {
        if self.working.density_measured {
            return "the pressures themselves: (p1 - p2)/(g (z2 - z1))".to_owned();
        }
        if self.working.reasons.has(Reason::DensityLastTrusted) {
            return "the pressures, as last trusted".to_owned();
        }
        let liquid = &self.tank.liquid.liquid;
        format!("{}, {}", self.at(), liquid.source())
    }

    fn at(&self) -> String {
        let temperature = self.working.surroundings.liquid_temperature;
        format!("at {:.2} degC", temperature.value - ZERO_CELSIUS_K)
    }

    fn gas(&self) -> String {
        let pressure = self.working.surroundings.gas_pressure;
        let source = self.tank.gas.gas.source();
        format!("at {:.2} hPa(a), {source}", pressure.0.value / 100.0)
    }

    fn of_fill(&self, fill: Fill<'_>) -> String {
        match fill {
            Fill::OpenAir => "the air outside".to_owned(),
            Fill::Purge(gas) => format!("at the pressure of the tube, {}", gas.source()),
            Fill::Leg(leg) => self.of_leg(leg),
        }
    }

    fn of_leg(&self, leg: &LegFill) -> String {
        match leg {
            LegFill::OwnLiquid if self.tank.liquid.measured.is_some() => {
                "the tank's own liquid, as measured".to_owned()
            }
            LegFill::OwnLiquid => "the tank's own liquid, at ambient temperature".to_owned(),
            LegFill::Gas => "the gas of the tank, at ambient temperature".to_owned(),
            LegFill::Filled(fill) => fill.liquid.source().to_owned(),
        }
    }
}

/// A part of less than this is told together with its like, mm and kg: as printed it is nothing.
const PRINTED_MM: f64 = 0.005;
const PRINTED_L: f64 = 0.05;
const PRINTED_KG: f64 = 0.05;

fn print_budget(budget: &Budget, out: &mut impl Write) -> Result<()> {
    writeln!(
        out,
        "\nUncertainty (k = 2), largest first{:>15} {:>14} {:>15}",
        "level", "volume", "mass"
    )?;
    let mut line = |name: &str, level_mm: f64, volume_l: f64, mass_kg: f64| {
        writeln!(
            out,
            "  {name:<36} {level_mm:>9.2} mm {volume_l:>11.1} L {mass_kg:>12.1} kg"
        )
    };
    let mut rest = [0.0_f64; 3];
    let mut rest_count = 0;
    for part in budget.lines() {
        let parts = [
            part.level.value * 1e3,
            part.volume.value * 1e3,
            part.mass.value,
        ];
        if parts[0] < PRINTED_MM && parts[1] < PRINTED_L && parts[2] < PRINTED_KG {
            rest_count += 1;
            for (rest, part) in rest.iter_mut().zip(parts) {
                *rest = rest.hypot(part);
            }
        } else {
            line(part.input, parts[0], parts[1], parts[2])?;
        }
    }
    if rest_count > 0 {
        let name = match rest_count {
            1 => "a smaller one".to_owned(),
            count => format!("{count} smaller ones together"),
        };
        line(&name, rest[0], rest[1], rest[2])?;
    }
    let all = budget.expanded();
    line(
        "all together",
        all.level.value * 1e3,
        all.volume.value * 1e3,
        all.mass.value,
    )
}
