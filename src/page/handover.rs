//! The handover of a shift: what is hidden, under work, suspected and due; a note; signed over by two names.

use super::forms::hidden;
use super::journal::rows;
use super::layout::{Page, document, state};
use super::need::{Need, rank};
use super::view::View;
use super::{PageState, signs};
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::AlarmView;
use crate::engine::{Event, EventKind, Quality};
use crate::journal::{Filter, Reader};
use crate::site::settings::Role;
use axum::extract::State;
use axum::http::header::HeaderMap;
use maud::{Markup, html};
use std::time::Duration;

/// The notes of so many hours are read again.
const BACK: Duration = Duration::from_secs(24 * 3600);
const NOTES: usize = 50;

pub(super) async fn page(State(state): State<PageState>, headers: HeaderMap) -> Markup {
    let view = state.view(&headers);
    let (file, from) = (state.journal.clone(), view.now().checked_sub(BACK).ok());
    let notes = tokio::task::spawn_blocking(move || {
        let filter = Filter {
            from,
            kind: Some(EventKind::Note),
            ..Filter::default()
        };
        Reader::open(&file)?.last(&filter, NOTES)
    });
    // A journal that can't be read is told by its own alarm and on its own page.
    let notes = notes.await.ok().and_then(Result::ok).unwrap_or_default();
    whole(&view, &notes)
}

fn whole(view: &View, notes: &[Event]) -> Markup {
    let page = Page {
        title: "Handover",
        path: "/handover",
        live: None,
    };
    let hides = |state| move |alarm: &AlarmView| alarm.state == state;
    let main = html! {
        h1 { "Shift handover" }
        p { "As of " b { (view.shown.moment(view.snapshot.utc)) } }
        (alarms(view, "Active or to be settled", |alarm| Need::of_alarm(alarm) <= Need::Settle))
        (alarms(view, "Shelved", hides(AlarmState::Shelved)))
        (alarms(view, "Out of service", hides(AlarmState::OutOfService)))
        (alarms(view, "Suppressed by design", hides(AlarmState::Suppressed)))
        (work(view))
        (suspected(view))
        (due(view))
        section.sheet aria-labelledby="h-notes" {
            h2 #h-notes { "Notes of the last 24 hours" }
            @if notes.is_empty() { p { "None." } } @else { (rows(view, notes.iter().rev())) }
        }
        (sign_over(view))
    };
    document(view, &page, &main)
}

fn list(heading: &str, items: &[Markup]) -> Markup {
    html! {
        section.sheet {
            h2 { (heading) ": " (items.len()) }
            @if !items.is_empty() { ul.plain { @for item in items { li { (item) } } } }
        }
    }
}

fn alarms(view: &View, heading: &str, holds: impl Fn(&AlarmView) -> bool) -> Markup {
    let mut held: Vec<_> = view
        .snapshot
        .alarms()
        .filter(|(_, alarm)| holds(alarm))
        .collect();
    held.sort_by_key(|(_, alarm)| rank(alarm));
    let time = |time| view.shown.time(time, view.now());
    let items: Vec<Markup> = held
        .into_iter()
        .map(|(tank, alarm)| {
            html! {
                (signs::priority(alarm.priority)) " " b { (tank) " " (alarm.code) } ", " (alarm.priority.name()) ": " (state(alarm))
                @if let Some(since) = alarm.since { ", since " (time(since)) }
                @if let Some(shelf) = &alarm.shelf { "; until " (time(shelf.until)) " by " (shelf.by) ": " (shelf.reason) }
                @if let Some(out) = &alarm.out_of_service { "; since " (time(out.since)) " by " (out.by)
                    @if let Some(reason) = &out.reason { ": " (reason) } }
                @if let Some(suppressed) = &alarm.suppressed { "; by " (suppressed.cause) }
                @if Need::of_alarm(alarm) == Need::Hidden && alarm.process.is_active() { b { "; active underneath" } }
            }
        })
        .collect();
    list(heading, &items)
}

fn work(view: &View) -> Markup {
    let at_work = view.snapshot.transmitters.iter();
    let at_work = at_work.filter_map(|signal| Some((signal, signal.work.as_ref()?)));
    let mut items: Vec<Markup> = at_work
        .map(|(signal, work)| html! {
            b { (signal.tag) } ": by " (work.memory.by) ", permit " (work.memory.permit) ", until "
            (view.shown.time(work.memory.until, view.now())) @if work.overdue { b { ", overdue" } }
        })
        .collect();
    let tested = view.snapshot.tanks.iter();
    let tested = tested.filter_map(|tank| Some((tank, tank.test.as_ref()?)));
    items.extend(tested.map(
        |(tank, test)| html! { b { (tank.name) } ": live test of " (test.code) " by " (test.by) },
    ));
    list("Under work or test", &items)
}

fn suspected(view: &View) -> Markup {
    let mut items = Vec::new();
    for tank in &view.snapshot.tanks {
        if tank.reading.quality != Quality::Good {
            let reasons: Vec<&str> = tank
                .reading
                .reasons
                .iter()
                .map(|reason| reason.text())
                .collect();
            items.push(html! { b { (tank.name) } ": " (signs::quality(tank.reading.quality)) " " (reasons.join(", ")) });
        }
        if let Some(jump) = &tank.jump {
            items.push(
                html! { b { (tank.name) } ": jump, " (jump.verdict.name()) ". " (jump.text) },
            );
        }
        for open in &tank.findings {
            items.push(html! { b { (tank.name) } ": " (open.finding.sentence()) });
        }
    }
    list("Suspected", &items)
}

fn due(view: &View) -> Markup {
    let tests = view.snapshot.tests.iter().filter(|test| test.overdue);
    let items: Vec<Markup> = tests
        .map(|test| {
            html! {
                b { (test.tank) " " (test.code) } ": test due"
                @if let Some(due) = test.due { " since " (view.shown.time(due, view.now())) }
            }
        })
        .collect();
    list("Due", &items)
}

/// One of the two is whoever has signed in; the other one types a name, and neither vouches for the other.
fn sign_over(view: &View) -> Markup {
    html! {
        section.sheet aria-labelledby="h-over" {
            h2 #h-over { "Sign over" }
            @match &view.who.signed_in {
                Some(person) if view.who.may(Role::Operate) => form.entry method="post" action="/do/handover" {
                    (hidden(view, "/handover", &[]))
                    p { "Handed over by " b { (person.name) } }
                    label { "Taken over by" input name="other" required maxlength="80"; }
                    label { "Note" textarea name="text" rows="3" maxlength="500" {} }
                    button.main { "Sign over" }
                },
                _ => p { "Sign in to hand over. On paper: handed over ____________________ taken over ____________________" },
            }
        }
    }
}
