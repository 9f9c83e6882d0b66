//! `[[tank.stream]]`: what fills or draws, and how it is known what flows.

use super::contact::Contacts;
use super::names::distinct;
use super::transmitter::Transmitters;
use crate::engine::plan::{Stream, StreamFlow};
use crate::quantity::{Dimension, cubic_metres_per_second};
use crate::site::file::Table;

pub fn read(
    tank: &Table<'_>,
    transmitters: &Transmitters<'_>,
    contacts: &Contacts<'_>,
) -> Option<Vec<Stream>> {
    let tables = tank.tables("stream");
    let names = tables
        .iter()
        .filter_map(|stream| Some((stream.text("name")?, stream.place_of("name"))));
    distinct(tank.document(), "stream", names);
    let stream = |table: &Table<'_>| {
        let (name, direction) = (table.text("name"), table.choice("direction"));
        let at_most = table.si("at_most").map(cubic_metres_per_second);
        let flow = flow(table, transmitters, contacts);
        Some(Stream {
            name: name?.into(),
            fills: direction? == "in",
            at_most,
            flow: flow?,
        })
    };
    let streams: Vec<Option<Stream>> = tables.iter().map(stream).collect();
    streams.into_iter().collect()
}

fn flow(
    table: &Table<'_>,
    transmitters: &Transmitters<'_>,
    contacts: &Contacts<'_>,
) -> Option<StreamFlow> {
    if table.has("flow") {
        for name in ["running", "rate"]
            .into_iter()
            .filter(|name| table.has(name))
        {
            let problem = table.problem_at(name, format!("`flow` measures it, `{name}` states it"));
            table.report(problem.cure("take one of the two out"));
        }
        let tag = table.text("flow")?;
        let place = table.place_of("flow");
        let found = transmitters.find(table, tag, place, Dimension::Flow);
        return found.map(StreamFlow::Metered);
    }
    let other = match (table.has("running"), table.has("rate")) {
        (false, false) => return Some(StreamFlow::Unknown),
        (true, true) => {
            let (when, rate) = (contacts.conditions(table, "running"), table.si("rate"));
            return Some(StreamFlow::Running {
                when: when?,
                rate: cubic_metres_per_second(rate?),
            });
        }
        (true, false) => ("running", "rate"),
        (false, true) => ("rate", "running"),
    };
    let problem = table.problem_at(other.0, format!("`{}` needs `{}`", other.0, other.1));
    table.report(problem.cure(format!("add {}", table.example(other.1))));
    None
}
