//! What an `[[at]]` turns: at a tank, at a pump or valve, in the air.

use super::at::Action;
use super::fault::{OF_TANKS, ailment, fault};
use super::pipe::share;
use super::{headspace, named};
use crate::plant::Setting;
use crate::quantity::Reference;
use crate::site::file::Table;

/// What can be turned at a tank, but for the pressure of its headspace.
const TURNED: [(&str, Setting); 10] = [
    ("inflow", Setting::Inflow),
    ("outflow", Setting::Outflow),
    ("liquid_temperature", Setting::LiquidTemperature),
    ("gas_temperature", Setting::GasTemperature),
    ("leg_temperature", Setting::LineTemperature),
    ("density", Setting::Density),
    ("foam", Setting::Foam),
    ("sediment", Setting::Sediment),
    ("interface", Setting::Interface),
    ("agitation", Setting::Agitation),
];

/// The keys that turn something at a tank.
pub(super) fn settings() -> impl Iterator<Item = &'static str> {
    TURNED
        .iter()
        .map(|(key, _)| *key)
        .chain(std::iter::once("headspace"))
}

pub(super) fn of_tank(table: &Table<'_>) -> Option<Vec<Action>> {
    let tank = named(table, "tank");
    let turned = TURNED.map(|(key, setting)| Some((setting, table.si(key)?)));
    let headspace = headspace(table);
    let fault = fault(table, &OF_TANKS, "a tank");
    let over = fault.as_ref().and_then(|fault| fault.grows_over());
    let fault = fault.and_then(|fault| ailment(&fault));
    let is_idle = settings().chain(["fault"]).all(|key| !table.has(key));
    if is_idle {
        let problem = table.problem_at("tank", "nothing happens to the tank");
        let all: Vec<&str> = settings().collect();
        table.report(problem.cure(format!("say one of {} or fault", all.join(", "))));
    }
    let tank = tank?;
    let named = || tank.clone();
    let mut actions: Vec<Action> = turned
        .into_iter()
        .flatten()
        .map(|(setting, value)| Action::Turn {
            tank: named(),
            setting,
            value,
        })
        .collect();
    actions.extend(headspace.map(|value| Action::Headspace {
        tank: named(),
        value,
    }));
    actions.extend(fault.map(|fault| Action::TankFault {
        tank: named(),
        fault,
        over: over.unwrap_or_default(),
    }));
    Some(actions)
}

pub(super) fn of_pipe(
    table: &Table<'_>,
    target: &'static str,
    key: &'static str,
) -> Option<Vec<Action>> {
    if !table.has(key) {
        let problem = table.problem_at(target, format!("`{key}` is missing in [at]"));
        table.report(problem.cure(format!("say to what it is set: {key} = \"50 %\"")));
    }
    let (pipe, share) = (named(table, target), share(table, key));
    Some(vec![Action::Pipe {
        pipe: pipe?,
        share: share?,
    }])
}

/// The air counts from vacuum.
pub(super) fn air_pressure(table: &Table<'_>) -> Option<f64> {
    let written = table.quantity("air_pressure")?;
    if written.reference == Some(Reference::Gauge) {
        let problem = table.problem_at("air_pressure", "the air's pressure counts from vacuum");
        table.report(problem.cure("write for example \"990 hPa(a)\""));
        return None;
    }
    Some(written.si)
}
