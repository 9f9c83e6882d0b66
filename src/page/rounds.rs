//! Rounds on a tank's page: what people saw against its readings, what is concluded from it, and the forms by which
//! they enter more.

use super::field::{Field, Form};
use super::shown::Shown;
use super::units::choices;
use super::view::{Part, View, part};
use crate::engine::snapshot::{EntryWay, RoundsView, RowView, Side, TankView};
use crate::quantity::{Dimension, find, metres, span};
use crate::site::settings::Role;
use crate::wire::name::fold;
use maud::{Markup, html};

/// So many entries are shown, the newest first; the rest is told by `standpipe rounds`.
const SHOWN: usize = 8;
/// Entry and reading are further apart than both may be off, in standard deviations. At 2 every twentieth entry of a
/// healthy tank would be called so, at 3 one of 370 (normal distribution); a mistyped or real step is far beyond.
const APART: f64 = 3.0;
/// Densities of samples as they are written down.
const DENSITIES: &[&str] = &["kg/m3", "g/cm3", "lb/ft3"];

pub fn section(view: &View, tank: &TankView) -> Markup {
    html! {
        section.sheet #rounds aria-labelledby="h-rounds" {
            h2 #h-rounds { "Rounds: sight glass and dips" }
            (part(&seen(view, tank)))
            @if view.who.may(Role::Operate) {
                div.deeds { (sight(view, tank)) (dip(view, tank)) }
            }
        }
    }
}

/// What was seen, and how it stands.
pub fn seen(view: &View, tank: &TankView) -> Part {
    let rounds = &tank.rounds;
    let content = html! {
        p class=[rounds.overdue.then_some("why")] { (due(view, rounds)) }
        @if !rounds.rows.is_empty() {
            p class=[is_conspicuous(rounds).then_some("why")] { (concluded(rounds)) }
            @for suggestion in rounds.suggestions.iter().filter(|suggestion| suggestion.worth_it && !is_conspicuous(rounds)) {
                p {
                    "They suggest a correction. Once the cause is known, a person may write into "
                    @match &suggestion.hookup { Some(name) => { "the hookup " (name) }, None => "its hookup" }
                    " in the site file: " code { (suggestion.text) }
                }
            }
            div.wide tabindex="0" role="region" aria-label="Entries against readings" { table {
                thead { tr {
                    th scope="col" { "Seen at" } th scope="col" { "Shown is" } th scope="col" { "Level seen" } th scope="col" { "Shown then" }
                    th scope="col" { "Read by" } th scope="col" { "How" } th scope="col" { "Chart" }
                } }
                tbody { @for row in rounds.rows.iter().rev().take(SHOWN) { (line(view, row)) } }
            } }
        }
    };
    (format!("e-{}", fold(&tank.name)), content)
}

fn line(view: &View, row: &RowView) -> Markup {
    let (entry, shown) = (&row.entry, &view.shown);
    let level = |level_m: f64| shown.level(metres(level_m));
    html! {
        tr {
            td { (shown.time(entry.time, view.now())) }
            td { b { (row.residual_m.map_or("–".to_owned(), |residual_m| apart(shown, residual_m))) } }
            td { (level(entry.level_m)) " ± " (length(shown, 2.0 * entry.sigma_m)) }
            td { (row.reading_m.map_or("not known".to_owned(), level)) }
            td { (entry.reader.as_ref().unwrap_or(&entry.by)) @if entry.reader.is_some() { ", entered by " (entry.by) } }
            td { (match entry.way { EntryWay::Sight => "sight glass", EntryWay::Dip => "dip" }) @if entry.blown_down { ", blown down" } }
            td {
                @if let Some(charted) = &row.charted { (format!("{:+.1} σ", charted.z).replace('-', "−")) @if charted.signal.is_some() { b { " ! drift" } } }
                @if entry.begins { " series begins" }
            }
        }
    }
}

/// "12 mm above", "0.5 in below", "the same".
fn apart(shown: &Shown, residual_m: f64) -> String {
    let side = if residual_m < 0.0 { "below" } else { "above" };
    let by = length(shown, residual_m.abs());
    match by.contains(|c: char| ('1'..='9').contains(&c)) {
        true => format!("{by} {side}"),
        false => "the same".to_owned(),
    }
}

/// A short length: in millimetres, or in inches where levels are in feet.
fn length(shown: &Shown, si: f64) -> String {
    let (name, resolution) = match shown.units.level.symbol {
        "in" | "ft" => ("in", 2e-3),
        _ => ("mm", 1e-3),
    };
    find(name, Dimension::Length).map_or(String::new(), |unit| {
        shown.in_unit(Some(si), unit, resolution)
    })
}

/// When the next entry is due.
fn due(view: &View, rounds: &RoundsView) -> Markup {
    html! {
        @match (rounds.every, rounds.due) {
            (Some(every), Some(due)) => {
                "An entry is due every " (span(every)) ", the next "
                @if rounds.overdue { b { "OVERDUE since " (view.shown.time(due, view.now())) } }
                @else { "at " (view.shown.time(due, view.now())) }
                "."
            },
            _ => "No entries are due by the site file; each one helps to find a drift.",
        }
        @if rounds.rows.is_empty() { " There is none yet." }
    }
}

/// Whether what is concluded needs a person.
pub fn is_conspicuous(rounds: &RoundsView) -> bool {
    rounds.chart.signal.is_some() || apart_in_a_row(rounds) > 0
}

