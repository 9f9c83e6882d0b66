//! The overview: each tank as a drawing and its numbers, the one that needs a person first.

use super::layout::{self, Page, document, state};
use super::need::{Need, foremost, sorted};
use super::shown::{about, percent};
use super::units::{self, Asked};
use super::view::{Part, View, part};
use super::{PageState, drawing, horn, signs};
use crate::engine::snapshot::{AlarmView, TankView};
use crate::wire::name::fold;
use axum::extract::{Query, State};
use axum::http::header::HeaderMap;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use std::time::Duration;

/// So many alarms are named at the top; the rest are counted.
const NAMED: usize = 5;

pub(super) async fn page(
    State(state): State<PageState>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    if let Some(kept) = units::keep(&headers, "/", &asked) {
        return kept;
    }
    let mut view = state.view(&headers);
    units::apply(&mut view.shown, &asked);
    whole(&view, &asked).into_response()
}

fn whole(view: &View, asked: &Asked) -> Markup {
    let units = asked.units();
    let live = match units.is_empty() {
        true => "/live/overview".to_owned(),
        false => format!("/live/overview?{units}"),
    };
    let page = Page {
        title: "Overview",
        path: "/",
        live: Some(live),
    };
    let main = html! {
        h1.hide { "Overview" }
        (part(&now(view)))
        ul.tanks #order {
            @for tank in sorted(&view.snapshot.tanks) {
                li id=(item(tank)) {
                    (part(&numbers(view, tank)))
                    (part(&picture(view, tank)))
                }
            }
        }
        (part(&horn::part(view)))
        (units::form(view, asked, &page))
    };
    document(view, &page, &main)
}

/// Everything that changes by itself.
pub fn parts(view: &View) -> Vec<Part> {
    let mut parts = vec![layout::summary(view), now(view), horn::part(view)];
    for tank in &view.snapshot.tanks {
        parts.push(numbers(view, tank));
        parts.push(picture(view, tank));
    }
    parts
}

/// The order of the tanks, by the names of their elements.
pub fn order(view: &View) -> Vec<String> {
    sorted(&view.snapshot.tanks).into_iter().map(item).collect()
}

fn item(tank: &TankView) -> String {
    format!("t-{}", fold(&tank.name))
}

/// What waits for an answer, and what to do.
fn now(view: &View) -> Part {
    let alarms = view.snapshot.alarms();
    let mut waiting: Vec<(&str, &AlarmView)> = alarms
        .filter(|(_, alarm)| Need::of_alarm(alarm) == Need::Act)
        .collect();
    waiting.sort_by_key(|(_, alarm)| (std::cmp::Reverse(alarm.priority), alarm.since));
    let more = waiting.len().saturating_sub(NAMED);
    let content = html! {
        @if !waiting.is_empty() {
            section class={ "now " (colour(waiting[0].1)) } aria-label="To be answered now" {
                ol {
                    @for (tank, alarm) in waiting.iter().take(NAMED) {
                        li {
                            (signs::priority(alarm.priority))
                            div {
                                a.what href={ "/alarms#" (super::alarms::anchor(tank, alarm)) } {
                                    (tank) " " (alarm.code) ", " (alarm.priority.name())
                                }
                                @if let Some(since) = alarm.since { " since " (view.shown.time(since, view.now())) }
                                p.do { (response(alarm)) }
                            }
                        }
                    }
                }
                @if more > 0 { p { a href="/alarms" { "and " (more) " more" } } }
            }
        }
    };
    ("now".to_owned(), content)
}

fn response(alarm: &AlarmView) -> &str {
    let response = alarm.record.response.as_deref();
    response.unwrap_or("The site file names no response: look at the tank")
}

