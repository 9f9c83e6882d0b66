//! What every page has around it: the head, where one can go, how things stand, and the cautions.

use super::need::Need;
use super::view::{Part, View, part};
use super::{access, signs};
use crate::engine::snapshot::{AlarmView, Priority};
use crate::site::settings::Role;
use maud::{DOCTYPE, Markup, html};

/// Where one can go: address and name.
const PLACES: &[(&str, &str)] = &[
    ("/", "Overview"),
    ("/alarms", "Alarms"),
    ("/journal", "Journal"),
    ("/signals", "Signals"),
    ("/inventory", "Inventory"),
    ("/handover", "Handover"),
];

const CAUTIONS: &[&str] = &[
    "Not a safety instrumented system and has no SIL; not an independent overfill prevention system: it shares its \
     sensor with the indication, so it is no independent layer of protection.",
    "Nothing may be controlled, interlocked or tripped from its outputs. Loss of power, network or this program \
     removes its alarms; e-mail, webhook and MQTT are no guaranteed path to a person.",
    "Not for custody transfer or tax; not leak detection in the sense of a regulation. Local codes and licensed \
     practice decide; testing at intervals is the owner's duty.",
    "Level is inferred from weight: foam, boiling, emulsion, ice and layers are not seen, nor anything outside the \
     taps; a dry leg flooded by overfilling reads empty.",
    "At a boiler the direct water gauge and the low-water cut-out rule; for liquefied gas the legal filling limit.",
    "Isolate, vent, equalise and blow down only under the site's permit; blowing down a wet leg empties it, and the \
     level then reads falsely high. A zero trim in the transmitter and `zero` in the site file count twice.",
    "A serial Modbus line has one master; many devices take one to four TCP sessions, and a new one may push out the \
     controller. Demo, simulated and test data are marked SIMULATED.",
];

/// One page: its title, where in the list of places it is, and what the stream calls it.
pub struct Page<'a> {
    pub title: &'a str,
    pub path: &'a str,
    /// The stream that keeps it live; none for what stands still.
    pub live: Option<String>,
}

/// The whole document.
pub fn document(view: &View, page: &Page<'_>, main: &Markup) -> Markup {
    let snapshot = &view.snapshot;
    // Nobody's words are to be taken away while they write.
    let refreshes = page.path == "/" || !view.who.may(Role::Operate);
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (page.title) " · " (snapshot.site) }
                link rel="stylesheet" href="/style.css";
                link rel="icon" href="data:,";
                @if page.live.is_some() {
                    script src="/live.js" defer {}
                    @if refreshes { noscript { meta http-equiv="refresh" content="10"; } }
                }
            }
            body data-live=[page.live.as_deref()] data-now=(view.now().as_millisecond())
                data-moments=[page.live.as_ref().map(|_| view.moments())] {
                (signs::definitions())
                a.skip href="#main" { "To the content" }
                header {
                    @if view.simulated { p.simulated { "SIMULATED: no real plant" } }
                    div.bar {
                        strong.site { (snapshot.site) }
                        @if view.sees() {
                            nav aria-label="Pages" {
                                @for (path, name) in PLACES {
                                    a href=(path) aria-current=[(*path == page.path).then_some("page")] { (name) }
                                }
                            }
                        }
                        (access::who(view, page.path))
                    }
                    @if view.sees() { (part(&summary(view))) }
                    div #lost role="alert" hidden {}
                }
                @if let Some(said) = &view.said {
                    p class={ "said " (if said.done { "done" } else { "refused" }) } role="status" {
                        (if said.done { "✓ " } else { "✕ Not done: " }) (said.text)
                    }
                }
                @if page.live.is_some() && !refreshes {
                    noscript { p.standing { "Without a script this page does not change by itself: " a href=(page.path) { "load it again" } "." } }
                }
                main #main { (main) }
                footer {
                    h2 { "Cautions" }
                    ul { @for caution in CAUTIONS { li { (caution) } } }
                    p {
                        "As JSON: " a href="/api/v1/tanks" { "tanks" } ", " a href="/api/v1/alarms" { "alarms" } ", "
                        a href="/api/v1/transmitters" { "transmitters" } ", " a href="/api/v1/contacts" { "contacts" } ", " a href="/api/v1/openapi.json" { "their description" }
                        ". " a href="/metrics" { "Metrics" } ", " a href="/health/ready" { "health" } "."
                    }
                }
            }
        }
    }
}

/// How things stand, in one line that is read out when it changes.
pub fn summary(view: &View) -> Part {
    let count = |need: Need| {
        let alarms = view.snapshot.alarms();
        alarms
            .filter(|(_, alarm)| Need::of_alarm(alarm) == need)
            .count()
    };
    let act = count(Need::Act);
    let urgent = view
        .snapshot
        .alarms()
        .any(|(_, alarm)| Need::of_alarm(alarm) == Need::Act && alarm.priority >= Priority::High);
    let rest = [
        (count(Need::Answered), "active and answered", "yellow"),
        (count(Need::Settle), "back to normal, to be settled", "blue"),
        (count(Need::Hidden), "hidden", "none"),
    ];
    let content = html! {
        p.summary role="status" {
            @if act > 0 {
                a class={ "count " (if urgent { "red" } else { "yellow" }) } href="/alarms" { "! " (act) " not answered" }
            } @else {
                span.count.none { "No alarm waits for an answer" }
            }
            @for (number, words, colour) in rest.iter().filter(|(number, ..)| *number > 0) {
                " " a class={ "count " (colour) } href="/alarms" { (number) " " (words) }
            }
            " " span.clock { (view.shown.day(view.snapshot.utc)) }
        }
        @if let Some(age) = view.stalled() {
            p.trouble { "✕ Nobody judges the alarms: no reading was worked out for " (super::shown::about(age)) ". Look at the tanks themselves; see the program's log." }
        }
        @for link in view.snapshot.links.iter().filter(|link| !link.up) {
            p.trouble { "✕ Link " (link.name) " is down since " (view.shown.time(link.since, view.now())) ": " (link.trouble) }
        }
        @if view.snapshot.notices.flood { p.trouble { "! Alarms come in a flood: notices are gathered. Look at the highest priority first." } }
    };
    ("summary".to_owned(), content)
}

/// An alarm's state in words, with what makes it doubtful.
pub fn state(alarm: &AlarmView) -> Markup {
    html! {
        (alarm.state.words())
        @if alarm.questionable { ", questionable" }
        @if alarm.removed { ", gone from the site file" }
        @if alarm.test { ", under a live test" }
    }
}
