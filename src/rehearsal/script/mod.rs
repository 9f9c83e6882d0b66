//! The script as written: what the plant starts from and what happens to it when.
//!
//! Everything that can be said without the site is checked here, all problems together; names of tanks,
//! links and transmitters keep their places for the check against the site.

mod at;
mod command;
pub mod expect;
#[cfg(test)]
mod expect_tests;
mod fault;
mod keys;
mod moment;
mod pipe;
#[cfg(test)]
mod tests;
mod turn;
mod upkeep;

use crate::engine::Command;
use crate::quantity::{
    Dimension, Length, MassDensity, Reference, Temperature, Timestamp, VolumeRate,
};
use crate::quantity::{cubic_metres_per_second, kelvin, kilograms_per_cubic_metre};
use crate::site::file::{Document, Table};
use crate::site::problem::{Problem, Problems, Source};
pub use at::{Action, Entry};
pub use expect::Expectation;
pub use fault::{Ailment, Disturbance, faults};
pub use moment::shown;
pub use pipe::{Demand, EndStart, PipeStart, SwitchStart};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::time::Duration;

#[derive(Clone, Debug)]
pub struct Script {
    /// The site file.
    pub site: PathBuf,
    pub seed: u64,
    /// How long the rehearsal lasts; for ever, if not said.
    pub last: Option<Duration>,
    pub tanks: Vec<TankStart>,
    /// Pumps and valves, in this order.
    pub pipes: Vec<PipeStart>,
    pub demands: Vec<Placed<Demand>>,
    pub entries: Vec<Entry>,
    pub expectations: Vec<Expectation>,
    /// The wall clock at the start.
    pub begins: Timestamp,
    path: PathBuf,
    text: String,
}

/// A name and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    pub name: String,
    pub place: Range<usize>,
}

/// A value with its place, for the check against the site.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed<T> {
    pub value: T,
    pub place: Range<usize>,
}

/// What somebody asks, and whether that is to be refused.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    pub command: Command,
    pub refused: bool,
    /// What a value that stands in for a transmitter's is a quantity of.
    pub reads: Option<Dimension>,
    /// As the script has it: `ack "clearwell LAH"`.
    pub said: String,
    pub place: Range<usize>,
}

/// A pressure that says what it counts from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Headspace {
    pub pascals: f64,
    pub reference: Reference,
}

/// What a tank starts from, where that differs from what is taken otherwise.
#[derive(Clone, Debug)]
pub struct TankStart {
    pub tank: Named,
    pub level: Option<Placed<Length>>,
    pub inflow: Option<VolumeRate>,
    pub outflow: Option<VolumeRate>,
    pub headspace: Option<Placed<Headspace>>,
    pub liquid_temperature: Option<Temperature>,
    /// The boundary of its two liquids.
    pub interface: Option<Placed<Length>>,
    /// Closed-in gas that follows its law.
    pub gas: Option<Placed<GasStart>>,
    pub truth: Truth,
}

/// What is fitted to closed-in gas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasStart {
    pub blanket: Option<(Headspace, VolumeRate)>,
    pub vent: Option<(Headspace, VolumeRate)>,
    pub leak: Option<Duration>,
}

/// What is true of a tank and differs from what its site file says.
#[derive(Clone, Debug, Default)]
pub struct Truth {
    pub density: Option<MassDensity>,
    pub leg_density: Option<Placed<MassDensity>>,
    /// Pa.
    pub transmitter_zero: Option<f64>,
    pub span_error: f64,
    /// Pa.
    pub resolution: f64,
    pub damping: Option<Duration>,
    /// Standard deviation, Pa.
    pub noise: Option<f64>,
    pub sediment_density: Option<MassDensity>,
    /// Density of foam over that of the liquid.
    pub foam_share: Option<f64>,
    pub tap_in_outlet: Option<Length>,
}

impl Script {
    pub fn read(path: &Path) -> Result<Self, Problems> {
        match std::fs::read_to_string(path) {
            Ok(text) => Self::parse(&text, path),
            Err(error) => {
                let problem =
                    Problem::of_file(format!("{} cannot be read: {error}", path.display()));
                let cure = "give the path of a script, for example config/scripts/high.toml";
                Err(Problems::new(path, "", vec![problem.cure(cure)]))
            }
        }
    }

