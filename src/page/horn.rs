//! The horn: since when it sounds, who has silenced it where, and the form that does. Silencing answers no alarm.

use super::forms::hidden;
use super::view::{Part, View};
use crate::site::settings::Role;
use maud::html;

pub fn part(view: &View) -> Part {
    let horn = &view.snapshot.horn;
    let place = view.place.as_deref().unwrap_or("");
    let sounds_here = horn.sounds_at(place);
    let content = html! {
        section.horn aria-label="Horn" data-sounds=(sounds_here) {
            @match horn.since {
                Some(since) => p {
                    b { "Horn: " } "since " (view.shown.time(since, view.now()))
                    @for (place, by) in &horn.silenced { ", silenced at " (place) " by " (by) }
                },
                None => p { b { "Horn: " } "silent" },
            }
            button.sound type="button" hidden { "Sound on this screen: off" }
            @if horn.since.is_some() && view.who.may(Role::Operate) {
                form.row method="post" action="/do/silence" {
                    (hidden(view, "/alarms", &[]))
                    label { "Place" input name="place" value=(place) placeholder="everywhere" maxlength="40"; }
                    button { "Silence the horn" }
                    small { "No alarm is answered by it." }
                }
            }
        }
    };
    ("horn".to_owned(), content)
}
