//! One tank: what is read and worked out, why, how sure, how it was, what is wrong, and what people say of it.

use super::history::{SPANS, Span, trends};
use super::layout::{self, Page, document};
use super::need::Need;
use super::shown::{about, percent};
use super::trend::Trend;
use super::units::{self, Asked};
use super::view::{Part, View, part};
use super::{PageState, alarms, balance, drawing, overview, remarks, rounds, signs, tasks};
use crate::engine::snapshot::TankView;
use crate::quantity::{Length, Mass, Volume};
use crate::wire::name::fold;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::HeaderMap;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use std::time::Duration;

/// The tank of that name, as written or folded.
pub fn named<'v>(view: &'v View, name: &str) -> Option<&'v TankView> {
    let mut tanks = view.snapshot.tanks.iter();
    tanks.find(|tank| fold(&tank.name) == fold(name))
}

pub(super) async fn page(
    State(state): State<PageState>,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    if let Some(kept) = units::keep(&headers, &format!("/tank/{}", fold(&name)), &asked) {
        return kept;
    }
    let view = state.view(&headers);
    answer(&state, view, &name, &asked).await
}

/// The page of a tank, or that there is none.
pub(super) async fn answer(
    state: &PageState,
    mut view: View,
    name: &str,
    asked: &Asked,
) -> Response {
    units::apply(&mut view.shown, asked);
    let Some(tank) = named(&view, name) else {
        return (StatusCode::NOT_FOUND, missing(&view, name)).into_response();
    };
    let (file, span) = (state.journal.clone(), Span::named(&asked.span));
    let (tank_seen, shown, now) = (tank.clone(), view.shown.clone(), view.now());
    let history = tokio::task::spawn_blocking(move || {
        let trends = trends(&file, &tank_seen, &shown, span, now);
        let remarks = remarks::of_tank(&file, &tank_seen.name);
        trends.and_then(|trends| Ok((trends, remarks?)))
    });
    let history = match history.await {
        Ok(Ok(history)) => Ok(history),
        Ok(Err(error)) => Err(error.to_string()),
        Err(error) => Err(error.to_string()),
    };
    whole(&view, tank, asked, span, history).into_response()
}

fn missing(view: &View, name: &str) -> Markup {
    let page = Page {
        title: "No such tank",
        path: "",
        live: None,
    };
    let main = html! {
        h1 { "There is no tank “" (name) "”" }
        ul.places { @for tank in &view.snapshot.tanks { li { a href={ "/tank/" (fold(&tank.name)) } { (tank.title) } } } }
    };
    document(view, &page, &main)
}

fn whole(
    view: &View,
    tank: &TankView,
    asked: &Asked,
    span: Span,
    history: Result<(Vec<Trend>, Vec<crate::engine::Event>), String>,
) -> Markup {
    let name = fold(&tank.name);
    let page = Page {
        title: &tank.title,
        path: &format!("/tank/{name}"),
        live: Some(format!("/live/tank/{name}?{}", asked.query())),
    };
    let main = html! {
        h1 { (tank.title) }
        (part(&readings(view, tank)))
        (units::form(view, asked, &page))
        (rounds::section(view, tank))
        (balance::explained(view, tank))
        (budget(view, tank))
        section.sheet #trend aria-labelledby="h-trend" {
            h2 #h-trend { "How it was" }
            nav.spans aria-label="Span of the trends" {
                @for one in SPANS {
                    a href={ "?" (asked.with_span(one.name)) "#trend" } aria-current=[(*one == span).then_some("true")] { (one.name) }
                }
            }
            @match &history {
                Ok((trends, _)) => @for trend in trends { (trend.picture()) },
                Err(error) => p.trouble { "✕ The journal can't be read: " (error) },
            }
            p.sub { "Hatched: no data. Shaded: an alarm was active. The running minute is not in it yet." }
        }
        (diagnosis(view, tank))
        (tasks::section(view, tank))
        (remarks::section(view, tank, history.as_ref().map_or(&[], |(_, events)| events)))
    };
    document(view, &page, &main)
}

/// What changes by itself.
pub fn parts(view: &View, name: &str) -> Vec<Part> {
    let tank = named(view, name);
    let mut parts = vec![layout::summary(view)];
    if let Some(tank) = tank {
        parts.extend([readings(view, tank), rounds::seen(view, tank)]);
    }
    parts
}

