//! The signals: of each transmitter and contact what came over the wire, what it means, and how it fares.

use super::layout::{self, Page, document};
use super::shown::{UNKNOWN, symbol};
use super::view::{Part, View, part};
use super::{signs, view, work};
use crate::engine::snapshot::SignalView;
use crate::wire::signal::hexadecimal;
use maud::{Markup, html};

pub fn page(view: &View) -> Markup {
    let page = Page {
        title: "Signals",
        path: "/signals",
        live: Some("/live/signals".to_owned()),
    };
    let main = html! {
        h1 { "Signals" }
        (part(&links(view)))
        (part(&transmitters(view)))
        (part(&contacts(view)))
        (work::section(view))
    };
    document(view, &page, &main)
}

pub fn parts(view: &View) -> Vec<Part> {
    vec![
        layout::summary(view),
        links(view),
        transmitters(view),
        contacts(view),
    ]
}

fn links(view: &View) -> view::Part {
    let content = html! {
        section.sheet aria-labelledby="h-links" {
            h2 #h-links { "Links" }
            div.wide tabindex="0" role="region" aria-label="Table of links" { table {
                thead { tr { th scope="col" { "Link" } th scope="col" { "State" } th scope="col" { "Since" } th scope="col" { "Round trip" } } }
                tbody { @for link in &view.snapshot.links {
                    tr {
                        th scope="row" { (link.name) }
                        td { @if link.up { "up" } @else { span.q.bad { "✕ down" } " " (link.trouble) } }
                        td { (view.shown.time(link.since, view.now())) }
                        td { (round_trip(view, &link.name)) }
                    }
                } }
            } }
        }
    };
    ("links".to_owned(), content)
}

/// How long the last answer over a link took.
fn round_trip(view: &View, link: &str) -> String {
    let time = view.round_trip(link);
    time.map_or(UNKNOWN.to_owned(), |time| {
        format!("{:.1} ms", time.as_secs_f64() * 1e3)
    })
}

fn transmitters(view: &View) -> view::Part {
    let content = html! {
        section.sheet aria-labelledby="h-transmitters" {
            h2 #h-transmitters { "Transmitters" }
            div.wide tabindex="0" role="region" aria-label="Table of transmitters" { table {
                thead { tr { th scope="col" { "Tag" } th scope="col" { "Link" } th scope="col" { "Words in the registers" } th scope="col" { "Their number" } th scope="col" { "Value" } th scope="col" { "Quality" } th scope="col" { "Read" } th scope="col" { "Round trip" } } }
                tbody { @for signal in &view.snapshot.transmitters { (row(view, signal)) } }
            } }
        }
    };
    ("transmitters".to_owned(), content)
}

fn row(view: &View, signal: &SignalView) -> Markup {
    let value = signal.value.map(|si| signal.unit.from_si(si));
    html! {
        tr {
            th scope="row" { (signal.tag) }
            td { (signal.link) }
            td { @match &signal.words { Some(words) => code { (hexadecimal(words).join(" ")) }, None => "–" } }
            td { @match signal.raw { Some(raw) => { (raw) }, None => "–" } }
            td { @match value { Some(value) => { (format!("{value:.4} ")) (symbol(signal.unit)) }, None => "–" } }
            td {
                (signs::quality(signal.quality))
                @for reason in signal.reasons.iter() { " " (reason.text()) }
                @if let Some(at_work) = &signal.work {
                    p.why { "Function check by " (at_work.memory.by) ", permit " (at_work.memory.permit) ", until "
                        (view.shown.time(at_work.memory.until, view.now())) @if at_work.overdue { ": overdue" } }
                    (work::end(view, signal))
                }
            }
            td { @match signal.time { Some(time) => { (view.shown.time(time, view.now())) }, None => "never" } }
            td { (round_trip(view, &signal.link)) }
        }
    }
}

fn contacts(view: &View) -> view::Part {
    let content = html! {
        @if !view.snapshot.contacts.is_empty() {
            section.sheet aria-labelledby="h-contacts" {
                h2 #h-contacts { "Contacts" }
                div.wide tabindex="0" role="region" aria-label="Table of contacts" { table {
                    thead { tr { th scope="col" { "Tag" } th scope="col" { "Link" } th scope="col" { "State" } th scope="col" { "Means" } th scope="col" { "Quality" } } }
                    tbody { @for contact in &view.snapshot.contacts {
                        tr {
                            th scope="row" { (contact.tag) }
                            td { (contact.link) }
                            td { (match contact.on { Some(true) => "on", Some(false) => "off", None => "not known" }) }
                            td { @if let Some(means) = &contact.means { (means) } }
                            td { (signs::quality(contact.quality)) @for reason in contact.reasons.iter() { " " (reason.text()) } }
                        }
                    } }
                } }
            }
        }
    };
    ("contacts".to_owned(), content)
}
