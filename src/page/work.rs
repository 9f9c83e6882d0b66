//! Work on transmitters: the form that begins it, and the one that returns a transmitter to service.

use super::field::{Field, Form};
use super::forms::hidden;
use super::tasks::times_in;
use super::view::View;
use crate::engine::snapshot::SignalView;
use crate::site::settings::Role;
use crate::wire::name::fold;
use maud::{Markup, html};

const BACK: &str = "/signals";
const CAUTION: &str = "Until it is returned its own signal reaches no reading. With a hand value the level shown is not \
    measured; without one it is bad, and the alarms that bad data bring about are suppressed by design. Isolate, vent, \
    equalise and blow down only under the site's permit; blowing down a wet leg empties it, and the level then reads \
    falsely high.";

pub fn section(view: &View) -> Markup {
    let at_rest = view.snapshot.transmitters.iter();
    let at_rest = at_rest.filter(|signal| signal.work.is_none());
    let tags: Vec<(&str, &str)> = at_rest.map(|signal| (&*signal.tag, &*signal.tag)).collect();
    if !view.who.may(Role::Maintain) || tags.is_empty() {
        return html! {};
    }
    let form = Form::new(view, "work");
    let field = |name, label, hint| Field {
        name,
        label,
        hint,
        required: true,
        ..Field::default()
    };
    let hand = Field {
        required: false,
        ..field(
            "hand",
            "Hand value",
            "What stands in for it meanwhile, in what it reads, with the unit: \"24.1 kPa\". Left empty: nothing does.",
        )
    };
    let time = Field {
        usual: "2",
        ..field(
            "time",
            "For",
            "7 d at most; past it the signal counts again, and the work is told as overdue.",
        )
    };
    let content = html! {
        (form.choice(field("tag", "Transmitter", ""), &tags, tags[0].0))
        (form.line(field("permit", "Permit number", ""), "text", 80))
        (times_in(&form, time, "h"))
        (form.line(hand, "text", 40))
        (form.caution(CAUTION, "The permit is given, and the tank is watched by other means meanwhile"))
    };
    html! {
        section.sheet #begin aria-labelledby="h-begin" {
            h2 #h-begin { "Work on a transmitter" }
            p.sub { "Function check by NAMUR NE 107, for a stated time." }
            (form.whole("Begin work…", (BACK, &[]), &content, "Begin the work"))
        }
    }
}

/// Under a transmitter at which somebody works.
pub fn end(view: &View, signal: &SignalView) -> Markup {
    let tag = fold(&signal.tag);
    html! {
        @if view.who.may(Role::Maintain) {
            details id={ "end-" (tag) } {
                summary { "Return to service…" }
                form.entry method="post" action="/do/end-work" {
                    (hidden(view, BACK, &[("tag", &signal.tag)]))
                    label.tick { input type="checkbox" name="anyway" value="yes"; " whatever its signal says" }
                    small { "Look at what it reads first. Rounds begin a new series." }
                    button { "It is back in service" }
                }
            }
        }
    }
}
