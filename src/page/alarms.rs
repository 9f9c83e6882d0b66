//! The alarms: what is active, what waits to be settled, and always in sight what is hidden.

use super::layout::{self, Page, document, state};
use super::need::{Need, rank};
use super::view::{Part, View, part};
use super::{forms, horn, signs};
use crate::engine::snapshot::{AlarmView, Priority};
use crate::wire::name::fold;
use maud::{Markup, html};
use std::time::Duration;

/// Its element, its heading, and what it holds.
type Section = (&'static str, &'static str, fn(&AlarmView) -> bool);

/// The sections of the page, in their order.
const SECTIONS: &[Section] = &[
    ("act", "Not answered", |alarm| {
        Need::of_alarm(alarm) == Need::Act
    }),
    ("answered", "Active and answered", |alarm| {
        Need::of_alarm(alarm) == Need::Answered
    }),
    ("settle", "Back to normal, to be settled", |alarm| {
        Need::of_alarm(alarm) == Need::Settle
    }),
    ("doubt", "Normal, but not sure", |alarm| {
        Need::of_alarm(alarm) == Need::Doubt
    }),
    ("shelved", "Shelved", |alarm| alarm.state.code() == "SHLVD"),
    ("out", "Out of service", |alarm| {
        alarm.state.code() == "OOSRV"
    }),
    ("suppressed", "Suppressed by design", |alarm| {
        alarm.state.code() == "DSUPR"
    }),
];

pub fn page(view: &View) -> Markup {
    let page = Page {
        title: "Alarms",
        path: "/alarms",
        live: Some("/live/alarms".to_owned()),
    };
    let main = html! {
        h1 { "Alarms" }
        (part(&horn::part(view)))
        @for section in sections(view) { (part(&section)) }
    };
    document(view, &page, &main)
}

/// Everything that changes by itself; values last, within their sections.
pub fn parts(view: &View) -> Vec<Part> {
    let mut parts = vec![layout::summary(view), horn::part(view)];
    parts.extend(sections(view));
    let shown = view.snapshot.alarms();
    let shown = shown.filter(|(_, alarm)| Need::of_alarm(alarm) != Need::Calm);
    parts.extend(shown.map(|(tank, alarm)| value(view, tank, alarm)));
    parts
}

/// The name of an alarm's element.
pub fn anchor(tank: &str, alarm: &AlarmView) -> String {
    format!("a-{}-{}", fold(tank), fold(&alarm.code))
}

fn sections(view: &View) -> impl Iterator<Item = Part> {
    SECTIONS.iter().map(|(name, heading, holds)| {
        let all = view.snapshot.alarms();
        let mut held: Vec<(&str, &AlarmView)> = all.filter(|(_, alarm)| holds(alarm)).collect();
        held.sort_by_key(|(_, alarm)| (rank(alarm), alarm.since));
        let content = html! {
            section class={ "alarms " (name) } aria-labelledby={ "h-" (name) } {
                h2 id={ "h-" (name) } { (heading) ": " (held.len()) }
                @for (tank, alarm) in held { (one(view, tank, alarm)) }
            }
        };
        (format!("s-{name}"), content)
    })
}

/// The class that carries an alarm's colour while it is active.
fn colour(alarm: &AlarmView) -> &'static str {
    match Need::of_alarm(alarm) {
        Need::Act | Need::Answered if alarm.priority >= Priority::High => "red",
        Need::Act | Need::Answered => "yellow",
        Need::Settle => "blue",
        Need::Doubt | Need::Hidden | Need::Calm => "none",
    }
}

fn one(view: &View, tank: &str, alarm: &AlarmView) -> Markup {
    let now = view.now();
    let is_tank = view.snapshot.tanks.iter().any(|found| *found.name == *tank);
    html! {
        article class={ "alarm " (Need::of_alarm(alarm).class()) " " (colour(alarm)) } id=(anchor(tank, alarm)) {
            h3 {
                (signs::priority(alarm.priority)) " "
                @if is_tank { a href={ "/tank/" (fold(tank)) } { (tank) } } @else { (tank) }
                " " (alarm.code)
            }
            p.say {
                (alarm.priority.name()) " priority, " (state(alarm))
                @if let Some(since) = alarm.since { ", since " (view.shown.time(since, now)) }
                " " (view.nested(&value(view, tank, alarm)))
            }
            (hidden(view, alarm))
            @if alarm.active { @if let Some(within) = alarm.record.respond_within { (respond(view, alarm, within)) } }
            dl {
                @for (word, text) in [
                    ("Do", &alarm.record.response),
                    ("Cause", &alarm.record.cause),
                    ("Else", &alarm.record.consequence),
                ] {
                    @if let Some(text) = text { div class=(word.to_lowercase()) { dt { (word) } dd { (text) } } }
                }
                @if alarm.record.response.is_none() { div.do { dt { "Do" } dd { "The site file names no response: look at the tank." } } }
                @if !alarm.follows.is_empty() {
                    div { dt { "It tells for" } dd {
                        @for (tank, code) in &alarm.follows { (tank) " " (code) "; " }
                    } }
                }
            }
            (forms::of_alarm(view, tank, alarm))
        }
    }
}

fn respond(view: &View, alarm: &AlarmView, within: Duration) -> Markup {
    let until = alarm.since.and_then(|since| since.checked_add(within).ok());
    html! {
        p.respond {
            "Respond within " (crate::quantity::span(within))
            @if let Some(until) = until { ", by " (view.shown.time(until, view.now())) ": " (view.left_until(until)) }
        }
    }
}

/// What hides it, by whom, why, until when; and what goes on underneath.
fn hidden(view: &View, alarm: &AlarmView) -> Markup {
    let now = view.now();
    let underneath = alarm.process.is_active();
    html! {
        @if let Some(shelf) = &alarm.shelf {
            p.why { "Shelved by " (shelf.by) " until " (view.shown.time(shelf.until, now)) ": " (shelf.reason)
                @if shelf.once { " (or until it clears)" } }
        }
        @if let Some(out) = &alarm.out_of_service {
            p.why { "Out of service by " (out.by) " since " (view.shown.time(out.since, now))
                @if let Some(reason) = &out.reason { ": " (reason) } }
        }
        @if let Some(suppressed) = &alarm.suppressed {
            p.why { "Suppressed since " (view.shown.time(suppressed.since, now)) " by " (suppressed.cause) }
        }
        @if Need::of_alarm(alarm) == Need::Hidden && underneath { p.why.strong { "! It is active underneath" } }
    }
}

/// The value beside its limit; it changes with every reading.
fn value(view: &View, tank: &str, alarm: &AlarmView) -> Part {
    let content = html! {
        @if let Some(limit) = alarm.limit {
            "· now " b { (view.shown.given(alarm.value, alarm.unit)) } ", limit " (view.shown.given(Some(limit), alarm.unit))
        }
    };
    (format!("v-{}", anchor(tank, alarm)), content)
}
