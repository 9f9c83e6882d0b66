//! `[[tank]]`: vessel, liquid, hookup, alarms and checks put together.

use super::alarm;
use super::contact::Contacts;
use super::hookup::{self, Extent, Hooked};
use super::limit::Judged;
use super::names::distinct;
use super::sight::{self, Conditioned, Sight};
use super::site::Place;
use super::transmitter::Transmitters;
use super::{liquid, marks, vessel};
use crate::engine::plan::{GasPlan, Hookup, JumpCheck, Marks, Stream, TankPlan};
use crate::physics::liquid::Gas;
use crate::physics::vessel::Vessel;
use crate::quantity::{Length, cubic_metres_per_second, metres};
use crate::site::file::Table;

/// The tanks, as far as they could be read.
#[derive(Debug)]
pub struct Tanks {
    /// None where one of them is wrong.
    pub plans: Option<Vec<TankPlan>>,
    pub hookups_read: bool,
}

pub fn read<'d>(
    root: &Table<'d>,
    transmitters: &Transmitters<'d>,
    contacts: &Contacts<'d>,
    place: Option<&Place<'d>>,
) -> Tanks {
    let tables = root.tables("tank");
    let names = tables
        .iter()
        .filter_map(|tank| Some((tank.text("name")?, tank.place_of("name"))));
    distinct(root.document(), "tank", names);
    let mut tanks = Vec::new();
    let mut hookups_read = true;
    for table in &tables {
        let vessel = table
            .table("vessel")
            .and_then(|vessel| vessel::read(&vessel));
        let zero = zero(table);
        let extent = vessel.as_ref().map(|vessel| Extent::of(vessel, zero));
        let hooked = hookup::read(table, transmitters, extent);
        hookups_read &= hooked.is_some();
        tanks.push(read_one(
            table,
            (transmitters, contacts),
            place,
            vessel,
            hooked,
        ));
    }
    Tanks {
        plans: tanks.into_iter().collect(),
        hookups_read,
    }
}

/// Height of the site's zero above the vessel's lowest inside point.
fn zero(tank: &Table<'_>) -> Length {
    let marks = tank.table("marks");
    marks
        .and_then(|marks| marks.length("zero"))
        .unwrap_or(metres(0.0))
}

fn read_one<'d>(
    table: &Table<'d>,
    (transmitters, contacts): (&Transmitters<'d>, &Contacts<'d>),
    place: Option<&Place<'d>>,
    vessel: Option<Vessel>,
    hooked: Option<Hooked<'d>>,
) -> Option<TankPlan> {
    let name = table.text("name");
    let title = table.text("title").or(name);
    let zero = zero(table);
    let extent = vessel.as_ref().map(|vessel| Extent::of(vessel, zero));
    let marks = table
        .table("marks")
        .map_or(Marks::default(), |marks| marks::read(&marks, extent));
    let liquid = table
        .table("liquid")
        .and_then(|liquid| liquid::read(&liquid, transmitters));
    let gas = place.and_then(|place| liquid::gas(table, transmitters, &place.ambient));
    if let (Some(hooked), Some(gas)) = (&hooked, &gas) {
        check_vent(hooked, gas);
    }
    if let (Some(hooked), Some(gas), Some(liquid), Some(extent), Some(place)) =
        (&hooked, &gas, &liquid, extent, place)
    {
        let conditioned = Conditioned {
            gravity: place.gravity,
            ambient: &place.ambient,
            liquid,
            gas,
        };
        sight::check_span(hooked, &conditioned, extent, &marks, transmitters);
    }
    let judged = vessel.as_ref().zip(extent).map(|(vessel, extent)| Judged {
        vessel,
        marks: &marks,
        zero,
        sight: hooked.as_ref().map_or(Sight::of_vessel(extent), |hooked| {
            sight::sight(&hooked.hookup, extent)
        }),
        liquid: liquid.as_ref(),
        ambient: place.map(|place| &place.ambient),
    });
    let alarms = alarm::read(table, contacts, judged.as_ref());
    let streams = read_streams(table);
    let jump = match table.table("checks") {
        Some(checks) if checks.has("jump") => read_jump(&checks, streams.as_deref()).map(Some),
        _ => Some(None),
    };
    let hooked = hooked?;
    Some(TankPlan {
        name: name?.into(),
        title: title?.into(),
        vessel: vessel?,
        zero,
        marks,
        liquid: liquid?,
        gas: gas?,
        hookup: hooked.hookup,
        elevation_uncertainty: hooked.elevation_uncertainty,
        correction: hooked.correction,
        streams: streams?,
        jump: jump?,
        alarms: alarms?,
    })
}

/// Where the gas is not air, its column up to the vent counts.
fn check_vent(hooked: &Hooked<'_>, gas: &GasPlan) {
    if let Hookup::Vented { vent: None, .. } = hooked.hookup
        && gas.gas != Gas::Air
    {
        let problem = hooked.table.problem_at(
            "kind",
            "the gas above the liquid is not air, and nothing says how high its vent is",
        );
        hooked
            .table
            .report(problem.cure("add the elevation of the vent: vent = \"6.40 m\""));
    }
}

fn read_streams(tank: &Table<'_>) -> Option<Vec<Stream>> {
    let tables = tank.tables("stream");
    let names = tables
        .iter()
        .filter_map(|stream| Some((stream.text("name")?, stream.place_of("name"))));
    distinct(tank.document(), "stream", names);
    let stream = |table: &Table<'_>| {
        let (name, direction) = (table.text("name"), table.choice("direction"));
        let at_most = table.si("at_most").map(cubic_metres_per_second);
        Some(Stream {
            name: name?.into(),
            fills: direction? == "in",
            at_most,
        })
    };
    let streams: Vec<Option<Stream>> = tables.iter().map(stream).collect();
    streams.into_iter().collect()
}

fn read_jump(checks: &Table<'_>, streams: Option<&[Stream]>) -> Option<JumpCheck> {
    let jump = checks.table("jump")?;
    let bound = |name: &'static str, fills: bool| {
        if jump.has(name) {
            return jump.si(name).map(cubic_metres_per_second);
        }
        let own: Vec<Option<f64>> = streams?
            .iter()
            .filter(|stream| stream.fills == fills)
            .map(|stream| stream.at_most.map(|flow| flow.value))
            .collect();
        let sum: Option<f64> = own.iter().copied().sum();
        if own.is_empty() || sum.is_none() {
            let direction = if fills { "in" } else { "out" };
            let why = if own.is_empty() {
                format!("there is no stream with direction = \"{direction}\"")
            } else {
                format!("not every stream with direction = \"{direction}\" has `at_most`")
            };
            let problem = crate::site::Problem::new(
                jump.place(),
                format!("the jump check needs the most that can flow {direction}: {why}"),
            );
            jump.report(problem.cure(format!(
                "add {name} = \"40 m3/h\" here, or [[tank.stream]] with `at_most`"
            )));
            return None;
        }
        sum.map(cubic_metres_per_second)
    };
    let (fill, draw) = (bound("fill_at_most", true), bound("draw_at_most", false));
    Some(JumpCheck {
        fill_at_most: fill?,
        draw_at_most: draw?,
    })
}
