//! Units that a reader asks for instead of the site's: they stand in the address, so a page can be passed on.

use super::layout::Page;
use super::shown::{Shown, symbol};
use super::view::View;
use crate::quantity::{Dimension, Unit, find};
use maud::{Markup, html};
use serde::Deserialize;

/// What an address asks for; what is empty or unknown is as the site has it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    pub span: String,
    level: String,
    volume: String,
    pressure: String,
    temperature: String,
    flow: String,
    mass: String,
}

/// What can be chosen.
const CHOICES: &[(&str, Dimension, &[&str])] = &[
    ("level", Dimension::Length, &["m", "cm", "mm", "ft", "in"]),
    (
        "volume",
        Dimension::Volume,
        &["m3", "L", "USgal", "UKgal", "bbl", "ft3"],
    ),
    (
        "pressure",
        Dimension::Pressure,
        &["kPa", "Pa", "mbar", "bar", "psi", "mmH2O"],
    ),
    (
        "temperature",
        Dimension::Temperature,
        &["degC", "degF", "K"],
    ),
    (
        "flow",
        Dimension::Flow,
        &["m3/h", "L/s", "L/min", "USgal/min"],
    ),
    ("mass", Dimension::Mass, &["t", "kg", "lb"]),
];

impl Asked {
    fn of(&self, name: &str) -> &str {
        match name {
            "level" => &self.level,
            "volume" => &self.volume,
            "pressure" => &self.pressure,
            "temperature" => &self.temperature,
            "flow" => &self.flow,
            "mass" => &self.mass,
            _ => &self.span,
        }
    }

    /// The part of an address that asks for the same; only what is known, so it needs no escaping.
    pub fn query(&self) -> String {
        self.with_span(super::history::Span::named(&self.span).name)
    }

    pub fn with_span(&self, span: &str) -> String {
        let mut query = format!("span={span}");
        for (name, dimension, _) in CHOICES {
            if let Some(unit) = find(self.of(name), *dimension) {
                query.push_str(&format!("&{name}={}", unit.symbol));
            }
        }
        query
    }
}

pub fn apply(shown: &mut Shown, asked: &Asked) {
    let units = &mut shown.units;
    let places: [&mut &'static Unit; 6] = [
        &mut units.level,
        &mut units.volume,
        &mut units.pressure,
        &mut units.temperature,
        &mut units.flow,
        &mut units.mass,
    ];
    for ((name, dimension, _), place) in CHOICES.iter().zip(places) {
        if let Some(unit) = find(asked.of(name), *dimension) {
            *place = unit;
        }
    }
}

pub fn form(view: &View, asked: &Asked, page: &Page<'_>) -> Markup {
    let units = &view.shown.units;
    let now = [
        units.level,
        units.volume,
        units.pressure,
        units.temperature,
        units.flow,
        units.mass,
    ];
    html! {
        details.units #units {
            summary { "Units" }
            form.row method="get" action=(page.path) {
                input type="hidden" name="span" value=(super::history::Span::named(&asked.span).name);
                @for ((name, dimension, choices), unit) in CHOICES.iter().zip(now) {
                    label { (name) " " select name=(name) {
                        @if !choices.contains(&unit.symbol) { option value=(unit.symbol) selected { (symbol(unit)) } }
                        @for choice in choices.iter().filter_map(|choice| find(choice, *dimension)) {
                            option value=(choice.symbol) selected[choice.symbol == unit.symbol] { (symbol(choice)) }
                        }
                    } }
                }
                button { "Show in these" }
                a href=(page.path) { "as the site has them" }
            }
        }
    }
}
