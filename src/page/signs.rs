//! Signs: each priority has a shape, a number and a word, so that colour is never alone.

use crate::engine::Quality;
use crate::engine::snapshot::Priority;
use maud::{Markup, html};

/// Drawn once a page, used wherever a sign stands.
pub fn definitions() -> Markup {
    let shapes = [
        ("s1", "M12 0 24 12 12 24 0 12z", "1", "12", "16.5"),
        ("s2", "M12 1 24 23H0z", "2", "12", "20"),
        ("s3", "M1 1H23V23H1z", "3", "12", "17"),
        ("s4", "M12 1a11 11 0 1 0 .01 0z", "4", "12", "16.5"),
    ];
    html! {
        svg class="defs" aria-hidden="true" width="0" height="0" {
            @for (id, path, number, x, y) in shapes {
                symbol id=(id) viewBox="-1 -1 26 26" {
                    path d=(path) {}
                    text.number x=(x) y=(y) text-anchor="middle" { (number) }
                }
            }
            pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                rect class="hatch" width="4" height="8" {}
            }
        }
    }
}

/// The sign of a priority; its word stands beside it.
pub fn priority(priority: Priority) -> Markup {
    let (id, colour) = match priority {
        Priority::Highest => ("#s1", "red"),
        Priority::High => ("#s2", "red"),
        Priority::Medium => ("#s3", "yellow"),
        Priority::Low => ("#s4", "yellow"),
    };
    html! { svg class={ "sign " (colour) } aria-hidden="true" { use href=(id) {} } }
}

/// A quality in a word, with a shape where it is not good.
pub fn quality(quality: Quality) -> Markup {
    match quality {
        Quality::Good => html! { span.q { "good" } },
        Quality::Uncertain => html! { span.q.unsure { "? uncertain" } },
        Quality::Bad => html! { span.q.bad { "✕ bad" } },
    }
}
