//! Lanes below a level: what lasted as bars, what happened as diamonds, what was expected as brackets.

use super::pen::{Anchor, Pen, width};
use super::scale::{Along, LEFT, RIGHT};
use crate::engine::Quality;
use crate::engine::alarm::AlarmState;
use crate::rehearsal::Judged;
use crate::rehearsal::script::{Expectation, shown};
use std::time::Duration;

pub const LANE: f64 = 19.0;
const BAR: f64 = 14.0;
const LETTERS: f64 = 11.0;
/// How tall an expectation is: its sentence, and the bracket under it.
pub const EXPECTED: f64 = 29.0;

/// Something that lasted, or, from and to the same moment, that happened.
#[derive(Clone, Debug)]
pub struct Bar {
    pub from: Duration,
    pub to: Duration,
    pub class: &'static str,
    pub text: String,
    /// More than there is room for.
    pub says: String,
}

impl Bar {
    pub fn of_state(from: Duration, to: Duration, state: AlarmState) -> Option<Self> {
        let class = match state {
            AlarmState::Normal => return None,
            AlarmState::Unacknowledged => "told",
            AlarmState::Acknowledged => "answered",
            AlarmState::ReturnedUnacknowledged
            | AlarmState::LatchedUnacknowledged
            | AlarmState::LatchedAcknowledged => "waits",
            AlarmState::Shelved | AlarmState::Suppressed | AlarmState::OutOfService => "hidden",
        };
        Some(Self::new(from, to, class, state.code(), state.words()))
    }

    pub fn of_quality(from: Duration, to: Duration, quality: Quality) -> Option<Self> {
        let class = match quality {
            Quality::Good => return None,
            Quality::Uncertain => "doubt",
            Quality::Bad => "bad",
        };
        Some(Self::new(from, to, class, quality.name(), "quality"))
    }

    pub fn new(from: Duration, to: Duration, class: &'static str, text: &str, what: &str) -> Self {
        let says = match from == to {
            true => format!("{}: {text}: {what}", shown(from)),
            false => format!("{text}: {what}, {} to {}", shown(from), shown(to)),
        };
        Self {
            from,
            to,
            class,
            text: text.to_owned(),
            says,
        }
    }
}

/// Bars in their order, with their texts where there is room for them: inside, or else before the next one.
pub fn lane(pen: &mut Pen, along: Along, top: f64, name: &str, bars: &[Bar]) {
    let middle = top + LANE / 2.0;
    pen.text("small", (LEFT - 8.0, middle + 4.0), Anchor::End, name);
    pen.path("track", &format!("M{LEFT} {middle:.1}H{RIGHT}"));
    for (place, bar) in bars.iter().enumerate() {
        let (from, to) = (along.x(bar.from), along.x(bar.to));
        let next = bars
            .get(place + 1)
            .map_or(RIGHT + 160.0, |next| along.x(next.from));
        let wide = width(&bar.text, LETTERS) + 8.0;
        if bar.from == bar.to {
            let diamond = format!("M{from:.1} {:.1}l5 5l-5 5l-5 -5Z", middle - 5.0);
            pen.spot(bar.class, &diamond, &bar.says);
        } else {
            let half = BAR / 2.0;
            // However short, it is seen.
            let end = to.max(from + 1.5);
            pen.rectangle(
                bar.class,
                (from, middle - half),
                (end, middle + half),
                &bar.says,
            );
        }
        if to - from < wide {
            if next - to >= wide + 6.0 {
                pen.text("loose", (to + 7.0, middle + 4.0), Anchor::Start, &bar.text);
            }
            continue;
        }
        let class = match bar.class {
            "told" => "small on-told",
            "bad" | "doubt" | "hidden" => {
                // On a hatch nothing can be read: it stands on paper.
                let half = BAR / 2.0 - 1.0;
                let (corner, other) = ((from + 3.0, middle - half), (from + wide, middle + half));
                pen.rectangle("paper", corner, other, "");
                "small"
            }
            _ => "small",
        };
        pen.text(class, (from + 5.0, middle + 4.0), Anchor::Start, &bar.text);
    }
    if bars.is_empty() {
        pen.text(
            "loose quiet",
            (LEFT + 5.0, middle + 4.0),
            Anchor::Start,
            "good throughout",
        );
    }
}

/// An expectation's sentence, the time that it is about, and whether it is met.
pub fn expected(
    pen: &mut Pen,
    along: Along,
    top: f64,
    judged: &Judged,
    expectation: Option<&Expectation>,
) {
    let line = format!("line {}", judged.line);
    let (class, name) = match judged.met {
        true => ("small", format!("{line} met")),
        false => ("small failed", format!("{line} NOT MET")),
    };
    pen.text(class, (LEFT - 8.0, top + 12.0), Anchor::End, &name);
    pen.text(
        class,
        (LEFT + 2.0, top + 12.0),
        Anchor::Start,
        &judged.expected,
    );
    let middle = top + 21.0;
    if let Some(expectation) = expectation {
        let (from, to) = (
            along.x(expectation.from),
            along.x(expectation.to.unwrap_or(along.last)),
        );
        let bracket = format!(
            "M{from:.1} {:.1}v8M{from:.1} {middle:.1}H{to:.1}M{to:.1} {:.1}v8",
            middle - 4.0,
            middle - 4.0
        );
        pen.path("bracket", &bracket);
    }
    let x = along.x(judged.at);
    let (class, sign) = match judged.met {
        true => ("met", format!("M{:.1} {middle:.1}l4 4l7 -9", x - 5.0)),
        false => (
            "unmet",
            format!("M{:.1} {:.1}l10 10m0 -10l-10 10", x - 5.0, middle - 5.0),
        ),
    };
    let says = format!("{}: {}", judged.expected, judged.found);
    pen.spot(class, &sign, &says);
}
