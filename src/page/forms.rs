//! The forms by which people answer alarms: each is one request at the entrance, and works without a script.

use super::view::View;
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::{AlarmView, Priority};
use crate::site::settings::Role;
use maud::{Markup, html};

/// Times that a shelf is offered for, s, and what they are called; the site may allow less.
const SHELVES: &[(u32, &str)] = &[
    (900, "15 min"),
    (3_600, "1 h"),
    (7_200, "2 h"),
    (14_400, "4 h"),
    (28_800, "8 h"),
];

/// A form with one button; `fields` go with it as they are.
pub fn button(view: &View, deed: &str, back: &str, fields: &[(&str, &str)], word: &str) -> Markup {
    html! {
        form.deed method="post" action={ "/do/" (deed) } {
            (hidden(view, back, fields))
            button { (word) }
        }
    }
}

pub fn hidden(view: &View, back: &str, fields: &[(&str, &str)]) -> Markup {
    html! {
        input type="hidden" name="token" value=(view.who.token);
        input type="hidden" name="back" value=(back);
        @for (name, value) in fields { input type="hidden" name=(name) value=(value); }
    }
}

/// What can be done with an alarm as it stands, by whoever looks.
pub fn of_alarm(view: &View, tank: &str, alarm: &AlarmView) -> Markup {
    if !view.who.may(Role::Operate) {
        return html! {};
    }
    let anchor = super::alarms::anchor(tank, alarm);
    let back = format!("/alarms#{anchor}");
    let activation = alarm.activation.map(|number| number.to_string());
    let named = [("tank", tank), ("code", &*alarm.code)];
    let answered = [
        named[0],
        named[1],
        ("activation", activation.as_deref().unwrap_or("")),
    ];
    let is_hidden = matches!(
        alarm.state,
        AlarmState::Shelved | AlarmState::Suppressed | AlarmState::OutOfService
    );
    let maintains = view.who.may(Role::Maintain);
    html! {
        div.deeds {
            @if alarm.state.needs_acknowledgement() { (button(view, "acknowledge", &back, &answered, "Acknowledge")) }
            @if alarm.state == AlarmState::LatchedAcknowledged { (button(view, "reset", &back, &named, "Reset")) }
            @if alarm.shelf.is_some() { (button(view, "unshelve", &back, &named, "Unshelve")) }
            @if alarm.out_of_service.is_some() && maintains { (button(view, "return", &back, &named, "Return to service")) }
            @if !is_hidden && alarm.priority != Priority::Highest { (shelve(view, &anchor, &back, &named)) }
            @if alarm.out_of_service.is_none() && maintains { (out_of_service(view, &anchor, &back, &named)) }
        }
    }
}

fn shelve(view: &View, anchor: &str, back: &str, named: &[(&str, &str)]) -> Markup {
    html! {
        details id={ "shelve-" (anchor) } {
            summary { "Shelve…" }
            form.entry method="post" action="/do/shelve" {
                (hidden(view, back, named))
                label { "Reason" input name="reason" required maxlength="200"; }
                label { "For" select name="seconds" {
                    @for (seconds, name) in SHELVES { option value=(seconds) selected[*seconds == 3600] { (name) } }
                } }
                label.tick { input type="checkbox" name="until_clear" value="yes"; " only until it clears" }
                button { "Shelve it" }
            }
        }
    }
}

fn out_of_service(view: &View, anchor: &str, back: &str, named: &[(&str, &str)]) -> Markup {
    html! {
        details id={ "out-" (anchor) } {
            summary { "Out of service…" }
            form.entry method="post" action="/do/out-of-service" {
                (hidden(view, back, named))
                label { "Reason" input name="reason" required maxlength="200"; }
                button { "Take it out of service" }
            }
        }
    }
}