fn numbers(view: &View, tank: &TankView) -> Part {
    let (name, need, reading) = (fold(&tank.name), Need::of_tank(tank), &tank.reading);
    let by = view
        .shown
        .level_by(reading.level.and(reading.level_uncertainty));
    let content = html! {
        article class={ "tank " (need.class()) } {
            h2 { a href={ "/tank/" (name) } { (tank.title) } }
            @if let Some(alarm) = foremost(tank) {
                p class={ "say " (Need::of_alarm(alarm).class()) " " (colour(alarm)) } {
                    (signs::priority(alarm.priority)) b { (alarm.code) } " " (alarm.priority.name()) ": " (state(alarm))
                }
            }
            p.val {
                b { (view.shown.level_of(tank)) } " " (unit(view, tank))
                @if let Some(by) = by { i { " ± " (by) } }
                " " (signs::quality(reading.quality)) " " (view.age_of(&name, reading.time))
            }
            @if let Some(volume) = reading.volume { p.sub {
                span { (percent(reading.fill)) " full" } " · "
                span { (view.shown.volume(Some(volume.value))) }
                @if let Some(rate) = reading.rate { " · " span { (view.shown.rate(Some(rate.value))) } }
            } }
            @if let Some(next) = next_limit(view, tank) { p.sub { (next) } }
            @for reason in reading.reasons.iter() { p.why { (reason.text()) } }
            @if let Some(jump) = tank.untold_jump() { p.why { "Jump, " (jump.verdict.name()) ": " (jump.text) } }
            @for finding in &tank.findings { p.why { (finding.finding.sentence()) } }
            @if let Some(test) = &tank.test { p.why { "LIVE TEST of " (test.code) " by " (test.by) ": this is no reading of the tank" } }
            @if let Some(product) = &tank.product { p.sub { "holds " (product) } }
        }
    };
    (format!("n-{name}"), content)
}

fn unit(view: &View, tank: &TankView) -> String {
    let reading = &tank.reading;
    let known = [reading.level, reading.level_at_least, reading.level_at_most];
    if known.iter().any(Option::is_some) {
        super::shown::symbol(view.shown.units.level)
    } else {
        String::new()
    }
}

/// The colour of what is abnormal: red for danger, yellow for the rest.
fn colour(alarm: &AlarmView) -> &'static str {
    if alarm.priority >= crate::engine::snapshot::Priority::High {
        "red"
    } else {
        "yellow"
    }
}

/// "LAH at 4.700 m in 12 min (10 min to 15 min)"; to whole minutes, so that it holds still.
pub fn next_limit(view: &View, tank: &TankView) -> Option<String> {
    let next = tank.reading.next_limit?;
    let frame = &tank.frame;
    let is_there = |level: crate::quantity::Length| (level - next.limit).value.abs() < 1e-6;
    let limit = frame.limits.iter().find(|limit| is_there(limit.at));
    let name = match limit {
        Some(limit) => limit.code.to_string(),
        None if frame.marks.overflow.is_some_and(is_there) => "overflow".to_owned(),
        None if frame.marks.heel.is_some_and(is_there) => "heel".to_owned(),
        None if next.rises => "the top".to_owned(),
        None => "the bottom".to_owned(),
    };
    let time = |seconds: f64| about(Duration::from_secs_f64(coarse(seconds)));
    let most = next
        .at_most
        .map_or("more than a week".to_owned(), |most| time(most.value));
    let (after, least) = (time(next.after.value), time(next.at_least.value));
    let interval = match least == most && after == most {
        true => String::new(),
        false => format!(" ({least} to {most})"),
    };
    Some(format!(
        "{name} at {} in {after}{interval}",
        view.shown.level(next.limit)
    ))
}

/// To tens of seconds below three minutes, else to minutes: what flickers is not read.
fn coarse(seconds: f64) -> f64 {
    let step = if seconds < 180.0 { 10.0 } else { 60.0 };
    ((seconds / step).floor() * step).max(0.0)
}

fn picture(view: &View, tank: &TankView) -> Part {
    let level = view.shown.level_of(tank);
    let unit = unit(view, tank);
    let top = view.shown.level(tank.frame.top);
    let label = format!(
        "Level {level} {unit} of {top}, {}",
        percent(tank.reading.fill)
    );
    (
        format!("d-{}", fold(&tank.name)),
        drawing::drawing(tank, &label),
    )
}
