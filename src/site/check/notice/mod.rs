//! `[[notice]]` and `[flood]`: who is told of what, when, and who after that.

mod hours;
mod recipient;

use super::mail::mail;
use super::names::distinct;
use crate::engine::notice::{Escalation, FloodPlan, NoticesPlan, RouteId, RoutePlan, Until};
use crate::engine::plan::Priority;
use crate::site::Problem;
use crate::site::file::Table;
use crate::site::key::nearest;
use crate::site::settings::NoticeSettings;
use jiff::tz::TimeZone;
use recipient::Recipients;
use std::ops::Range;
use std::sync::Arc;

/// The most of a number of annunciations that is counted.
const MOST_COUNTED: i64 = 1000;

const PRIORITIES: [Priority; 4] = [
    Priority::Low,
    Priority::Medium,
    Priority::High,
    Priority::Highest,
];

pub fn read(root: &Table<'_>, timezone: Option<&str>) -> Option<(NoticesPlan, NoticeSettings)> {
    let (mail, flood) = (mail(root), flood(root));
    let tables = root.tables("notice");
    let named: Vec<(&str, Range<usize>)> = tables
        .iter()
        .filter_map(|table| Some((table.text("name")?, table.place_of("name"))))
        .collect();
    distinct(root.document(), "notice", named.clone());
    let names: Vec<&str> = named.iter().map(|(name, _)| *name).collect();
    let tanks = root.tables("tank");
    let tanks: Vec<&str> = tanks.iter().filter_map(|tank| tank.text("name")).collect();
    let mut recipients = Recipients::new(root);
    let routes: Vec<Option<RoutePlan>> = tables
        .iter()
        .map(|table| route(table, &names, &tanks, &mut recipients))
        .collect();
    let routes: Option<Vec<RoutePlan>> = routes.into_iter().collect();
    let routes = routes.filter(|_| names.len() == tables.len())?;
    check_chains(&tables, &routes);
    let (names, recipients) = recipients.finish();
    let timezone = timezone.and_then(|name| TimeZone::get(name).ok());
    let plan = NoticesPlan {
        timezone: timezone.unwrap_or(TimeZone::UTC),
        recipients: names,
        routes,
        flood: flood?,
    };
    Some((plan, NoticeSettings { mail, recipients }))
}

fn route(
    table: &Table<'_>,
    names: &[&str],
    tanks: &[&str],
    recipients: &mut Recipients,
) -> Option<RoutePlan> {
    let found = recipients.read(table);
    let (priorities, tanks) = (priorities(table), of_tanks(table, tanks));
    let (hours, daily_test) = (hours::read(table), hours::time(table, "daily_test"));
    let (repeat, escalation) = (table.duration("repeat"), escalation(table, names));
    let until = table.choice("until").map(|word| match word {
        "cleared" => Until::Cleared,
        _ => Until::Acknowledged,
    });
    Some(RoutePlan {
        name: table.text("name")?.into(),
        recipients: found?,
        priorities: priorities?,
        tanks: tanks?,
        hours: hours?,
        repeat,
        escalation: escalation?,
        until: until?,
        daily_test: daily_test?,
    })
}

fn priorities(table: &Table<'_>) -> Option<Vec<Priority>> {
    if table.has("priorities") && table.has("at_least") {
        let problem = table.problem_at("at_least", "`priorities` and `at_least` say the same");
        table.report(problem.cure("keep one of the two"));
        return None;
    }
    if table.has("at_least") {
        let word = table.choice("at_least")?;
        let least = PRIORITIES.iter().position(|one| one.name() == word)?;
        return Some(PRIORITIES[least..].to_vec());
    }
    let words = table.texts("priorities");
    let found: Vec<Option<Priority>> = words
        .iter()
        .map(|(word, place)| {
            let known = PRIORITIES.iter().find(|one| one.name() == *word).copied();
            if known.is_none() {
                let all = PRIORITIES.map(Priority::name);
                unknown(table, "priority", word, place.clone(), all);
            }
            known
        })
        .collect();
    if table.is_list("priorities") && words.is_empty() {
        let problem = table.problem_at("priorities", "`priorities` names none");
        let cure = format!(
            "for example {}; or take it out",
            table.example("priorities")
        );
        table.report(problem.cure(cure));
        return None;
    }
    found.into_iter().collect()
}

