//! `[[at]]`: what happens at a moment.

use super::command::command;
use super::fault::{Ailment, Disturbance, OF_LINKS, OF_TRANSMITTERS, ailment, disturbance, fault};
use super::turn::{air_pressure, of_pipe, of_tank, settings};
use super::{
    Asked, Headspace, Named, Placed,
    moment::{moment, shown},
    named,
};
use crate::plant::{STEP, Setting, Weather};
use crate::site::file::Table;
use crate::site::problem::Problem;
use std::time::Duration;

/// What happens, when, until when, and how often.
#[derive(Clone, Debug)]
pub struct Entry {
    pub time: Duration,
    /// Of a setting: the end of a ramp to it. Of a fault: when it is mended.
    pub until: Option<Duration>,
    pub every: Option<Duration>,
    /// It comes later by up to this, each time by another share of it.
    pub jitter: Duration,
    pub actions: Vec<Action>,
}

#[derive(Clone, Debug)]
pub enum Action {
    /// In SI units.
    Turn {
        tank: Named,
        setting: Setting,
        value: f64,
    },
    Headspace {
        tank: Named,
        value: Placed<Headspace>,
    },
    /// In SI units.
    Weather {
        weather: Weather,
        value: f64,
    },
    /// Speed of a pump or opening of a valve, 0 to 1.
    Pipe {
        pipe: Named,
        share: f64,
    },
    TankFault {
        tank: Named,
        fault: Placed<Ailment>,
        /// How long it takes to grow to its size.
        over: Duration,
    },
    TransmitterFault {
        transmitter: Named,
        fault: Placed<Ailment>,
    },
    LinkFault {
        link: Named,
        /// One behind it alone.
        device: Option<Placed<u8>>,
        fault: Disturbance,
        /// Of the moments that it befalls.
        share: f64,
        lasting: Duration,
    },
    /// Switched to `on`; at the entry's `until` back.
    Contact {
        contact: Named,
        on: bool,
    },
    /// The wall clock is stepped by so much, s.
    Clock(f64),
    Command(Asked),
}

/// A hundred years.
const LONGEST_STEP_S: f64 = 100.0 * 365.25 * 86_400.0;

const TARGETS: [&str; 10] = [
    "tank",
    "transmitter",
    "link",
    "contact",
    "pump",
    "valve",
    "ambient",
    "air_pressure",
    "clock",
    "command",
];
/// One at or after the script's `last` would never come.
pub(super) fn entry(table: &Table<'_>, last: Option<Duration>) -> Option<Entry> {
    let (time, until) = (moment(table, "time"), moment(table, "until"));
    let every = table.has("every").then(|| table.duration("every"));
    let jitter = table.duration("jitter");
    let actions = actions(table);
    let entry = Entry {
        time: time?,
        until,
        every: every.flatten(),
        jitter: jitter?,
        actions: actions?,
    };
    check_times(table, &entry);
    if let Some(last) = last
        && entry.time >= last
    {
        let problem = table.problem_at("time", "the script has ended by then: it would never come");
        table.report(problem.cure(format!("it lasts until {}: make `last` later", shown(last))));
    }
    Some(entry)
}

fn check_times(table: &Table<'_>, entry: &Entry) {
    check_period(table, entry.every);
    if let Some(every) = entry.every
        && entry.jitter > every
    {
        let problem = table.problem_at("jitter", "it may come later than the next time");
        table.report(
            problem
                .related(table.place_of("every"), "it happens again so often")
                .cure("make `jitter` shorter than `every`"),
        );
    }
    let Some(until) = entry.until else { return };
    if until <= entry.time {
        let problem = table.problem_at("until", "`until` must be later than `time`");
        table.report(
            problem
                .related(table.place_of("time"), "it starts here")
                .cure("both count from the start"),
        );
    } else if entry
        .every
        .is_some_and(|every| until - entry.time + entry.jitter > every)
    {
        let problem = table.problem_at("every", "it starts again before it has ended");
        table.report(
            problem
                .related(table.place_of("until"), "it ends here")
                .cure("make `every` longer, with `jitter` in it"),
        );
    }
    let ends_otherwise = |action: &Action| {
        matches!(
            action,
            Action::LinkFault { .. } | Action::Command(_) | Action::Clock(_)
        )
    };
    if entry.actions.iter().all(ends_otherwise) {
        let problem = table.problem_at("until", "`until` says nothing here");
        table
            .report(problem.cure(
                "take it out; a link's fault says how long it lasts, the others have no end",
            ));
    }
}

/// The plant goes in steps: within one nothing happens twice.
pub(super) fn check_period(table: &Table<'_>, every: Option<Duration>) {
    if every.is_some_and(|every| every < STEP) {
        let step = crate::quantity::span(STEP);
        let message = format!("`every` is shorter than the plant's step of {step}");
        let problem = table.problem_at("every", message);
        table.report(problem.cure("make it as long as that, or longer"));
    }
}

