//! `[tank.hookup]` or several `[[tank.hookup]]`: how the transmitters are connected, and whether that can be.

mod choice;
mod one;
mod ports;
mod side;

pub use choice::choice;

use super::transmitter::Transmitters;
use crate::engine::plan::{Correction, Gives, Hookup, HookupPlan};
use crate::physics::vessel::Vessel;
use crate::quantity::{Dimension, Length, metres};
use crate::site::file::Table;
use side::Reader;

/// A hookup that could be read, and where.
#[derive(Debug)]
pub struct Hooked<'d> {
    pub plan: HookupPlan,
    pub table: Table<'d>,
}

/// Lowest and highest level of the vessel, from the site's zero. On a sloped cylinder a level stands a little
/// lower than its number: there elevations are turned over.
#[derive(Clone, Copy, Debug)]
pub struct Extent {
    pub bottom: Length,
    pub top: Length,
    /// Elevation per level.
    plumb: f64,
}

impl Extent {
    pub fn of(vessel: &Vessel, zero: Length) -> Self {
        Self {
            bottom: vessel.bottom() - zero,
            top: vessel.top() - zero,
            plumb: vessel.elevation(metres(1.0)).value,
        }
    }

    /// How high the vessel's top and bottom stand, as taps do.
    pub fn highest(self) -> Length {
        self.elevation(self.top)
    }

    pub fn lowest(self) -> Length {
        self.elevation(self.bottom)
    }

    pub fn level(self, elevation: Length) -> Length {
        elevation / self.plumb
    }

    pub fn elevation(self, level: Length) -> Length {
        level * self.plumb
    }
}

/// All hookups of a tank; none where one of them is wrong.
pub fn read<'d>(
    tank: &Table<'d>,
    transmitters: &Transmitters<'d>,
    extent: Option<Extent>,
    air_is_given: bool,
) -> Option<Vec<Hooked<'d>>> {
    let tables = tank.one_or_more("hookup");
    let several = tables.len() > 1;
    let hooked: Vec<Option<Hooked<'d>>> = tables
        .into_iter()
        .map(|table| read_one(table, several, transmitters, extent, air_is_given))
        .collect();
    let hooked: Vec<Hooked<'d>> = hooked.into_iter().collect::<Option<_>>()?;
    (!hooked.is_empty()).then_some(hooked)
}

fn read_one<'d>(
    table: Table<'d>,
    several: bool,
    transmitters: &Transmitters<'d>,
    extent: Option<Extent>,
    air_is_given: bool,
) -> Option<Hooked<'d>> {
    table.choice("kind");
    let elevation_uncertainty = table
        .table("elevations")
        .and_then(|elevations| elevations.length("uncertainty"));
    let correction = table
        .table("correction")
        .map(|correction| read_correction(&correction));
    let name = table.text("name");
    if several && !table.has("name") {
        let problem = table.problem_at("name", "one of several hookups has no `name`");
        table.report(problem.cure("name each of them: name = \"north\""));
    }
    let reader = Reader {
        transmitters,
        extent,
        table: &table,
    };
    let hookup = match table.kind()? {
        "vented" => reader.vented(),
        "barometer" => reader.barometer(),
        "differential" => reader.differential(),
        "two-transmitter" => reader.two_transmitter(),
        "three-transmitter" => reader.three_transmitter(),
        "dip-tube" => reader.dip_tube(),
        "interface" => reader.interface(),
        _ => reader.level(),
    }?;
    if !air_is_given && reader.leaves_the_barometer(&hookup) {
        let problem = table.problem_at(
            "kind",
            "this hookup needs the pressure of the air, and the site does not say it",
        );
        table.report(problem.cure(
            "add pressure = \"PT-001\" (a barometer's tag) to site.ambient; the weather moves the level by 0.3 m of water",
        ));
    }
    Some(Hooked {
        plan: HookupPlan {
            name: name.unwrap_or(hookup.name()).into(),
            gives: gives(&table, &hookup),
            elevation_uncertainty: elevation_uncertainty.unwrap_or(metres(0.0)),
            correction: correction.unwrap_or_default(),
            hookup,
        },
        table,
    })
}

/// The level, or of kind interface the boundary of two liquids.
fn gives(table: &Table<'_>, hookup: &Hookup) -> Gives {
    let usual = match hookup {
        Hookup::Interface { .. } => Gives::Interface,
        _ => Gives::Level,
    };
    let said = match table.choice("gives") {
        Some("interface") => Gives::Interface,
        Some(_) => Gives::Level,
        None => usual,
    };
    if said != usual {
        let message = format!(
            "a hookup of kind = \"{}\" gives the {}",
            hookup.name(),
            usual.name()
        );
        let problem = table.problem_at("gives", message);
        table.report(problem.cure("take `gives` out, or check `kind`"));
    }
    usual
}

fn read_correction(table: &Table<'_>) -> Correction {
    let gain = table.number("gain").unwrap_or(1.0);
    if gain <= 0.0 {
        table.report(
            table
                .problem_at("gain", "`gain` must be more than 0")
                .cure("a gain of 1.0 changes nothing"),
        );
    }
    Correction {
        gain,
        offset: table.length("offset").unwrap_or(metres(0.0)),
        by: table.text("by").map(Into::into),
        until: table.date("until"),
    }
}

/// A length as people are told of it.
pub fn shown(length: Length) -> String {
    let unit =
        crate::quantity::find("m", Dimension::Length).expect("the metre stands in the unit table");
    crate::quantity::print(length.value, unit, 3)
}
