//! `[[tank]]`: vessel, liquid, hookup, alarms and checks put together.

use super::alarm;
use super::checks;
use super::contact::Contacts;
use super::hookup::{self, Extent, Hooked};
use super::limit::Judged;
use super::names::distinct;
use super::product::{self, Held};
use super::sight::{self, Conditioned, Sight};
use super::site::Place;
use super::transmitter::Transmitters;
use super::{marks, rounds, stream, vessel};
use crate::engine::event::SYSTEM;
use crate::engine::plan::{
    Choose, GasPlan, Gives, Hookup, JumpCheck, LegFill, Marks, Stream, TankPlan,
};
use crate::physics::liquid::Gas;
use crate::physics::vessel::Vessel;
use crate::quantity::{Length, cubic_metres_per_second, metres};
use crate::site::file::Table;
use crate::site::settings::fold;

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
    for tank in tables
        .iter()
        .filter(|tank| tank.text("name").is_some_and(|name| fold(name) == SYSTEM))
    {
        let message = format!("no tank can be called \"{SYSTEM}\"");
        let problem = tank.problem_at("name", message);
        tank.report(problem.cure("choose another name; that one stands for the alarms of the system itself, as in `standpipe ack SITE system JOURNAL`"));
    }
    let mut tanks = Vec::new();
    let mut hookups_read = true;
    for table in &tables {
        let vessel = table
            .table("vessel")
            .and_then(|vessel| vessel::read(&vessel));
        let zero = zero(table);
        let extent = vessel.as_ref().map(|vessel| Extent::of(vessel, zero));
        let air_is_given = place.is_none_or(|place| place.air_is_given);
        let hooked = hookup::read(table, transmitters, extent, air_is_given);
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
    hooked: Option<Vec<Hooked<'d>>>,
) -> Option<TankPlan> {
    let name = table.text("name");
    let title = table.text("title").or(name);
    let zero = zero(table);
    let extent = vessel.as_ref().map(|vessel| Extent::of(vessel, zero));
    let marks = table
        .table("marks")
        .map_or(Marks::default(), |marks| marks::read(&marks, extent));
    let Held {
        liquid,
        gas,
        products,
    } = product::read(table, transmitters, place);
    let choice = hooked
        .as_deref()
        .and_then(|hooked| hookup::choice(table, hooked));
    let each = || hooked.iter().flatten();
    if let Some(hooked) = &hooked {
        check_measured(table, hooked);
    }
    if let Some(gas) = &gas {
        each().for_each(|hooked| {
            check_vent(hooked, gas);
            check_dry_legs(hooked, gas);
        });
    }
    if let (Some(extent), Some(place)) = (extent, place) {
        let contents = products.iter().flatten();
        let contents =
            contents.map(|product| (Some(&*product.name), &product.liquid, &product.gas));
        let alone = products.as_ref().is_some_and(Vec::is_empty);
        let only = liquid.as_ref().zip(gas.as_ref()).filter(|_| alone);
        let all = contents.chain(only.map(|(liquid, gas)| (None, liquid, gas)));
        for (product, liquid, gas) in all {
            let conditioned = Conditioned {
                gravity: place.gravity,
                ambient: &place.ambient,
                liquid,
                gas,
                product,
            };
            each().for_each(|hooked| {
                sight::check_span(hooked, &conditioned, extent, &marks, transmitters);
            });
        }
    }
    let judged = vessel.as_ref().zip(extent).map(|(vessel, extent)| Judged {
        vessel,
        marks: &marks,
        zero,
        sight: each()
            .enumerate()
            .filter(|(place, hooked)| {
                tells_level(hooked, each())
                    && choice.as_ref().is_none_or(|choice| match choice.level {
                        Choose::One(chosen) => chosen == *place,
                        _ => true,
                    })
            })
            .map(|(_, hooked)| sight::sight(&hooked.plan.hookup, extent))
            .reduce(Sight::widest)
            .unwrap_or(Sight::of_vessel(extent)),
        density_measured: each().any(measures_density),
        liquid: liquid.as_ref(),
        ambient: place.map(|place| &place.ambient),
    });
    let alarms = alarm::read(table, contacts, judged.as_ref());
    let streams = stream::read(table, transmitters, contacts);
    let jump = match table.table("checks") {
        Some(checks) if checks.has("jump") => read_jump(&checks, streams.as_deref()).map(Some),
        _ => Some(None),
    };
    let checks = checks::read(table, contacts);
    let rounds = rounds::read(table, transmitters, extent, liquid.as_ref());
    let hooked = hooked?;
    Some(TankPlan {
        name: name?.into(),
        title: title?.into(),
        vessel: vessel?,
        zero,
        marks,
        liquid: liquid?,
        gas: gas?,
        products: products?,
        product: 0,
        hookups: hooked.into_iter().map(|hooked| hooked.plan).collect(),
        choice: choice?,
        streams: streams?,
        jump: jump?,
        checks: checks?,
        rounds: rounds?,
        alarms: alarms?,
    })
}

/// Whether what it tells is the tank's level: the boundary is, where nothing else is told.
fn tells_level<'h, 'd: 'h>(
    hooked: &Hooked<'_>,
    mut all: impl Iterator<Item = &'h Hooked<'d>>,
) -> bool {
    hooked.plan.gives == Gives::Level || all.all(|other| other.plan.gives == Gives::Interface)
}

/// Where the gas is not air, its column up to the vent counts.
fn check_vent(hooked: &Hooked<'_>, gas: &GasPlan) {
    let hookup = &hooked.plan.hookup;
    if hookup.is_open() && hookup.vent().is_none() && gas.gas != Gas::Air {
        let problem = hooked.table.problem_at(
            "kind",
            "the gas above the liquid is not air, and nothing says how high its vent is",
        );
        hooked
            .table
            .report(problem.cure("add the elevation of the vent: vent = \"6.40 m\""));
    }
}

fn measures_density(hooked: &Hooked<'_>) -> bool {
    matches!(hooked.plan.hookup, Hookup::ThreeTransmitter { .. })
}

/// A density that is measured needs the three transmitters that measure it.
fn check_measured(tank: &Table<'_>, hooked: &[Hooked<'_>]) {
    let products = tank.tables("product");
    let of_products = products
        .iter()
        .filter_map(|product| product.table("liquid"));
    for liquid in tank.table("liquid").into_iter().chain(of_products) {
        if liquid.has("from") && !hooked.iter().any(measures_density) {
            let problem = liquid.problem_at("from", "no hookup of this tank measures the density");
            liquid.report(problem.cure(
                "write the liquid itself, or hook the tank up with kind = \"three-transmitter\"",
            ));
        }
    }
}

/// Steam turns to water in a tube that is colder than the drum, and fills it.
fn check_dry_legs(hooked: &Hooked<'_>, gas: &GasPlan) {
    let low = hooked.plan.hookup.low_leg();
    let is_dry = low.is_some_and(|(leg, at)| matches!(leg.fill, LegFill::Gas) && leg.tap > at);
    if gas.gas == Gas::Steam && is_dry {
        let problem = hooked.table.problem_at(
            "low",
            "steam condenses in a dry leg, and the water fills it",
        );
        hooked.table.report(problem.cure(
            "a leg kept full of condensate: leg = { kind = \"compressed-water\", temperature = \"ambient\" }",
        ));
    }
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