    /// `path` is for messages, and the site file is named relative to it.
    pub fn parse(text: &str, path: &Path) -> Result<Self, Problems> {
        let document = Document::parse(text, path, keys::KEYS);
        let script = Self::of(&document, text);
        match (script, document.problems()) {
            (_, Some(problems)) => Err(problems),
            (Some(script), None) => Ok(script),
            (None, None) => unreachable!("what could not be read was reported"),
        }
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// As it was read.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The line that a place stands in, counted from 1.
    pub fn line(&self, place: &Range<usize>) -> usize {
        Source::new(&self.path, &self.text).line_and_column(place).0
    }

    /// What is wrong with the script once the site is known.
    pub fn problems(&self, list: Vec<Problem>) -> Problems {
        Problems::new(&self.path, &self.text, list)
    }

    fn of(document: &Document, text: &str) -> Option<Self> {
        let root = document.root();
        let folder = document.path().parent().unwrap_or(Path::new(""));
        let site = root.text("site").map(|site| folder.join(site));
        let seed = root.whole("seed", 0..=i64::from(u32::MAX));
        let last = moment::moment(&root, "last");
        let tanks: Vec<Option<TankStart>> = root.tables("tank").iter().map(TankStart::of).collect();
        report_twins(
            &root,
            tanks.iter().flatten().map(|start| &start.tank),
            ("starts twice", "put both in one [[tank]]"),
        );
        let pumps = root.tables("pump");
        let valves = root.tables("valve");
        let pipes = pumps.iter().map(pipe::pump);
        let pipes: Vec<Option<PipeStart>> = pipes.chain(valves.iter().map(pipe::valve)).collect();
        let demands = root.tables("demand");
        let demands: Vec<Option<Placed<Demand>>> = demands.iter().map(pipe::demand).collect();
        report_twins(
            &root,
            demands.iter().flatten().map(|demand| &demand.value.tank),
            ("has two demands", "add their flows up in one [[demand]]"),
        );
        let entries: Vec<Option<Entry>> = root
            .tables("at")
            .iter()
            .map(|table| at::entry(table, last))
            .collect();
        let expectations = root.tables("expect");
        let expectations: Vec<Option<Expectation>> = expectations
            .iter()
            .map(|table| expect::expectation(table, last))
            .collect();
        Some(Self {
            expectations: expectations.into_iter().collect::<Option<_>>()?,
            begins: begins(&root)?,
            site: site?,
            seed: seed?.unsigned_abs(),
            last,
            tanks: tanks.into_iter().collect::<Option<_>>()?,
            pipes: pipes.into_iter().collect::<Option<_>>()?,
            demands: demands.into_iter().collect::<Option<_>>()?,
            entries: entries.into_iter().collect::<Option<_>>()?,
            path: document.path().to_owned(),
            text: text.to_owned(),
        })
    }
}

impl TankStart {
    fn of(table: &Table<'_>) -> Option<Self> {
        let tank = named(table, "name");
        let placed = |key| {
            table.length(key).map(|value| Placed {
                value,
                place: table.place_of(key),
            })
        };
        let start = Self {
            level: placed("level"),
            interface: placed("interface"),
            inflow: table.si("inflow").map(cubic_metres_per_second),
            outflow: table.si("outflow").map(cubic_metres_per_second),
            headspace: headspace(table),
            gas: table.table("gas").and_then(|gas| {
                Some(Placed {
                    value: GasStart::of(&gas)?,
                    place: table.place_of("gas"),
                })
            }),
            liquid_temperature: table.si("liquid_temperature").map(kelvin),
            truth: table
                .table("true")
                .as_ref()
                .map(Truth::of)
                .unwrap_or_default(),
            tank: tank?,
        };
        Some(start)
    }
}

impl GasStart {
    fn of(table: &Table<'_>) -> Option<Self> {
        let blanket = pressure(table, "blanket").map(|placed| placed.value);
        let vent = pressure(table, "vent").map(|placed| placed.value);
        for (key, of, is_there) in [
            ("blanket_flow", "blanket", blanket.is_some()),
            ("vent_flow", "vent", vent.is_some()),
        ] {
            if table.has(key) && !table.has(of) && !is_there {
                let problem = table.problem_at(key, format!("`{key}` says nothing without `{of}`"));
                table.report(problem.cure(format!("add `{of}`, the pressure that it keeps")));
            }
        }
        let flow = |key| table.si(key).map(cubic_metres_per_second);
        Some(Self {
            blanket: blanket.zip(flow("blanket_flow")),
            vent: vent.zip(flow("vent_flow")),
            leak: table.has("leak").then(|| table.duration("leak")).flatten(),
        })
    }
}

impl Truth {
    fn of(table: &Table<'_>) -> Self {
        let leg_density = table.si("leg_density").map(kilograms_per_cubic_metre);
        Self {
            density: table.si("density").map(kilograms_per_cubic_metre),
            leg_density: leg_density.map(|value| Placed {
                value,
                place: table.place_of("leg_density"),
            }),
            transmitter_zero: table.si("transmitter_zero"),
            span_error: table.si("span_error").unwrap_or(0.0),
            resolution: table.si("resolution").unwrap_or(0.0),
            damping: table
                .has("damping")
                .then(|| table.duration("damping"))
                .flatten(),
            noise: table.si("noise"),
            sediment_density: table.si("sediment_density").map(kilograms_per_cubic_metre),
            foam_share: table.si("foam_share"),
            tap_in_outlet: table.length("tap_in_outlet"),
        }
    }
}

/// The year 5138.
const LATEST_BEGIN_S: i64 = 100_000_000_000;

fn begins(root: &Table<'_>) -> Option<Timestamp> {
    let parsed: Option<Timestamp> = root.text("begins")?.parse().ok();
    // What the script adds to it has to be a time too.
    let parsed = parsed.filter(|begins| begins.as_second() < LATEST_BEGIN_S);
    if parsed.is_none() {
        let problem = root.problem_at(
            "begins",
            "`begins` must be a time with its zone, before the year 5138",
        );
        root.report(problem.cure(format!("for example {}", root.example("begins"))));
    }
    parsed
}

/// "clear well LAH": a tank's name may have spaces, a code has none.
fn tank_and_code(text: &str) -> Option<(String, String)> {
    let (tank, code) = text.rsplit_once(' ')?;
    let tank = tank.trim();
    (!tank.is_empty()).then(|| (tank.to_owned(), code.to_owned()))
}

fn named(table: &Table<'_>, key: &'static str) -> Option<Named> {
    table.text(key).map(|name| Named {
        name: name.to_owned(),
        place: table.place_of(key),
    })
}

fn headspace(table: &Table<'_>) -> Option<Placed<Headspace>> {
    pressure(table, "headspace")
}

/// A pressure above the liquid has to say what it counts from.
fn pressure(table: &Table<'_>, key: &'static str) -> Option<Placed<Headspace>> {
    let written = table.quantity(key)?;
    let place = table.place_of(key);
    let Some(reference) = written.reference else {
        let (number, unit) = (written.number, written.unit.symbol);
        let message = format!("`{key}` must say what the pressure counts from");
        let cure = format!(
            "write \"{number} {unit}(g)\" above the air or \"{number} {unit}(a)\" above vacuum"
        );
        table.report(table.problem_at(key, message).cure(cure));
        return None;
    };
    Some(Placed {
        value: Headspace {
            pascals: written.si,
            reference,
        },
        place,
    })
}

/// Tanks that are named twice where once is all that counts.
fn report_twins<'s>(
    root: &Table<'_>,
    tanks: impl Iterator<Item = &'s Named>,
    (what, cure): (&str, &str),
) {
    let mut seen: Vec<&Named> = Vec::new();
    for tank in tanks {
        match seen.iter().find(|earlier| earlier.name == tank.name) {
            None => seen.push(tank),
            Some(earlier) => {
                let message = format!("tank \"{}\" {what}", tank.name);
                let problem = Problem::new(tank.place.clone(), message);
                root.report(
                    problem
                        .related(earlier.place.clone(), "first here")
                        .cure(cure),
                );
            }
        }
    }
}