/// How many of the newest entries, in a row and on one side, are further from the reading than both may be off.
fn apart_in_a_row(rounds: &RoundsView) -> usize {
    let newest = rounds.rows.iter().rev().map(|row| row.charted);
    let newest = newest.map(|charted| charted.map_or(0.0, |charted| charted.z));
    let side = newest.clone().next().unwrap_or_default();
    newest
        .take_while(|z| z.abs() > APART && z * side > 0.0)
        .count()
}

/// What the entries say together.
pub fn concluded(rounds: &RoundsView) -> String {
    let chart = &rounds.chart;
    if let Some(side) = chart.signal {
        let high = match side {
            Side::High => "high",
            Side::Low => "low",
        };
        return format!(
            "A drift stands: it has come to read too {high} against what people see. Find its cause first; a correction would hide it."
        );
    }
    match apart_in_a_row(rounds) {
        0 => {}
        1 => {
            return "The newest entry is further from the reading than both may be off. One such entry is no drift yet: look again.".to_owned();
        }
        entries => {
            return format!(
                "The newest {entries} entries are further from the reading than both may be off. It is called a drift once they add up to the limit of the chart: find the cause now."
            );
        }
    }
    match (rounds.rows.last(), chart.entries) {
        (Some(row), _) if row.residual_m.is_none() => {
            "Nothing to compare the newest entry with: the reading of its moment is not known."
                .to_owned()
        }
        (_, 0) => "No entry could be compared with a reading yet.".to_owned(),
        (_, 1) => "One entry is compared; a drift shows only against others.".to_owned(),
        (_, entries) => format!("No drift is found in {entries} entries."),
    }
}

fn sight(view: &View, tank: &TankView) -> Markup {
    let form = Form::new(view, "sight");
    let looks = &tank.frame.looks;
    let scale = match looks.glass_length {
        Some(length) => format!(
            "By the glass's own scale: it counts from {} and is {} long.",
            view.shown.level(looks.glass_zero),
            view.shown.level(length)
        ),
        None => format!(
            "By the glass's own scale: it counts from {}.",
            view.shown.level(looks.glass_zero)
        ),
    };
    let level = Field {
        name: "level",
        label: "The glass shows",
        hint: &scale,
        required: true,
        ..Field::default()
    };
    let blown_down = Field {
        name: "blown_down",
        label: "It was blown down before, so fresh liquid stands in it",
        hint: "Only under the site's permit. Blowing down a wet leg empties it, and the level then reads falsely high.",
        ..Field::default()
    };
    let content = html! {
        (form.quantity(level, lengths(), view.shown.units.level))
        (form.tick(blown_down))
        (how_seen(view, &form, "10 mm"))
    };
    let back = back(tank);
    form.whole(
        "Enter the sight glass…",
        (&back, &[("tank", &tank.name)]),
        &content,
        "Enter it",
    )
}

fn dip(view: &View, tank: &TankView) -> Markup {
    let form = Form::new(view, "dip");
    let ullages = match tank.frame.looks.gauge_point {
        Some(point) => format!(
            "From the gauge point, at {}, down to the surface.",
            view.shown.level(point)
        ),
        None => {
            "The site file does not say where ullages hang from: [tank.dip] point_at.".to_owned()
        }
    };
    let ways = [
        ("innage", "Innage: from the plate up"),
        ("ullage", "Ullage: from the gauge point down"),
    ];
    let field = |name, label, hint| Field {
        name,
        label,
        hint,
        ..Field::default()
    };
    let surface = Field {
        required: true,
        ..field("surface", "The tape shows", &ullages)
    };
    let cut = field(
        "water_cut",
        "Water cut",
        "Height of free water at the bottom, from the plate; leave it empty where there is none.",
    );
    let density = field(
        "density",
        "Density of a sample",
        "At the tank's temperature; may be left empty.",
    );
    let units = &view.shown.units;
    let per_volume = find("kg/m3", Dimension::Density);
    let content = html! {
        (form.choice(field("way", "How", ""), &ways, "innage"))
        (form.quantity(surface, lengths(), units.level))
        (form.quantity(cut, lengths(), units.level))
        @if let Some(usual) = per_volume { (form.quantity(density, (Dimension::Density, DENSITIES), usual)) }
        (how_seen(view, &form, "4 mm"))
    };
    let back = back(tank);
    form.whole(
        "Enter a dip…",
        (&back, &[("tank", &tank.name)]),
        &content,
        "Enter it",
    )
}

/// When, by whom and how well it was seen.
fn how_seen(view: &View, form: &Form<'_>, usual: &str) -> Markup {
    let zone = view.shown.zone.iana_name().unwrap_or("UTC");
    let at = format!("By the clocks of {zone}; left empty: now. Readings are kept for a day.");
    let unsure = format!("k = 2; left empty: {usual}.");
    let field = |name, label, hint| Field {
        name,
        label,
        hint,
        ..Field::default()
    };
    html! {
        (form.line(field("at", "Seen at", &at), "datetime-local", 40))
        (form.quantity(field("uncertainty", "May be off by", &unsure), lengths(), short(view)))
        (form.line(field("reader", "Read by", "Left empty: you."), "text", 80))
    }
}

fn short(view: &View) -> &'static crate::quantity::Unit {
    let name = match view.shown.units.level.symbol {
        "in" | "ft" => "in",
        _ => "mm",
    };
    find(name, Dimension::Length).unwrap_or(view.shown.units.level)
}

fn lengths() -> (Dimension, &'static [&'static str]) {
    (Dimension::Length, choices("level"))
}

fn back(tank: &TankView) -> String {
    format!("/tank/{}#rounds", fold(&tank.name))
}
