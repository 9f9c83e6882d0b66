//! `[[at]]`: what happens at a moment.

use super::command::command;
use super::fault::{
    Ailment, Disturbance, OF_LINKS, OF_TANKS, OF_TRANSMITTERS, ailment, disturbance, fault,
};
use super::{Asked, Headspace, Named, Placed, headspace, moment::moment, named};
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
    pub actions: Vec<Action>,
}

#[derive(Clone, Debug)]
pub enum Action {
    /// m³/s.
    Inflow {
        tank: Named,
        value: f64,
    },
    /// m³/s.
    Outflow {
        tank: Named,
        value: f64,
    },
    Headspace {
        tank: Named,
        value: Placed<Headspace>,
    },
    /// K.
    LiquidTemperature {
        tank: Named,
        value: f64,
    },
    TankFault {
        tank: Named,
        fault: Placed<Ailment>,
    },
    TransmitterFault {
        transmitter: Named,
        fault: Placed<Ailment>,
    },
    LinkFault {
        link: Named,
        fault: Disturbance,
        lasting: Duration,
    },
    /// Switched to `on`; at the entry's `until` back.
    Contact {
        contact: Named,
        on: bool,
    },
    /// The wall clock is stepped by so much, s.
    Clock(f64),
    Command(Placed<Asked>),
}

const TARGETS: [&str; 6] = ["tank", "transmitter", "link", "contact", "clock", "command"];
const SETTINGS: [&str; 4] = ["inflow", "outflow", "headspace", "liquid_temperature"];
pub(super) fn entry(table: &Table<'_>) -> Option<Entry> {
    let (time, until) = (moment(table, "time"), moment(table, "until"));
    let every = table.has("every").then(|| table.duration("every"));
    let actions = actions(table);
    let entry = Entry {
        time: time?,
        until,
        every: every.flatten(),
        actions: actions?,
    };
    check_times(table, &entry);
    Some(entry)
}

fn check_times(table: &Table<'_>, entry: &Entry) {
    let Some(until) = entry.until else { return };
    if until <= entry.time {
        let problem = table.problem_at("until", "`until` must be later than `time`");
        table.report(
            problem
                .related(table.place_of("time"), "it starts here")
                .cure("both count from the start"),
        );
    } else if entry.every.is_some_and(|every| until - entry.time > every) {
        let problem = table.problem_at("every", "it starts again before it has ended");
        table.report(
            problem
                .related(table.place_of("until"), "it ends here")
                .cure("make `every` longer"),
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

fn actions(table: &Table<'_>) -> Option<Vec<Action>> {
    let target = target(table)?;
    let misplaced = SETTINGS
        .into_iter()
        .filter(|key| target != "tank" && table.has(key));
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
    match target {
        "tank" => of_tank(table),
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
            let (fault, lasting) = disturbance(&fault)?;
            Some(vec![Action::LinkFault {
                link: link?,
                fault,
                lasting,
            }])
        }
        "contact" => {
            let contact = named(table, "contact");
            if !table.has("on") {
                let problem = table.problem_at("contact", "`on` is missing in [at]");
                table.report(
                    problem.cure("say to which state it is switched: on = true or on = false"),
                );
            }
            let on = table.boolean("on");
            Some(vec![Action::Contact {
                contact: contact?,
                on: on?,
            }])
        }
        "clock" => Some(vec![Action::Clock(table.si("clock")?)]),
        _ => Some(vec![Action::Command(command(&table.table("command")?)?)]),
    }
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
    let cure =
        "name one of `tank`, `transmitter`, `link`, `contact`, `clock` or `command` in each [[at]]";
    table.report(Problem::new(place, message).cure(cure));
    None
}

fn of_tank(table: &Table<'_>) -> Option<Vec<Action>> {
    let tank = named(table, "tank");
    let (inflow, outflow) = (table.si("inflow"), table.si("outflow"));
    let (headspace, temperature) = (headspace(table), table.si("liquid_temperature"));
    let fault = fault(table, &OF_TANKS, "a tank").map(|fault| ailment(&fault));
    let tank = || tank.clone();
    let mut actions = Vec::new();
    actions.extend(inflow.and_then(|value| {
        Some(Action::Inflow {
            tank: tank()?,
            value,
        })
    }));
    actions.extend(outflow.and_then(|value| {
        Some(Action::Outflow {
            tank: tank()?,
            value,
        })
    }));
    actions.extend(headspace.and_then(|value| {
        Some(Action::Headspace {
            tank: tank()?,
            value,
        })
    }));
    actions.extend(temperature.and_then(|value| {
        Some(Action::LiquidTemperature {
            tank: tank()?,
            value,
        })
    }));
    actions.extend(fault.flatten().and_then(|fault| {
        Some(Action::TankFault {
            tank: tank()?,
            fault,
        })
    }));
    let is_idle = SETTINGS.iter().chain(&["fault"]).all(|key| !table.has(key));
    if is_idle {
        let problem = table.problem_at("tank", "nothing happens to the tank");
        table.report(problem.cure(format!("say one of {} or fault", SETTINGS.join(", "))));
    }
    Some(actions)
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
