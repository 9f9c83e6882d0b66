//! What people said of a tank and what happened to it lately, and the forms by which they say more.

use super::forms::{button, hidden};
use super::journal::rows;
use super::view::View;
use crate::engine::snapshot::TankView;
use crate::engine::{Event, Reason};
use crate::journal::{Filter, JournalError, Reader};
use crate::people::Accounts;
use crate::site::settings::Role;
use crate::wire::name::fold;
use maud::{Markup, html};
use std::path::Path;

/// So many events are shown of a tank.
const SHOWN: usize = 20;

pub fn of_tank(file: &Path, tank: &str) -> Result<Vec<Event>, JournalError> {
    let filter = Filter {
        tank: Some(tank.to_owned()),
        ..Filter::default()
    };
    Reader::open(file)?.last(&filter, SHOWN)
}

pub fn section(view: &View, tank: &TankView, events: &[Event]) -> Markup {
    let back = format!("/tank/{}#notes", fold(&tank.name));
    html! {
        section.sheet #notes aria-labelledby="h-notes" {
            h2 #h-notes { "Notes and events" }
            @if view.who.may(Role::Operate) {
                form.row method="post" action="/do/note" {
                    (hidden(view, &back, &[("tank", &tank.name), ("once", &Accounts::new_id())]))
                    label.grow { "Note " input name="text" required maxlength="500"; }
                    button { "Write it down" }
                }
            }
            (rows(view, events.iter().rev()))
            p { a href={ "/journal?tank=" (fold(&tank.name)) } { "All of its events" } }
        }
    }
}

/// What a person can settle who has looked at the tank.
pub fn settle(view: &View, tank: &TankView) -> Markup {
    if !view.who.may(Role::Operate) {
        return html! {};
    }
    let back = format!("/tank/{}", fold(&tank.name));
    let fields = [("tank", &*tank.name)];
    let reasons = tank.reading.reasons;
    html! {
        div.deeds {
            @if tank.jump.is_some() { (button(view, "confirm-level", &back, &fields, "I have looked at the sight glass: the level is right")) }
            @if [Reason::LowLegFlooded, Reason::LowLegSuspected, Reason::EmptyOrLowLegFlooded].iter().any(|reason| reasons.has(*reason)) {
                (button(view, "confirm-leg-drained", &back, &fields, "The low leg is drained"))
            }
            @if let Some(test) = &tank.test {
                (button(view, "end-test", &back, &[("tank", &*tank.name), ("code", &*test.code)], "End the live test"))
            }
        }
    }
}
