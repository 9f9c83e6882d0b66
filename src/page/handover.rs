//! The handover of a shift: what is hidden, under work, suspected and due; a note; signed over by two names.

use super::forms::hidden;
use super::journal::rows;
use super::layout::{Page, document, state};
use super::need::{Need, rank};
use super::shown::since;
use super::view::View;
use super::{PageState, rounds, signs};
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::AlarmView;
use crate::engine::{Event, EventKind, Quality};
use crate::journal::{Filter, Reader};
use crate::people::Accounts;
use crate::site::settings::Role;
use crate::wire::name::fold;
use axum::extract::State;
use axum::http::header::HeaderMap;
use maud::{Markup, html};
use std::time::Duration;

/// The notes of so many hours are read again.
const BACK: Duration = Duration::from_secs(24 * 3600);
const NOTES: usize = 50;
/// Rounds that are due within so long are told: no shift is longer. Common practice, no source.
const AHEAD: Duration = Duration::from_secs(12 * 3600);

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
    let main = html! {
        h1 { "Shift handover" }
        p { "As of " b { (view.shown.moment(view.snapshot.utc)) } }
        @for (heading, items) in sections(view) { (list(heading, &items)) }
        section.sheet aria-labelledby="h-notes" {
            h2 #h-notes { "Notes of the last 24 hours" }
            @if notes.is_empty() { p { "None." } } @else { (rows(view, notes.iter().rev())) }
        }
        (sign_over(view))
    };
    document(view, &page, &main)
}

/// What is open, under the headings that it is handed over by.
fn sections(view: &View) -> [(&'static str, Vec<Markup>); 7] {
    let hides = |state| move |alarm: &AlarmView| alarm.state == state;
    let open = |alarm: &AlarmView| Need::of_alarm(alarm) <= Need::Settle;
    [
        ("Active or to be settled", alarms(view, open)),
        ("Shelved", alarms(view, hides(AlarmState::Shelved))),
        (
            "Out of service",
            alarms(view, hides(AlarmState::OutOfService)),
        ),
        (
            "Suppressed by design",
            alarms(view, hides(AlarmState::Suppressed)),
        ),
        ("Under work or test", work(view)),
        ("Suspected", suspected(view)),
        ("Due", due(view)),
    ]
}

/// What is open in numbers, for who signs and for the journal: "active or to be settled 2, due 1".
pub fn open(view: &View) -> String {
    let counts = sections(view).into_iter();
    let counts = counts.filter(|(_, items)| !items.is_empty());
    let counts: Vec<String> = counts
        .map(|(heading, items)| format!("{} {}", heading.to_lowercase(), items.len()))
        .collect();
    match counts.is_empty() {
        true => "nothing".to_owned(),
        false => counts.join(", "),
    }
}

fn list(heading: &str, items: &[Markup]) -> Markup {
    html! {
        section.sheet {
            h2 { (heading) ": " (items.len()) }
            @if !items.is_empty() { ul.plain { @for item in items { li { (item) } } } }
        }
    }
}

fn alarms(view: &View, holds: impl Fn(&AlarmView) -> bool) -> Vec<Markup> {
    let mut held: Vec<_> = view
        .snapshot
        .alarms()
        .filter(|(_, alarm)| holds(alarm))
        .collect();
    held.sort_by_key(|(_, alarm)| rank(alarm));
    let time = |time| view.shown.time(time, view.now());
    held.into_iter()
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
        .collect()
}

fn work(view: &View) -> Vec<Markup> {
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
    items
}

fn suspected(view: &View) -> Vec<Markup> {
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
        if let Some(jump) = tank.untold_jump() {
            items.push(
                html! { b { (tank.name) } ": jump, " (jump.verdict.name()) ". " (jump.text) },
            );
        }
        for open in &tank.findings {
            items.push(html! { b { (tank.name) } ": " (open.finding.sentence()) });
        }
        if rounds::is_conspicuous(&tank.rounds) {
            items.push(html! {
                a href={ "/tank/" (fold(&tank.name)) "#rounds" } { b { (tank.name) } ": rounds" } ". " (rounds::concluded(&tank.rounds))
            });
        }
    }
    items
}

/// Tests and rounds that are overdue, and rounds that become due in the next shift.
fn due(view: &View) -> Vec<Markup> {
    let now = view.now();
    let time = |time| view.shown.time(time, now);
    let tests = view.snapshot.tests.iter().filter(|test| test.overdue);
    let mut items: Vec<Markup> = tests
        .map(|test| {
            html! {
                b { (test.tank) " " (test.code) } ": test overdue"
                @if let Some(due) = test.due { " since " (time(due)) }
            }
        })
        .collect();
    let tanks = view.snapshot.tanks.iter();
    let mut rounds: Vec<_> = tanks
        .filter_map(|tank| Some((tank.rounds.due?, tank)))
        .filter(|(due, tank)| tank.rounds.overdue || since(now, *due) <= AHEAD)
        .collect();
    rounds.sort_by_key(|(due, _)| *due);
    items.extend(rounds.into_iter().map(|(due, tank)| {
        html! {
            a href={ "/tank/" (fold(&tank.name)) "#rounds" } { b { (tank.name) } ": round" }
            @if tank.rounds.overdue { b { " overdue since " (time(due)) } } @else { " due at " (time(due)) }
        }
    }));
    items
}

/// One of the two is whoever has signed in; the other one types a name, and neither vouches for the other.
fn sign_over(view: &View) -> Markup {
    html! {
        section.sheet aria-labelledby="h-over" {
            h2 #h-over { "Sign over" }
            @match &view.who.signed_in {
                Some(person) if view.who.may(Role::Operate) => form.entry method="post" action="/do/handover" {
                    (hidden(view, "/handover", &[("once", &Accounts::new_id())]))
                    p { "Handed over by " b { (person.name) } ". Open: " (open(view)) ". It goes into the journal with both names." }
                    label { "Taken over by" input name="other" required maxlength="80"; }
                    label { "Note" textarea name="text" rows="3" maxlength="500" {} }
                    button.main { "Sign over" }
                },
                _ => p { "Sign in to hand over. On paper: handed over ____________________ taken over ____________________" },
            }
        }
    }
}
