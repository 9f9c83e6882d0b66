//! `[[expect]]`: what must come of a script, and when.

use super::moment::{moment, moments, shown};
use super::{Named, named, tank_and_code};
use crate::engine::alarm::AlarmState;
use crate::engine::checks::finding::{Confidence, Fault};
use crate::engine::{EventKind, Quality, Reason};
use crate::quantity::{Dimension, Length, metres};
use crate::site::file::Table;
use crate::site::key::nearest;
use std::fmt;
use std::ops::Range;
use std::time::Duration;

#[derive(Clone, Debug, PartialEq)]
pub struct Expectation {
    pub subject: Subject,
    pub mode: Mode,
    pub from: Duration,
    /// None: to the end.
    pub to: Option<Duration>,
    pub place: Range<usize>,
}

/// What is looked at.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// The alarm's tank may be [`SYSTEM`](crate::engine::event::SYSTEM).
    Alarm {
        tank: Named,
        code: String,
        state: AlarmState,
    },
    /// The shown level against the plant's true one.
    Level {
        tank: Named,
        within: Length,
    },
    /// The shown boundary of two liquids against the plant's true one.
    Interface {
        tank: Named,
        within: Length,
    },
    /// The shown level less the plant's true one.
    LevelOff {
        tank: Named,
        least: Length,
        most: Length,
    },
    Quality {
        tank: Named,
        quality: Quality,
    },
    Reason {
        tank: Named,
        reason: Reason,
    },
    Event {
        kind: EventKind,
        tank: Option<Named>,
        text: Option<String>,
    },
    Finding {
        tank: Named,
        fault: Fault,
        confidence: Confidence,
    },
}

