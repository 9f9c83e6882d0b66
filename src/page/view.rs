//! What a page is made from: the snapshot of this moment, how numbers are shown, and who looks.
//!
//! A page is made of parts with names of their own. The same functions make them for the whole page and, one by one
//! as they change, for the stream that keeps it live.

use super::sent::Returned;
use super::shown::{Shown, about, since};
use crate::engine::Snapshot;
use crate::people::Visitor;
use crate::quantity::Timestamp;
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

/// Snapshots come at least every 2 s; later than this nobody judges the alarms.
const LATE: Duration = Duration::from_secs(6);

#[derive(Debug)]
pub struct View {
    pub snapshot: Arc<Snapshot>,
    pub shown: Shown,
    pub who: Visitor,
    /// How old the snapshot is.
    pub age: Duration,
    /// The page as a whole; in the stream what changes every second is left to parts and moments of its own.
    pub whole: bool,
    /// The place whose horn this screen is.
    pub place: Option<String>,
    /// What came of the form that was sent last.
    pub said: Option<Said>,
    /// A form that could not be taken, with what was typed.
    pub returned: Option<Returned>,
    /// Whoever reaches the page may read it.
    pub open: bool,
    pub simulated: bool,
    pub round_trips: Arc<BTreeMap<String, Duration>>,
}

/// An answer to a form, shown once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    pub done: bool,
    pub text: String,
}

/// A part's name, which is its element's, and what is in it.
pub type Part = (String, Markup);

impl View {
    /// The wall clock at this moment.
    pub fn now(&self) -> Timestamp {
        let now = self.snapshot.utc.checked_add(self.age);
        now.unwrap_or(self.snapshot.utc)
    }

    /// Whether whoever looks may see how the site stands.
    pub fn sees(&self) -> bool {
        self.open || self.who.signed_in.is_some()
    }

    /// How long the last answer over a link took.
    pub fn round_trip(&self, link: &str) -> Option<Duration> {
        self.round_trips.get(link).copied()
    }

    /// None while readings come in; else for how long none has.
    pub fn stalled(&self) -> Option<Duration> {
        (self.age > LATE).then_some(self.age)
    }

    /// The age of what was read then; `of` names the moment in the stream.
    pub fn age_of(&self, of: &str, time: Timestamp) -> Markup {
        html! {
            span.age data-age=(of) {
                @if self.whole { (about(since(time, self.now()))) " old" }
            }
        }
    }

    /// A part within another one.
    pub fn nested(&self, (name, content): &Part) -> Markup {
        html! { span id=(name) data-part { @if self.whole { (PreEscaped(&content.0)) } } }
    }

    /// How much time there is until then; none is left once it is over.
    pub fn left_until(&self, time: Timestamp) -> Markup {
        let left = since(self.now(), time);
        html! {
            span.left data-until=(time.as_millisecond()) {
                @if self.whole { @if left.is_zero() { "time is over" } @else { (about(left)) " left" } }
            }
        }
    }

    /// The moments that ages count from, as JSON: milliseconds by name.
    pub fn moments(&self) -> serde_json::Value {
        let of_tanks = self.snapshot.tanks.iter().map(|tank| {
            let name = crate::wire::name::fold(&tank.name);
            (name, tank.reading.time.as_millisecond().into())
        });
        serde_json::Value::Object(of_tanks.collect())
    }
}

/// An element that the stream can fill anew.
pub fn part((name, content): &Part) -> Markup {
    html! { div id=(name) data-part { (PreEscaped(&content.0)) } }
}
