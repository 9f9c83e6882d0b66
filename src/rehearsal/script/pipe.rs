//! `[[pump]]`, `[[valve]]` and `[[demand]]`: what moves liquid by itself.

use super::{Named, Placed, named, pressure};
use crate::plant::Drive;
use crate::quantity::{AbsolutePressure, Length, Reference, cubic_metres_per_second, metres};
use crate::site::file::Table;
use crate::site::problem::Problem;
use std::time::Duration;

/// A pump or a valve in a pipe.
#[derive(Clone, Debug)]
pub struct PipeStart {
    pub name: Named,
    pub from: Option<EndStart>,
    pub to: Option<EndStart>,
    pub drive: Drive,
    pub share: f64,
    pub switch: Option<SwitchStart>,
}

/// A tank, and the level of the nozzle in it.
#[derive(Clone, Debug)]
pub struct EndStart {
    pub tank: Named,
    pub at: Length,
}

/// The tank whose level starts and stops a pump.
#[derive(Clone, Debug)]
pub struct SwitchStart {
    pub tank: Named,
    pub starts: Length,
    pub stops: Length,
}

/// What is drawn from a tank by the time of a period.
#[derive(Clone, Debug)]
pub struct Demand {
    pub tank: Named,
    /// Moments of the period and the outflow from each on, m³/s.
    pub pattern: Vec<(Duration, f64)>,
    pub every: Duration,
    /// Each flow is another share more or less than that, up to this.
    pub scatter: f64,
}

pub(super) fn pump(table: &Table<'_>) -> Option<PipeStart> {
    let rate = table.si("rate").map(cubic_metres_per_second);
    let shut_off = table.si("head").map(metres);
    let share = share(table, "speed");
    let (from, to) = ends(table)?;
    let switch = switch(table, from.as_ref(), to.as_ref());
    Some(PipeStart {
        name: named(table, "name")?,
        from,
        to,
        drive: Drive::Pump {
            rate: rate?,
            shut_off,
        },
        share: share?,
        switch,
    })
}

pub(super) fn valve(table: &Table<'_>) -> Option<PipeStart> {
    let kv = table.si("kv").map(cubic_metres_per_second);
    let outside = pressure(table, "outside");
    let share = share(table, "opening");
    let (from, to) = ends(table)?;
    if let Some(outside) = &outside
        && (from.is_some() && to.is_some() || outside.value.reference == Reference::Gauge)
    {
        let (message, cure) = match outside.value.reference {
            Reference::Gauge => (
                "`outside` counts from vacuum here",
                "write for example outside = \"401 kPa(a)\"",
            ),
            Reference::Absolute => (
                "no end of this valve is outside",
                "take `outside`, `from` or `to` out",
            ),
        };
        table.report(table.problem_at("outside", message).cure(cure));
    }
    let outside = outside.map(|outside| AbsolutePressure::pascals(outside.value.pascals));
    Some(PipeStart {
        name: named(table, "name")?,
        from,
        to,
        drive: Drive::Valve { kv: kv?, outside },
        share: share?,
        switch: None,
    })
}

/// Both ends, of which one at least is a tank.
fn ends(table: &Table<'_>) -> Option<(Option<EndStart>, Option<EndStart>)> {
    let end = |key: &'static str, at: &'static str| {
        if !table.has(key) && table.has(at) {
            let problem = table.problem_at(at, format!("`{at}` says nothing without `{key}`"));
            table.report(problem.cure(format!("name the tank: add `{key}`")));
        }
        let tank = named(table, key)?;
        let at = table.length(at)?;
        Some(EndStart { tank, at })
    };
    let (from, to) = (end("from", "from_at"), end("to", "to_at"));
    if !table.has("from") && !table.has("to") {
        let problem = Problem::new(
            table.place(),
            "it neither comes from a tank nor goes to one",
        );
        table.report(problem.cure("name one or both: `from`, `to`"));
        return None;
    }
    Some((from, to))
}

/// At most the whole.
pub(super) fn share(table: &Table<'_>, key: &'static str) -> Option<f64> {
    let share = table.si(key)?;
    if share > 1.0 {
        let problem = table.problem_at(key, format!("`{key}` must be at most 100 %"));
        table.report(problem.cure("100 % is full speed, or wide open"));
        return None;
    }
    Some(share)
}

fn switch(
    table: &Table<'_>,
    from: Option<&EndStart>,
    to: Option<&EndStart>,
) -> Option<SwitchStart> {
    if !table.has("starts") && !table.has("stops") {
        return None;
    }
    let (starts, stops) = (table.length("starts"), table.length("stops"));
    if table.has("starts") != table.has("stops") || starts == stops {
        let key = if table.has("starts") {
            "starts"
        } else {
            "stops"
        };
        let problem = table.problem_at(key, "a level switch needs two levels");
        table.report(problem.cure("give `starts` and `stops`, one above the other"));
        return None;
    }
    let (starts, stops) = (starts?, stops?);
    // What it empties, if it starts above; else what it fills.
    let wanted = if starts > stops { from } else { to };
    let Some(end) = wanted else {
        let problem = table.problem_at("starts", "no tank's level can switch it like that");
        table.report(
            problem.cure(
                "a pump that empties `from` starts above `stops`, one that fills `to` below it",
            ),
        );
        return None;
    };
    Some(SwitchStart {
        tank: end.tank.clone(),
        starts,
        stops,
    })
}

pub(super) fn demand(table: &Table<'_>) -> Option<Placed<Demand>> {
    let tank = named(table, "tank");
    let (every, scatter) = (table.duration("every"), table.si("scatter"));
    let rows = table.rows("pattern")?;
    let every = every?;
    super::at::check_period(table, Some(every));
    let place = table.place_of("pattern");
    let pattern: Vec<(Duration, f64)> = rows
        .iter()
        .map(|(time, flow)| (Duration::from_secs_f64(time.si.max(0.0)), flow.si))
        .collect();
    let rises = pattern.windows(2).all(|pair| pair[0].0 < pair[1].0);
    let starts = rows.first().is_some_and(|(time, _)| time.si == 0.0);
    let ends = pattern.last().is_some_and(|(time, _)| *time < every);
    if !rises || !starts || !ends || pattern.iter().any(|(_, flow)| *flow < 0.0) {
        let problem = table.problem_at(
            "pattern",
            "`pattern` must be times of one period with their flows, from \"0 h\" on, each later than the one before",
        );
        table.report(problem.cure(format!("for example {}", table.example("pattern"))));
        return None;
    }
    Some(Placed {
        value: Demand {
            tank: tank?,
            pattern,
            every,
            scatter: scatter?,
        },
        place,
    })
}