fn readings(view: &View, tank: &TankView) -> Part {
    let (reading, shown, name) = (&tank.reading, &view.shown, fold(&tank.name));
    let open = tank.alarms.iter();
    let open: Vec<_> = open
        .filter(|alarm| Need::of_alarm(alarm) != Need::Calm)
        .collect();
    let label = format!(
        "Level {} of {}",
        shown.level_of(tank),
        shown.level(tank.frame.top)
    );
    let rows = [
        ("Fill", percent(reading.fill)),
        (
            "Volume",
            with(
                shown.volume(reading.volume.map(|v| v.value)),
                reading
                    .volume_uncertainty
                    .map(|v| shown.volume(Some(v.value))),
            ),
        ),
        (
            "At base temperature",
            reading
                .standard_volume
                .map_or(String::new(), |v| shown.volume(Some(v.value))),
        ),
        ("Usable", shown.volume(reading.usable.map(|v| v.value))),
        ("Ullage", shown.volume(reading.ullage.map(|v| v.value))),
        (
            "Mass",
            with(
                shown.mass(reading.mass.map(|m| m.value)),
                reading.mass_uncertainty.map(|m| shown.mass(Some(m.value))),
            ),
        ),
        (
            "Interface",
            reading
                .interface
                .map_or(String::new(), |level| shown.level(level)),
        ),
        ("Density", shown.density(reading.density.map(|d| d.value))),
        (
            "Temperature",
            shown.temperature(reading.temperature.map(|t| t.value)),
        ),
        ("Rate", shown.rate(reading.rate.map(|r| r.value))),
        ("Net flow", shown.flow(reading.net_flow.map(|q| q.value))),
        (
            "Next limit",
            overview::next_limit(view, tank).unwrap_or_default(),
        ),
        (
            "Until overflow",
            reading.time_to_overflow.map_or(String::new(), |t| {
                about(Duration::from_secs_f64(t.value.max(0.0)))
            }),
        ),
        (
            "Pressure, high minus low",
            shown.pressure(reading.differential_pressure.map(|p| p.0.value)),
        ),
        (
            "Last good",
            tank.last_good
                .map_or("never".to_owned(), |time| shown.time(time, view.now())),
        ),
    ];
    let content = html! {
        div.one {
            article class={ "tank " (Need::of_tank(tank).class()) } {
                @for alarm in open {
                    p.say {
                        (signs::priority(alarm.priority)) " "
                        a href={ "/alarms#" (alarms::anchor(&tank.name, alarm)) } { (alarm.code) }
                        " " (alarm.priority.name()) ": " (layout::state(alarm))
                        @if let Some(response) = &alarm.record.response { ". " b { (response) } }
                    }
                }
                p.val {
                    b { (shown.level_of(tank)) } " " (super::shown::symbol(shown.units.level))
                    @if let Some(by) = shown.level_by(reading.level.and(reading.level_uncertainty)) { i { " ± " (by) " (k = 2)" } }
                    " " (signs::quality(reading.quality)) " " (view.age_of(&name, reading.time))
                }
                @for reason in reading.reasons.iter() { p.why { (reason.text()) } }
                @if let Some(corrected) = &tank.corrected {
                    p.why { "A correction by hand is in the level"
                        @if let Some(by) = &corrected.by { ", found by " (by) }
                        @if let Some(until) = corrected.until { ", good until " (until) } }
                }
                dl.rows {
                    @if let Some(product) = &tank.product { div { dt { "Holds" } dd { (product) } } }
                    @for (word, text) in rows.iter().filter(|(_, text)| !text.is_empty()) { div { dt { (word) } dd { (text) } } }
                }
                @if let Some(transfer) = &tank.transfer {
                    p.sub { "Transfer to " (format!("{:.3}", transfer.memory.target_m)) " m by " (transfer.memory.by)
                        ", moved " (shown.volume(transfer.moved.map(|v| v.value))) ", left " (shown.volume(transfer.left.map(|v| v.value)))
                        @if transfer.overdue { b { ": should have been stopped by now" } } }
                    (tasks::end_transfer(view, tank))
                }
            }
            (drawing::drawing(tank, &label))
        }
    };
    (format!("r-{name}"), content)
}

fn with(value: String, by: Option<String>) -> String {
    by.map_or(value.clone(), |by| format!("{value} ± {by}"))
}

fn budget(view: &View, tank: &TankView) -> Markup {
    let budget = &tank.budget;
    // Finer than a level is shown: these are the parts of it.
    let (units, shown) = (&view.shown.units, &view.shown);
    let level = |si: Length| shown.in_unit(Some(si.value), units.level, 1e-4);
    let volume = |si: Volume| shown.in_unit(Some(si.value), units.volume, 1e-3);
    let mass = |si: Mass| shown.in_unit(Some(si.value), units.mass, 1.0);
    html! {
        section.sheet aria-labelledby="h-sure" {
            h2 #h-sure { "How sure is that?" }
            @if budget.lines().is_empty() {
                p { "The site file states no accuracy, or there is no reading." }
            } @else {
                p.sub { "What each thing that may be wrong adds (k = 2, JCGM 100); the largest is the one to mend." }
                div.wide tabindex="0" role="region" aria-label="Uncertainty budget" { table {
                    thead { tr { th scope="col" { "What may be wrong" } th scope="col" { "Level" } th scope="col" { "Volume" } th scope="col" { "Mass" } } }
                    tbody {
                        @for line in budget.lines() {
                            tr { th scope="row" { (line.input) }
                                td { "± " (level(line.level)) } td { "± " (volume(line.volume)) } td { "± " (mass(line.mass)) } }
                        }
                        @let all = budget.expanded();
                        tr.sum { th scope="row" { "Together" }
                            td { "± " (level(all.level)) } td { "± " (volume(all.volume)) } td { "± " (mass(all.mass)) } }
                    }
                } }
            }
        }
    }
}

fn diagnosis(view: &View, tank: &TankView) -> Markup {
    html! {
        section.sheet aria-labelledby="h-found" {
            h2 #h-found { "What may be wrong with it" }
            @if tank.findings.is_empty() && tank.jump.is_none() { p { "Nothing is found." } }
            @if let Some(jump) = tank.untold_jump() { p.why { "Since " (view.shown.time(jump.since, view.now())) ": jump, " (jump.verdict.name()) ". " (jump.text) } }
            @for open in &tank.findings {
                p.why { "Since " (view.shown.time(open.since, view.now())) ": " (open.finding.sentence()) }
            }
            (remarks::settle(view, tank))
            @if !tank.abilities.is_empty() {
                details #abilities {
                    summary { "What would be found here, and what not" }
                    dl.rows { @for ability in tank.abilities.iter() {
                        div { dt { (if ability.diagnosable { "✓ " } else { "– " }) (ability.check) } dd { (ability.text) } }
                    } }
                }
            }
        }
    }
}