/// None inside: of all tanks.
fn of_tanks(table: &Table<'_>, known: &[&str]) -> Option<Option<Vec<Arc<str>>>> {
    if !table.has("tanks") {
        return Some(None);
    }
    let named = table.texts("tanks");
    let found: Vec<Option<Arc<str>>> = named
        .iter()
        .map(|(name, place)| {
            if known.contains(name) {
                return Some((*name).into());
            }
            unknown(table, "tank", name, place.clone(), known.iter().copied());
            None
        })
        .collect();
    if found.is_empty() {
        let problem = table.problem_at("tanks", "`tanks` names none");
        table.report(problem.cure("name one, or take it out: then it tells of all"));
        return None;
    }
    Some(Some(found.into_iter().collect::<Option<_>>()?))
}

fn escalation(table: &Table<'_>, names: &[&str]) -> Option<Option<Escalation>> {
    if !table.has("escalate") {
        return Some(None);
    }
    let escalate = table.table("escalate")?;
    let (after, to) = (escalate.duration("after"), escalate.text("to")?);
    if table.text("name") == Some(to) {
        let problem = escalate.problem_at("to", "it escalates to itself");
        escalate
            .report(problem.cure("name another [[notice]]; `repeat` tells the same ones again"));
        return None;
    }
    let Some(place) = names.iter().position(|name| *name == to) else {
        let place = escalate.place_of("to");
        unknown(&escalate, "notice", to, place, names.iter().copied());
        return None;
    };
    Some(Some(Escalation {
        after: after?,
        to: RouteId(place as u32),
    }))
}

/// A chain ends, and of everything that is named somebody is told something.
fn check_chains(tables: &[Table<'_>], routes: &[RoutePlan]) {
    for (place, (table, route)) in tables.iter().zip(routes).enumerate() {
        let next = |at: &usize| routes[*at].escalation.map(|next| next.to.index());
        let mut chain = std::iter::successors(next(&place), next).take(routes.len() + 1);
        if chain.any(|at| at == place) {
            let message = format!("what \"{}\" escalates comes back to it", route.name);
            let problem = table.problem_at("escalate", message);
            table.report(problem.cure("let the chain of `escalate` end with somebody"));
        }
        let is_named = || {
            let mut others = routes.iter().filter_map(|other| other.escalation);
            others.any(|next| next.to.index() == place)
        };
        if route.priorities.is_empty() && !is_named() {
            let message = format!("nothing says what \"{}\" tells", route.name);
            let problem = Problem::new(table.place(), message);
            table.report(problem.cure(
                "add at_least = \"low\" for all alarms, or name it in the `escalate` of another",
            ));
        }
    }
}

fn flood(root: &Table<'_>) -> Option<FloodPlan> {
    let Some(table) = root.table("flood") else {
        return Some(FloodPlan::default());
    };
    let begins_at = table.whole("begins_at", 2..=MOST_COUNTED);
    let ends_below = table.whole("ends_below", 1..=MOST_COUNTED);
    let (within, digest_every) = (table.duration("within"), table.duration("digest_every"));
    let (begins_at, ends_below) = (begins_at? as usize, ends_below? as usize);
    if ends_below > begins_at {
        let problem = table.problem_at("ends_below", "a flood would end before it begins");
        table.report(problem.cure("`ends_below` is no more than `begins_at`"));
    }
    Some(FloodPlan {
        begins_at,
        ends_below,
        within: within?,
        digest_every: digest_every?,
    })
}

fn unknown<'a>(
    table: &Table<'_>,
    what: &str,
    word: &str,
    place: Range<usize>,
    known: impl IntoIterator<Item = &'a str> + Clone,
) {
    let cure = match nearest(word, known.clone()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => {
            let known: Vec<&str> = known.into_iter().collect();
            format!("there are: {}", known.join(", "))
        }
    };
    let problem = Problem::new(place, format!("there is no {what} \"{word}\""));
    table.report(problem.cure(cure));
}
