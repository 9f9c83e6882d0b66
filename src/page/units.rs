//! Units that a reader asks for instead of the site's: kept in a cookie, or in the address of a page that is passed on.

use super::access::{cookie, decoded, encoded, local, set_cookie};
use super::layout::Page;
use super::shown::{Shown, symbol};
use super::view::View;
use crate::quantity::{Dimension, Unit, find};
use axum::http::header::{HeaderMap, SET_COOKIE};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;

const UNITS: &str = "standpipe_units";
/// A year.
const KEPT_S: u64 = 365 * 86_400;

/// What an address asks for; what is empty or unknown is as the site has it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    pub span: String,
    /// Not empty: this browser keeps them.
    keep: String,
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

/// The units that can be chosen of a kind; none of a kind that is not among them.
pub fn choices(kind: &str) -> &'static [&'static str] {
    let mut all = CHOICES.iter();
    all.find(|(name, ..)| *name == kind)
        .map_or(&[], |(.., units)| units)
}

impl Asked {
    fn of(&self, name: &str) -> &str {
        match name {
            "level" => &self.level,
            "volume" => &self.volume,
            "pressure" => &self.pressure,
            "temperature" => &self.temperature,
            "flow" => &self.flow,
            "mass" => &self.mass,
            _ => "",
        }
    }

    fn put(&mut self, name: &str, unit: &str) {
        let place = match name {
            "level" => &mut self.level,
            "volume" => &mut self.volume,
            "pressure" => &mut self.pressure,
            "temperature" => &mut self.temperature,
            "flow" => &mut self.flow,
            "mass" => &mut self.mass,
            _ => return,
        };
        unit.clone_into(place);
    }

    /// The part of an address that asks for the same; only what is known, so it needs no escaping.
    pub fn query(&self) -> String {
        self.with_span(super::history::Span::named(&self.span).name)
    }

    pub fn with_span(&self, span: &str) -> String {
        match self.units() {
            units if units.is_empty() => format!("span={span}"),
            units => format!("span={span}&{units}"),
        }
    }

    /// The units alone, in the form of an address; empty where none is asked for.
    pub fn units(&self) -> String {
        let known = CHOICES.iter().filter_map(|(name, dimension, _)| {
            let unit = find(self.of(name), *dimension)?;
            Some(format!("{name}={}", unit.symbol))
        });
        known.collect::<Vec<_>>().join("&")
    }

    /// That back again.
    fn read(units: &str) -> Self {
        let mut asked = Self::default();
        for pair in units.split('&') {
            if let Some((name, unit)) = pair.split_once('=') {
                asked.put(name, unit);
            }
        }
        asked
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

/// The units that this browser keeps.
pub fn kept(headers: &HeaderMap) -> Asked {
    let kept = cookie(headers, UNITS).and_then(decoded);
    kept.map_or(Asked::default(), |units| Asked::read(&units))
}

/// Keeps the units that somebody has chosen in the form, and goes on to the page; none where that was not asked for.
/// An address that is passed on asks for units too, and changes nothing that lasts.
pub fn keep(headers: &HeaderMap, path: &str, asked: &Asked) -> Option<Response> {
    if asked.keep.is_empty() {
        return None;
    }
    let units = asked.units();
    let lasting = if units.is_empty() { 0 } else { KEPT_S };
    let cookie = set_cookie(headers, UNITS, &encoded(&units), Some(lasting));
    let to = match asked.span.is_empty() {
        true => path.to_owned(),
        false => format!(
            "{path}?span={}",
            super::history::Span::named(&asked.span).name
        ),
    };
    Some(([(SET_COOKIE, cookie)], Redirect::to(&local(&to))).into_response())
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
                @if !asked.span.is_empty() { input type="hidden" name="span" value=(super::history::Span::named(&asked.span).name); }
                input type="hidden" name="keep" value="yes";
                @for ((name, dimension, choices), unit) in CHOICES.iter().zip(now) {
                    label { (name) " " select name=(name) {
                        @if !choices.contains(&unit.symbol) { option value=(unit.symbol) selected { (symbol(unit)) } }
                        @for choice in choices.iter().filter_map(|choice| find(choice, *dimension)) {
                            option value=(choice.symbol) selected[choice.symbol == unit.symbol] { (symbol(choice)) }
                        }
                    } }
                }
                button { "Show in these" }
                a href={ (page.path) "?keep=no" } { "as the site has them" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kept_units_come_back_and_what_is_unknown_does_not() {
        let asked = Asked::read("level=ft&flow=m3/h&mass=stone&nothing=m");
        assert_eq!(asked.units(), "level=ft&flow=m3/h");
        assert_eq!(asked.with_span("day"), "span=day&level=ft&flow=m3/h");
        assert_eq!(Asked::read("").units(), "");
    }
}