impl Subject {
    /// The tank that it is about, if it is about one.
    pub fn tank(&self) -> Option<&str> {
        match self {
            Subject::Event { tank, .. } => tank.as_ref().map(|tank| tank.name.as_str()),
            Subject::Alarm { tank, .. }
            | Subject::Level { tank, .. }
            | Subject::Interface { tank, .. }
            | Subject::LevelOff { tank, .. }
            | Subject::Quality { tank, .. }
            | Subject::Reason { tank, .. }
            | Subject::Finding { tank, .. } => Some(&tank.name),
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// It comes within that time: what was so before does not count.
    Comes,
    /// It is so all that time.
    Holds,
    /// It is so at no moment of that time.
    Never,
}

const ABOUT: [&str; 5] = ["alarm", "tank", "event", "no_event", "verdict"];
const OF_TANKS: [&str; 5] = [
    "level_within",
    "level_off_by",
    "interface_within",
    "quality",
    "reason",
];
const WHEN: [&str; 5] = ["between", "before", "while", "from", "until"];

pub(super) fn expectation(table: &Table<'_>, last: Option<Duration>) -> Option<Expectation> {
    let about = about(table)?;
    let subject = match about {
        "alarm" => alarm(table),
        "event" | "no_event" => event(table, about),
        "verdict" => verdict(table),
        _ => of_tank(table),
    };
    misplaced(table, about);
    let (mode, from, to) = when(table, about, last)?;
    let subject = subject?;
    let always = match subject {
        Subject::Level { .. } => Some("level_within"),
        Subject::Interface { .. } => Some("interface_within"),
        _ => None,
    };
    let never = mode == Mode::Never || about == "no_event";
    if let Some(key) = always
        && (never || ["between", "before"].iter().any(|key| table.has(key)))
    {
        let problem = table.problem_at(key, format!("`{key}` holds for a time"));
        table.report(problem.cure("give `while`, or `from` and `until`"));
    }
    Some(Expectation {
        subject,
        mode: match mode {
            _ if never => Mode::Never,
            _ if always.is_some() => Mode::Holds,
            mode => mode,
        },
        from,
        to,
        place: table.place_of(about),
    })
}

/// The key that says what is looked at; with an event, `tank` only says whose.
fn about(table: &Table<'_>) -> Option<&'static str> {
    let there: Vec<&'static str> = ABOUT.into_iter().filter(|key| table.has(key)).collect();
    match there[..] {
        [about] => Some(about),
        ["tank", about @ ("event" | "no_event")] => Some(about),
        [] => {
            let problem = table.problem_at("", "it is not said what is expected");
            table.report(
                problem.cure("name one of `alarm`, `tank`, `event`, `no_event` or `verdict`"),
            );
            None
        }
        [first, second, ..] => {
            let message = format!("`{second}` does not go with `{first}`");
            let problem = table.problem_at(second, message);
            table.report(problem.cure("put each in an [[expect]] of its own"));
            None
        }
    }
}

/// A key that says nothing where it stands is an error: somebody relies on it.
fn misplaced(table: &Table<'_>, about: &str) {
    let takes: &[&str] = match about {
        "alarm" => &["state"],
        "event" | "no_event" => &["text"],
        "verdict" => &["confidence"],
        _ => &OF_TANKS,
    };
    let all = ["state", "text", "confidence"].into_iter().chain(OF_TANKS);
    for key in all.filter(|key| table.has(key) && !takes.contains(key)) {
        let problem = table.problem_at(key, format!("`{key}` does not go with `{about}`"));
        table.report(problem.cure("put each in an [[expect]] of its own"));
    }
}

fn alarm(table: &Table<'_>) -> Option<Subject> {
    let place = table.place_of("alarm");
    let alarm = table.text("alarm").and_then(|text| {
        let parts = tank_and_code(text);
        if parts.is_none() {
            let problem = table.problem_at("alarm", "`alarm` must name a tank and an alarm's code");
            table.report(problem.cure("for example alarm = \"clearwell LAH\""));
        }
        parts
    });
    if !table.has("state") {
        let problem = table.problem_at("alarm", "`state` is missing in [expect]");
        table.report(problem.cure("add state = \"UNACK\", or another state's code"));
    }
    let states = AlarmState::ALL.iter().map(|state| (state.code(), *state));
    let state = one_of(table, "state", "a state's code", states);
    let (tank, code) = alarm?;
    Some(Subject::Alarm {
        tank: Named { name: tank, place },
        code,
        state: state?,
    })
}

fn event(table: &Table<'_>, key: &'static str) -> Option<Subject> {
    let kinds = EventKind::ALL.iter().map(|kind| (kind.name(), *kind));
    Some(Subject::Event {
        kind: one_of(table, key, "a kind of event", kinds)?,
        tank: named(table, "tank"),
        text: table.text("text").map(str::to_owned),
    })
}

fn verdict(table: &Table<'_>) -> Option<Subject> {
    let text = table.text("verdict")?;
    let confidence = match table.choice("confidence")? {
        "probable" => Confidence::Probable,
        _ => Confidence::Possible,
    };
    let found = Fault::ALL.iter().find_map(|fault| {
        let tank = text.strip_suffix(fault.name())?.strip_suffix(' ')?;
        Some((tank.to_owned(), *fault))
    });
    let Some((name, fault)) = found else {
        let names = || Fault::ALL.iter().map(|fault| fault.name());
        // Where the tank's name ends is not known: where what follows is most like a fault.
        let spaces = text.match_indices(' ').map(|(place, _)| place);
        let meant = spaces.filter_map(|space| {
            let (tank, said) = (&text[..space], &text[space + 1..]);
            Some((tank, said, nearest(said, names())?))
        });
        let meant = meant.min_by_key(|(_, said, fault)| said.len().abs_diff(fault.len()));
        let faults = format!("faults are: {}", names().collect::<Vec<_>>().join(", "));
        let cure = match meant {
            Some((tank, _, fault)) => format!("did you mean \"{tank} {fault}\"? {faults}"),
            None => faults,
        };
        let problem = table.problem_at("verdict", "`verdict` must be a tank and a fault");
        table.report(problem.cure(cure));
        return None;
    };
    Some(Subject::Finding {
        tank: Named {
            name,
            place: table.place_of("verdict"),
        },
        fault,
        confidence,
    })
}

fn of_tank(table: &Table<'_>) -> Option<Subject> {
    let there: Vec<&str> = OF_TANKS.into_iter().filter(|key| table.has(key)).collect();
    let [what] = there[..] else {
        let problem = table.problem_at("tank", "one thing must be expected of the tank");
        table.report(problem.cure(format!("say one of {}", OF_TANKS.join(", "))));
        return None;
    };
    let tank = named(table, "tank");
    Some(match what {
        "level_within" => Subject::Level {
            within: table.length("level_within")?,
            tank: tank?,
        },
        "interface_within" => Subject::Interface {
            within: table.length("interface_within")?,
            tank: tank?,
        },
        "level_off_by" => {
            let (least, most) = table.range("level_off_by", Dimension::Length)?;
            Subject::LevelOff {
                least: metres(least.si),
                most: metres(most.si),
                tank: tank?,
            }
        }
        "quality" => Subject::Quality {
            quality: match table.choice("quality")? {
                "good" => Quality::Good,
                "uncertain" => Quality::Uncertain,
                _ => Quality::Bad,
            },
            tank: tank?,
        },
        _ => {
            let reasons = Reason::ALL.iter().map(|reason| (reason.text(), *reason));
            Subject::Reason {
                reason: one_of(table, "reason", "a reason", reasons)?,
                tank: tank?,
            }
        }
    })
}

/// What a word stands for, among those that there are.
fn one_of<T: Copy>(
    table: &Table<'_>,
    key: &'static str,
    what: &str,
    known: impl Iterator<Item = (&'static str, T)>,
) -> Option<T> {
    let word = table.text(key)?;
    let known: Vec<(&str, T)> = known.collect();
    let found = known.iter().find(|(name, _)| *name == word);
    if found.is_none() {
        let names = || known.iter().map(|(name, _)| *name);
        let all = names().collect::<Vec<_>>().join(", ");
        let cure = match nearest(word, names()) {
            Some(near) => format!("did you mean \"{near}\"? understood: {all}"),
            None => format!("understood: {all}"),
        };
        let problem = table.problem_at(key, format!("\"{word}\" is not {what}"));
        table.report(problem.cure(cure));
    }
    found.map(|(_, value)| *value)
}

type When = (Mode, Duration, Option<Duration>);

fn when(table: &Table<'_>, about: &str, last: Option<Duration>) -> Option<When> {
    let there: Vec<&str> = WHEN.into_iter().filter(|key| table.has(key)).collect();
    let never = table.boolean("never")?;
    let (mode, from, to) = match there[..] {
        [] => (Mode::Comes, Duration::ZERO, None),
        ["between"] => {
            let (from, to) = moments(table, "between")?;
            (Mode::Comes, from, Some(to))
        }
        ["while"] => {
            let (from, to) = moments(table, "while")?;
            (Mode::Holds, from, Some(to))
        }
        ["before"] => (Mode::Comes, Duration::ZERO, Some(moment(table, "before")?)),
        ["from"] => (Mode::Holds, moment(table, "from")?, None),
        ["until"] => (Mode::Holds, Duration::ZERO, Some(moment(table, "until")?)),
        ["from", "until"] => {
            let (from, until) = (moment(table, "from")?, moment(table, "until")?);
            (Mode::Holds, from, Some(until))
        }
        [first, second, ..] => {
            let problem =
                table.problem_at(second, format!("`{second}` does not go with `{first}`"));
            table.report(problem.cure("say when in one way: between, before, while, from, until"));
            return None;
        }
        [other] => unreachable!("{other} is not among the keys that say when"),
    };
    let key = there.last().copied().unwrap_or(about);
    if to.is_some_and(|to| to <= from) {
        let problem = table.problem_at(key, "that time ends before it begins");
        table.report(problem.cure("`until` must be later than `from`"));
        return None;
    }
    if let Some(last) = last
        && (from >= last || to.is_some_and(|to| to > last))
    {
        let problem = table.problem_at(key, "the script has ended by then");
        table.report(problem.cure(format!("it lasts until {}: make `last` later", shown(last))));
        return None;
    }
    let is_event = ["event", "no_event"].contains(&about);
    let mode = match mode {
        _ if never => Mode::Never,
        // An event is a moment: it can only come.
        Mode::Holds if is_event => Mode::Comes,
        mode => mode,
    };
    Some((mode, from, to))
}

impl fmt::Display for Expectation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let never = if self.mode == Mode::Never {
            "never "
        } else {
            ""
        };
        match &self.subject {
            Subject::Alarm { tank, code, state } => {
                write!(f, "{} {code} is {never}{}", tank.name, state.code())?;
            }
            Subject::Level { tank, within } => write!(
                f,
                "{}: the level is within {} mm of the true one",
                tank.name,
                within.value * 1e3
            )?,
            Subject::Interface { tank, within } => write!(
                f,
                "{}: the interface is within {} mm of the true one",
                tank.name,
                within.value * 1e3
            )?,
            Subject::LevelOff { tank, least, most } => write!(
                f,
                "{}: the level is {never}{:+} to {:+} mm off the true one",
                tank.name,
                millimetres(least.value),
                millimetres(most.value)
            )?,
            Subject::Quality { tank, quality } => {
                write!(f, "{}: quality is {never}{}", tank.name, quality.name())?;
            }
            Subject::Reason { tank, reason } => {
                write!(
                    f,
                    "{}: the reason is {never}\"{}\"",
                    tank.name,
                    reason.text()
                )?;
            }
            Subject::Event { kind, tank, text } => {
                let no = if self.mode == Mode::Never { "no" } else { "an" };
                write!(f, "{no} event \"{}\"", kind.name())?;
                if let Some(tank) = tank {
                    write!(f, " of {}", tank.name)?;
                }
                if let Some(text) = text {
                    write!(f, " with \"{text}\"")?;
                }
            }
            Subject::Finding {
                tank,
                fault,
                confidence,
            } => write!(
                f,
                "{}: {never}\"{}\", {} at least",
                tank.name,
                fault.name(),
                confidence.name()
            )?,
        }
        let from = shown(self.from);
        match (self.mode, self.from.is_zero(), self.to) {
            (_, true, None) => Ok(()),
            (_, false, None) => write!(f, " from {from} on"),
            (Mode::Comes, true, Some(to)) => write!(f, " before {}", shown(to)),
            (Mode::Holds, true, Some(to)) => write!(f, " until {}", shown(to)),
            (Mode::Holds, false, Some(to)) => write!(f, " from {from} to {}", shown(to)),
            (_, _, Some(to)) => write!(f, " between {from} and {}", shown(to)),
        }
    }
}

/// As it was written: to a micrometre, without what binary fractions add.
fn millimetres(metres: f64) -> f64 {
    (metres * 1e6).round() / 1e3
}