fn actions(table: &Table<'_>) -> Option<Vec<Action>> {
    let target = target(table)?;
    let misplaced = settings().filter(|key| target != "tank" && table.has(key));
    misplaced
        .chain(
            (!["tank", "transmitter", "link"].contains(&target) && table.has("fault"))
                .then_some("fault"),
        )
        .for_each(|key| {
            let problem = table.problem_at(key, format!("`{key}` does not go with `{target}`"));
            table.report(problem.cure("put it in an [[at]] of its own that names its `tank`"));
        });
    if target != "contact" && table.has("on") {
        let problem = table.problem_at("on", format!("`on` does not go with `{target}`"));
        table.report(problem.cure("it says to which state a `contact` is switched"));
    }
    for (key, of, what) in [
        ("speed", "pump", "is set to"),
        ("opening", "valve", "is set to"),
        ("device", "link", "has behind it"),
    ] {
        if target != of && table.has(key) {
            let problem = table.problem_at(key, format!("`{key}` does not go with `{target}`"));
            table.report(problem.cure(format!("it is what a `{of}` {what}")));
        }
    }
    match target {
        "tank" => of_tank(table),
        "pump" => of_pipe(table, "pump", "speed"),
        "valve" => of_pipe(table, "valve", "opening"),
        "transmitter" => {
            let (transmitter, fault) = (
                named(table, "transmitter"),
                fault(table, &OF_TRANSMITTERS, "a transmitter"),
            );
            let fault = required(table, fault)?;
            Some(vec![Action::TransmitterFault {
                transmitter: transmitter?,
                fault: ailment(&fault)?,
            }])
        }
        "link" => {
            let (link, fault) = (named(table, "link"), fault(table, &OF_LINKS, "a link"));
            let fault = required(table, fault)?;
            let (fault, share, lasting) = disturbance(&fault)?;
            let device = device(table, fault)?;
            Some(vec![Action::LinkFault {
                link: link?,
                device,
                fault,
                share,
                lasting,
            }])
        }
        "contact" => of_contact(table),
        "ambient" => Some(vec![Action::Weather {
            weather: Weather::Temperature,
            value: table.si("ambient")?,
        }]),
        "air_pressure" => Some(vec![Action::Weather {
            weather: Weather::Pressure,
            value: air_pressure(table)?,
        }]),
        "clock" => Some(vec![Action::Clock(clock(table)?)]),
        _ => Some(vec![Action::Command(command(&table.table("command")?)?)]),
    }
}

/// The one device, if one is named; none where that is wrong.
fn device(table: &Table<'_>, fault: Disturbance) -> Option<Option<Placed<u8>>> {
    if !table.has("device") {
        return Some(None);
    }
    if !matches!(fault, Disturbance::Silent | Disturbance::Exception(_)) {
        let problem = table.problem_at("device", "this is a fault of the whole link");
        table.report(
            problem.cure("take `device` out; one device can be silent or answer exceptions"),
        );
        return None;
    }
    let number = table.whole("device", 0..=255)?;
    let value = u8::try_from(number).expect("it was checked to be at most 255");
    let place = table.place_of("device");
    Some(Some(Placed { value, place }))
}

/// By how much a wall clock is stepped, s.
fn clock(table: &Table<'_>) -> Option<f64> {
    let step_s = table.si("clock")?;
    if step_s.abs() > LONGEST_STEP_S {
        let problem = table.problem_at("clock", "no clock is stepped by more than a hundred years");
        table.report(problem.cure(format!("for example {}", table.example("clock"))));
        return None;
    }
    Some(step_s)
}

fn of_contact(table: &Table<'_>) -> Option<Vec<Action>> {
    let contact = named(table, "contact");
    if !table.has("on") {
        let problem = table.problem_at("contact", "`on` is missing in [at]");
        table.report(problem.cure("say to which state it is switched: on = true or on = false"));
    }
    let on = table.boolean("on");
    Some(vec![Action::Contact {
        contact: contact?,
        on: on?,
    }])
}

/// The one thing that it happens to.
fn target(table: &Table<'_>) -> Option<&'static str> {
    let named: Vec<&'static str> = TARGETS.into_iter().filter(|key| table.has(key)).collect();
    let (message, place) = match named[..] {
        [target] => return Some(target),
        [] => (
            "it is not said what this happens to".to_owned(),
            table.place(),
        ),
        [first, second, ..] => (
            format!("`{second}` does not go with `{first}`"),
            table.place_of(second),
        ),
    };
    let cure = match named[..] {
        ["tank", "ambient"] => {
            "the air is all tanks': put it in an [[at]] of its own, or say `leg_temperature`"
                .to_owned()
        }
        _ => {
            let targets: Vec<String> = TARGETS.iter().map(|key| format!("`{key}`")).collect();
            format!("name one of {} in each [[at]]", targets.join(", "))
        }
    };
    table.report(Problem::new(place, message).cure(cure));
    None
}

fn required<T>(table: &Table<'_>, fault: Option<T>) -> Option<T> {
    if fault.is_none() && !table.has("fault") {
        let problem = Problem::new(table.place(), "`fault` is missing in [at]");
        table.report(problem.cure(
            "say what is wrong, for example fault = { frozen = true } or { silent = \"20 s\" }",
        ));
    }
    fault
}
