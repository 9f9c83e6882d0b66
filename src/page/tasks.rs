//! What people begin at a tank: a transfer, another product, the live test of an alarm. Each form says what follows
//! from it before it is sent.

use super::field::{Field, Form};
use super::forms::button;
use super::units::choices;
use super::view::View;
use crate::engine::snapshot::TankView;
use crate::quantity::{Dimension, find};
use crate::site::settings::Role;
use crate::wire::name::fold;
use maud::{Markup, html};

/// Times as people state them.
pub const TIMES: &[&str] = &["min", "h", "s", "d"];

const STOPS_NOTHING: &str = "Nothing is opened, stopped or closed by this: it tells, and whoever stands by stops. \
    The level shown is no overfill protection.";
const STEPS: &str = "The level is worked out with the other density at once, and steps. What the tank really holds is \
    for you to know: a wrong product is a wrong level.";
const TRIES: &str = "Notices go out and the horn sounds as if it were real, all of it marked TEST. Meanwhile this tank \
    shows what is put in; the real level is watched underneath, and ends the test if it has anything to tell. It \
    tries this program and whoever answers, not the transmitter and its lines.";

pub fn section(view: &View, tank: &TankView) -> Markup {
    if !view.who.may(Role::Operate) {
        return html! {};
    }
    html! {
        section.sheet #begin aria-labelledby="h-begin" {
            h2 #h-begin { "What you can begin" }
            div.deeds {
                @if tank.transfer.is_none() { (transfer(view, tank)) }
                @if !tank.frame.products.is_empty() { (product(view, tank)) }
                @if view.who.may(Role::Maintain) { (live_test(view, tank)) }
            }
        }
    }
}

/// The button that ends a transfer which is under way.
pub fn end_transfer(view: &View, tank: &TankView) -> Markup {
    html! {
        @if view.who.may(Role::Operate) {
            (button(view, "end-transfer", &back(tank), &[("tank", &tank.name)], "End following the transfer"))
        }
    }
}

fn transfer(view: &View, tank: &TankView) -> Markup {
    let form = Form::new(view, "transfer");
    let units = &view.shown.units;
    let field = |name, label, hint| Field {
        name,
        label,
        hint,
        ..Field::default()
    };
    let time = |name, label, hint, usual| Field {
        usual,
        required: true,
        ..field(name, label, hint)
    };
    let volumes = (Dimension::Volume, choices("volume"));
    let content = html! {
        (form.quantity(field("to", "To this level", "Fill in one of these three."), (Dimension::Length, choices("level")), units.level))
        (form.quantity(field("volume", "or to this volume", ""), volumes, units.volume))
        (form.quantity(field("by_volume", "or by so much more", "With a minus: so much less."), volumes, units.volume))
        (times(&form, time("tell", "Tell before the expected end", "", "5")))
        (times(&form, time("stop_within", "Overdue after the target by", "Still moving then, it is told as overdue.", "3")))
        (form.caution(STOPS_NOTHING, "Somebody stands by to stop it"))
    };
    form.whole(
        "Transfer…",
        (&back(tank), &[("tank", &tank.name)]),
        &content,
        "Follow it",
    )
}

fn product(view: &View, tank: &TankView) -> Markup {
    let form = Form::new(view, "product");
    let products = tank.frame.products.iter();
    let products: Vec<(&str, &str)> = products.map(|name| (&**name, &**name)).collect();
    let field = Field {
        name: "product",
        label: "It holds",
        required: true,
        ..Field::default()
    };
    let content = html! {
        (form.choice(field, &products, tank.product.as_deref().unwrap_or_default()))
        (form.caution(STEPS, "I know that this is in the tank"))
    };
    form.whole(
        "Another product…",
        (&back(tank), &[("tank", &tank.name)]),
        &content,
        "Take it",
    )
}

fn live_test(view: &View, tank: &TankView) -> Markup {
    let form = Form::new(view, "test");
    let alarms = tank.alarms.iter();
    let tried = alarms.filter(|alarm| alarm.limit.is_some() && !alarm.removed);
    let codes: Vec<(&str, String)> = tried
        .map(|alarm| {
            let limit = view.shown.given(alarm.limit, alarm.unit);
            (
                &*alarm.code,
                format!("{}, {}, limit {limit}", alarm.code, alarm.priority.name()),
            )
        })
        .collect();
    if codes.is_empty() {
        return html! {};
    }
    let codes: Vec<(&str, &str)> = codes
        .iter()
        .map(|(code, words)| (*code, &**words))
        .collect();
    let tags = tank.frame.tags.iter().map(|tag| (&**tag, &**tag));
    let tags: Vec<(&str, &str)> = std::iter::once(("", "the one on the liquid"))
        .chain(tags)
        .collect();
    let field = |name, label, hint| Field {
        name,
        label,
        hint,
        ..Field::default()
    };
    let value = Field {
        required: true,
        ..field(
            "value",
            "Put in",
            "With its unit: a level, \"5.6 m\", or what the transmitter would read, \"55 kPa\".",
        )
    };
    let time = Field {
        usual: "2",
        required: true,
        ..field(
            "time",
            "For",
            "15 min at most, and longer than its on-delay.",
        )
    };
    let content = html! {
        (form.choice(field("code", "Alarm", ""), &codes, codes[0].0))
        (form.line(value, "text", 40))
        (form.choice(field("at", "At the transmitter", ""), &tags, ""))
        (times(&form, time))
        (form.caution(TRIES, "Those who will be told know of it, and the tank itself is watched meanwhile"))
    };
    form.whole(
        "Live test of an alarm…",
        (&back(tank), &[("tank", &tank.name)]),
        &content,
        "Begin the test",
    )
}

/// A length of time; in minutes unless another unit is chosen.
pub fn times(form: &Form<'_>, field: Field<'_>) -> Markup {
    times_in(form, field, "min")
}

pub fn times_in(form: &Form<'_>, field: Field<'_>, usual: &str) -> Markup {
    let usual = find(usual, Dimension::Time);
    html! { @if let Some(usual) = usual { (form.quantity(field, (Dimension::Time, TIMES), usual)) } }
}

fn back(tank: &TankView) -> String {
    format!("/tank/{}", fold(&tank.name))
}
