//! Why it says so: the columns of the balance with today's densities, drawn and in numbers.

use super::view::View;
use crate::engine::snapshot::{Balance, HookupView, TankView, Terms};
use crate::quantity::Length;
use maud::{Markup, html};

const HIGH: f64 = 220.0;
const EDGE: f64 = 16.0;
/// Columns, from the left: high leg, tank, low leg.
const HIGH_LEG_X: f64 = 120.0;
const TANK_X: f64 = 190.0;
const TANK_WIDE: f64 = 130.0;
const LOW_LEG_X: f64 = 390.0;
const WIDE: f64 = 510.0;
const LEG_WIDE: f64 = 16.0;

/// One column: what it is, from where to where, of what density, and what it weighs.
struct Column {
    name: &'static str,
    from: Length,
    to: Length,
    density: f64,
    pressure: f64,
}

pub fn explained(view: &View, tank: &TankView) -> Markup {
    let worked = tank
        .hookups
        .iter()
        .filter_map(|hookup| Some((hookup, hookup.terms?, hookup.solved?)));
    let several = tank.hookups.len() > 1;
    html! {
        section.sheet aria-labelledby="h-why" {
            h2 #h-why { "Why does it say so?" }
            p.sub { "Each column of liquid or gas weighs something; together they make the pressure that the transmitter
                feels. Worked at " (view.shown.moment(tank.reading.time)) "." }
            @if !tank.hookups.iter().any(|hookup| hookup.terms.is_some()) {
                p { "No pressure is read, so there is nothing to work out." }
            }
            @for (hookup, terms, solved) in worked {
                @if several { h3 { (hookup.name) @if hookup.chosen { " (chosen)" } } }
                (one(view, tank, hookup, &terms, solved))
            }
        }
    }
}

fn one(view: &View, tank: &TankView, hookup: &HookupView, terms: &Terms, solved: Length) -> Markup {
    let columns = columns(&hookup.balance, terms, solved);
    let shown = &view.shown;
    let sum = terms.sum().0.value;
    html! {
        div.why-row {
            (picture(view, tank, &hookup.balance, &columns, solved))
            div.wide tabindex="0" role="region" aria-label="The columns in numbers" {
                table {
                    thead { tr { th scope="col" { "Column" } th scope="col" { "From" } th scope="col" { "To" } th scope="col" { "Density" } th scope="col" { "Pressure" } } }
                    tbody {
                        @for column in &columns {
                            tr {
                                th scope="row" { (column.name) }
                                td { (shown.level(column.from)) } td { (shown.level(column.to)) }
                                td { (shown.density(Some(column.density))) } td { (shown.pressure(Some(column.pressure))) }
                            }
                        }
                        tr.sum { th scope="row" { "High minus low" } td {} td {} td {} td { (shown.pressure(Some(sum))) } }
                    }
                }
                p {
                    "At " b { (shown.level(solved)) } " the columns add up to " b { (shown.pressure(Some(sum))) }
                    ", and that is what is read; g = " (format!("{:.5}", hookup.balance.gravity.value)) " m/s²."
                    @if tank.corrected.is_some() { " A correction by hand is added to that level." }
                }
            }
        }
    }
}

fn columns(balance: &Balance, terms: &Terms, solved: Length) -> [Column; 4] {
    let of = |name, (from, to), density: f64, pressure: f64| Column {
        name,
        from,
        to,
        density,
        // Adding nothing makes a negative zero a plain one.
        pressure: pressure + 0.0,
    };
    let (high, low) = (&balance.high, &balance.low);
    [
        of(
            "Liquid in the tank",
            (high.tap, solved),
            balance.liquid.value,
            terms.liquid_column.0.value,
        ),
        of(
            "Gas above it",
            (solved, low.tap),
            balance.gas.value,
            terms.gas_column.0.value,
        ),
        of(
            "High leg",
            (high.diaphragm, high.tap),
            high.fill.value,
            terms.high_leg.0.value,
        ),
        of(
            "Low leg",
            (low.diaphragm, low.tap),
            low.fill.value,
            terms.low_leg.0.value,
        ),
    ]
}

fn picture(
    view: &View,
    tank: &TankView,
    balance: &Balance,
    columns: &[Column; 4],
    solved: Length,
) -> Markup {
    let (bottom, top) = (tank.frame.bottom.value, tank.frame.top.value);
    let (high, low) = (&balance.high, &balance.low);
    let heights = [
        bottom,
        top,
        high.tap.value,
        high.diaphragm.value,
        low.tap.value,
        low.diaphragm.value,
    ];
    let lowest = heights.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let reach = (highest - lowest).max(1e-6);
    let y = |level: f64| EDGE + (highest - level) / reach * (HIGH - 2.0 * EDGE);
    let inside = solved.value.clamp(bottom, top);
    let leg = |x: f64, from: f64, to: f64| {
        let (upper, lower) = (y(from.max(to)), y(from.min(to)));
        (x - LEG_WIDE / 2.0, upper, (lower - upper).max(2.0))
    };
    let high_leg = leg(HIGH_LEG_X, high.diaphragm.value, high.tap.value);
    let low_leg = leg(LOW_LEG_X, low.diaphragm.value, low.tap.value);
    let [liquid, gas, of_high, of_low] = columns;
    let has_low = (low.tap - low.diaphragm).value.abs() > 1e-9 && low.fill.value > 0.0;
    let weighs = |column: &Column| view.shown.pressure(Some(column.pressure));
    let label = format!(
        "The columns of the balance: liquid {}, gas {}, high leg {}, low leg {}",
        weighs(liquid),
        weighs(gas),
        weighs(of_high),
        weighs(of_low)
    );
    html! {
        svg.columns viewBox=(format!("0 0 {WIDE} {HIGH}")) role="img" aria-label=(label) {
            rect.in x=(TANK_X) y=(y(top)) width=(TANK_WIDE) height=(y(bottom) - y(top)) {}
            rect.wet x=(TANK_X) y=(y(inside)) width=(TANK_WIDE) height=(y(bottom) - y(inside)) {}
            path.top d=(format!("M{TANK_X} {:.1}h{TANK_WIDE}", y(inside))) {}
            rect.out x=(TANK_X) y=(y(top)) width=(TANK_WIDE) height=(y(bottom) - y(top)) {}
            path.tap d=(format!("M{HIGH_LEG_X} {0:.1}H{TANK_X}", y(high.tap.value))) {}
            rect.wet x=(high_leg.0) y=(high_leg.1) width=(LEG_WIDE) height=(high_leg.2) {}
            rect.out x=(high_leg.0) y=(high_leg.1) width=(LEG_WIDE) height=(high_leg.2) {}
            @if has_low {
                path.tap d=(format!("M{0} {1:.1}H{LOW_LEG_X}", TANK_X + TANK_WIDE, y(low.tap.value))) {}
                rect.wet x=(low_leg.0) y=(low_leg.1) width=(LEG_WIDE) height=(low_leg.2) {}
                rect.out x=(low_leg.0) y=(low_leg.1) width=(LEG_WIDE) height=(low_leg.2) {}
                text x=(LOW_LEG_X + 14.0) y=(f64::midpoint(low_leg.1, low_leg.1 + low_leg.2)) { (weighs(of_low)) }
            }
            text x=(HIGH_LEG_X - 14.0) y=(f64::midpoint(high_leg.1, high_leg.1 + high_leg.2)) text-anchor="end" { (weighs(of_high)) }
            text x=(TANK_X + TANK_WIDE / 2.0) y=(y(f64::midpoint(bottom, inside)) + 4.0) text-anchor="middle" { (weighs(liquid)) }
            text x=(TANK_X + TANK_WIDE / 2.0) y=(y(f64::midpoint(inside, top)) + 4.0) text-anchor="middle" { (weighs(gas)) }
        }
    }
}
