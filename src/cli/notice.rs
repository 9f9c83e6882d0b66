//! `standpipe notice SITE`: who is told of what and when; `--test NAME` tries the way to them. `check` says the
//! same.

use super::ask::{Who, ask, tell};
use super::load;
use crate::engine::notice::{Hours, NoticesPlan, RoutePlan, Until};
use crate::engine::plan::{Priority, TankPlan};
use crate::quantity::{Timestamp, span};
use crate::wire::Request;
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
/// Within a week the hours are looked at so often.
const QUARTERS: u32 = 7 * 24 * 4;

/// Say who is told of what and when; or try the way to them through the running daemon.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// Send a test to those whom this notice tells
    #[arg(long, value_name = "NAME")]
    test: Option<String>,
    #[command(flatten)]
    who: Who,
}

impl Arguments {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        if let Some(name) = self.test {
            let by = self.who.name();
            let answer = ask(&self.site, &Request::TestNotice { name, by })?;
            return tell(answer, out);
        }
        let plan = load(&self.site)?.plan;
        if plan.notices.routes.is_empty() {
            writeln!(out, "Nobody is told: the site file has no [[notice]].")?;
        }
        report(&plan.notices, &plan.tanks, out)?;
        Ok(ExitCode::SUCCESS)
    }
}

/// One line a notice, and what nobody is told of.
pub fn report(plan: &NoticesPlan, tanks: &[TankPlan], out: &mut impl Write) -> io::Result<()> {
    if plan.routes.is_empty() {
        return Ok(());
    }
    for route in &plan.routes {
        writeln!(out, "  notice {:<16} {}", route.name, said(plan, route))?;
    }
    for gap in gaps(plan, tanks) {
        writeln!(out, "    note: {gap}")?;
    }
    Ok(())
}

fn said(plan: &NoticesPlan, route: &RoutePlan) -> String {
    let of = match route.priorities.is_empty() {
        true => "only what is escalated to it".to_owned(),
        false => {
            let words = route.priorities.iter().rev().map(|one| one.name());
            words.collect::<Vec<_>>().join(", ")
        }
    };
    let tanks = route
        .tanks
        .as_ref()
        .map(|tanks| format!(" of {}", tanks.join(", ")));
    let mut parts = vec![
        format!("{}: {of}{}", plan.names(route), tanks.unwrap_or_default()),
        route.hours.as_ref().map_or("always".to_owned(), hours),
    ];
    if let Some(every) = route.repeat {
        let until = match route.until {
            Until::Acknowledged => "acknowledged",
            Until::Cleared => "acknowledged or back to normal",
        };
        parts.push(format!("again every {} until {until}", span(every)));
    }
    if let Some(next) = route.escalation {
        let name = &plan.route(next.to).name;
        parts.push(format!("after {} \"{name}\"", span(next.after)));
    }
    if let Some(time) = route.daily_test {
        parts.push(format!("test daily at {}", time.strftime("%H:%M")));
    }
    parts.join("; ")
}

fn hours(hours: &Hours) -> String {
    let (from, to) = (hours.from.strftime("%H:%M"), hours.to.strftime("%H:%M"));
    let days: Vec<&str> = (0..7)
        .filter(|day| hours.days[*day])
        .map(|day| DAYS[day])
        .collect();
    match days.len() {
        7 => format!("{from} to {to}"),
        _ => format!("{from} to {to} on {}", days.join(" ")),
    }
}

/// Alarms of which nobody is told, at all or at some times of the week: one line for all tanks alike.
fn gaps(plan: &NoticesPlan, tanks: &[TankPlan]) -> Vec<String> {
    let mut gaps: Vec<(String, Vec<&str>)> = Vec::new();
    for tank in tanks {
        let mut priorities: Vec<Priority> =
            tank.alarms.iter().map(|alarm| alarm.priority).collect();
        priorities.sort_unstable();
        priorities.dedup();
        for priority in priorities.into_iter().rev() {
            let Some(gap) = gap(plan, &tank.name, priority) else {
                continue;
            };
            match gaps.iter_mut().find(|(other, _)| *other == gap) {
                Some((_, tanks)) => tanks.push(&tank.name),
                None => gaps.push((gap, vec![&tank.name])),
            }
        }
    }
    let line = |(gap, tanks): (String, Vec<&str>)| format!("{gap} of {}", tanks.join(", "));
    gaps.into_iter().map(line).collect()
}

fn gap(plan: &NoticesPlan, tank: &str, priority: Priority) -> Option<String> {
    let tells = |route: &&RoutePlan| route.tells(tank, priority);
    let telling: Vec<&RoutePlan> = plan.routes.iter().filter(tells).collect();
    let name = priority.name();
    if telling.is_empty() {
        return Some(format!("no notice tells {name} alarms"));
    }
    let moment = untold(plan, &telling)?.to_zoned_datetime(plan.timezone.clone());
    let moment = moment.strftime("%a %H:%M").to_string().to_lowercase();
    Some(format!(
        "at some times ({moment}) nobody is told at once of {name} alarms"
    ))
}

/// A moment of an ordinary week at which none of them tells: that of 2026-01-05, a Monday.
fn untold(plan: &NoticesPlan, telling: &[&RoutePlan]) -> Option<Timestamp> {
    let begin = Timestamp::from_second(1_767_571_200).ok()?;
    let moments = (0..QUARTERS).filter_map(|quarter| {
        let later = std::time::Duration::from_secs(u64::from(quarter) * 900);
        begin.checked_add(later).ok()
    });
    let is_told = |moment: &Timestamp| {
        telling.iter().any(|route| {
            let hours = route.hours.as_ref();
            hours.is_none_or(|hours| hours.contain(*moment, &plan.timezone))
        })
    };
    moments.into_iter().find(|moment| !is_told(moment))
}
