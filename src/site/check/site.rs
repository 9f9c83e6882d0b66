//! `[site]`: name, place, the air around it, and how people are shown things.

use super::transmitter::Transmitters;
use crate::engine::TransmitterId;
use crate::engine::plan::{Ambient, Measures, Source};
use crate::physics::{atmosphere, gravity};
use crate::quantity::{
    AbsolutePressure, Acceleration, Dimension, Length, Reference, celsius, kelvin, metres,
    metres_per_second_squared,
};
use crate::site::file::{Given, Table};
use crate::site::key::nearest;
use crate::site::settings::ShowUnits;
use crate::site::settings::fold;
use jiff::civil::Time;
use jiff::tz;

/// Everything that `[site]` says.
#[derive(Debug)]
pub struct Place<'d> {
    pub name: Option<&'d str>,
    pub timezone: Option<String>,
    pub shifts: Vec<Time>,
    pub gravity: Acceleration,
    pub gravity_uncertainty: Acceleration,
    pub ambient: Ambient,
    /// Whether the site says the pressure of its air, so that it need not be that of the standard atmosphere.
    pub air_is_given: bool,
    pub show: ShowUnits,
}

/// Air temperature where nothing is said.
const AMBIENT_C: f64 = 15.0;

/// k = 2 of gravity from latitude and elevation: anomalies of ±100 mGal (common practice, no source).
const NORMAL_GRAVITY_UNCERTAINTY_M_S2: f64 = 1e-3;

/// k = 2 of standard gravity taken anywhere: at sea level it lies between 9.780 and 9.832 m/s² (WGS 84, equator
/// and poles), at most 0.0266 m/s² from the standard; rectangular, 2 · 0.0266/√3.
const STANDARD_GRAVITY_UNCERTAINTY_M_S2: f64 = 0.031;

pub fn read<'d>(table: &Table<'d>, transmitters: &Transmitters<'d>) -> Option<Place<'d>> {
    let name = table.text("name");
    if name.is_some_and(|name| fold(name).is_empty()) {
        let problem = table.problem_at("name", "the site's name has no letter and no digit");
        table.report(problem.cure("it goes into topics and metrics: name = \"Alder Rise\""));
    }
    let (gravity, gravity_uncertainty, elevation) = read_gravity(table);
    Some(Place {
        name,
        timezone: timezone(table),
        shifts: shifts(table),
        gravity,
        gravity_uncertainty,
        ambient: read_ambient(table, transmitters, elevation),
        air_is_given: table.holds("ambient", "pressure"),
        show: show(table)?,
    })
}

fn timezone(table: &Table<'_>) -> Option<String> {
    let name = table.text("timezone")?;
    let database = tz::db();
    if database.get(name).is_err() && !database.is_definitively_empty() {
        let known: Vec<String> = database
            .available()
            .map(|known| known.as_str().to_owned())
            .collect();
        let cure = match nearest(name, known.iter().map(String::as_str)) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => {
                "write it as in the IANA time zone database: \"Europe/London\", \"UTC\"".to_owned()
            }
        };
        table.report(
            table
                .problem_at("timezone", format!("there is no time zone \"{name}\""))
                .cure(cure),
        );
    }
    Some(name.to_owned())
}

fn shifts(table: &Table<'_>) -> Vec<Time> {
    let mut shifts: Vec<Time> = Vec::new();
    for (text, place) in table.texts("shifts") {
        let hours_and_minutes = text.len() == 5 && text.as_bytes()[2] == b':';
        match text.parse::<Time>() {
            Ok(time) if hours_and_minutes && shifts.last().is_none_or(|before| *before < time) => {
                shifts.push(time)
            }
            Ok(_) if hours_and_minutes => {
                let problem = crate::site::Problem::new(
                    place,
                    format!("shift \"{text}\" does not follow the one before it"),
                );
                table.report(problem.cure("name the shifts in the order of the day, each once"));
            }
            _ => {
                let problem =
                    crate::site::Problem::new(place, format!("shift \"{text}\" is no time of day"));
                table.report(
                    problem.cure("hours and minutes: shifts = [\"06:00\", \"14:00\", \"22:00\"]"),
                );
            }
        }
    }
    shifts
}

/// Gravity, its uncertainty, and the elevation of the site.
fn read_gravity(table: &Table<'_>) -> (Acceleration, Acceleration, Length) {
    let standard = (
        gravity::standard(),
        metres_per_second_squared(STANDARD_GRAVITY_UNCERTAINTY_M_S2),
        metres(0.0),
    );
    if table.is_table("gravity") {
        let place = table.table("gravity");
        return place
            .and_then(|place| gravity_of(&place))
            .unwrap_or(standard);
    }
    let Some(written) = table.quantity_of("gravity", Dimension::Acceleration) else {
        return standard;
    };
    check_on_earth(table, "gravity", written.si);
    // Outright, and nothing said of how far it may be off: `check` tells.
    (
        metres_per_second_squared(written.si),
        metres_per_second_squared(0.0),
        metres(0.0),
    )
}

/// `{ latitude, elevation }` or `{ value }`, either with its `uncertainty`.
fn gravity_of(place: &Table<'_>) -> Option<(Acceleration, Acceleration, Length)> {
    let stated = place.quantity("uncertainty").map(|written| written.si);
    let uncertainty = |otherwise: f64| metres_per_second_squared(stated.unwrap_or(otherwise));
    if place.has("value") {
        for other in ["latitude", "elevation"]
            .into_iter()
            .filter(|key| place.has(key))
        {
            let message = format!("gravity has a `value`, and `{other}` would give another one");
            let problem = place.problem_at(other, message);
            place.report(problem.cure("give `value`, or `latitude` with `elevation`"));
        }
        let value = place.quantity("value")?.si;
        check_on_earth(place, "value", value);
        return Some((
            metres_per_second_squared(value),
            uncertainty(0.0),
            metres(0.0),
        ));
    }
    for due in ["latitude", "elevation"]
        .into_iter()
        .filter(|key| !place.has(key))
    {
        let problem = place.problem_at(due, format!("`{due}` is missing in [site.gravity]"));
        place.report(problem.cure(
            "gravity = { latitude = \"51.2 deg\", elevation = \"140 m\" }, or { value = \"9.8116 m/s2\" }",
        ));
    }
    let (latitude, elevation) = (place.quantity("latitude"), place.si("elevation"));
    let (latitude, elevation_m) = (latitude?, elevation?);
    if latitude.si.abs() > std::f64::consts::FRAC_PI_2 {
        place.report(
            place
                .problem_at("latitude", "`latitude` goes from -90 deg to 90 deg")
                .cure("for example \"51.2 deg\""),
        );
    }
    if !(-500.0..=9000.0).contains(&elevation_m) {
        place.report(
            place
                .problem_at("elevation", "no site is at that elevation")
                .cure("give it above sea level, for example \"140 m\""),
        );
        return None;
    }
    let normal = gravity::normal(crate::quantity::radians(latitude.si), metres(elevation_m));
    Some((
        normal,
        uncertainty(NORMAL_GRAVITY_UNCERTAINTY_M_S2),
        metres(elevation_m),
    ))
}

fn check_on_earth(table: &Table<'_>, key: &str, gravity_m_s2: f64) {
    if !(9.7..=9.9).contains(&gravity_m_s2) {
        let problem = table.problem_at(key, "there is no such gravity on earth");
        table.report(problem.cure("it lies between 9.76 and 9.84 m/s2: gravity = \"9.8116 m/s2\", or { latitude, elevation }"));
    }
}

fn read_ambient(table: &Table<'_>, transmitters: &Transmitters<'_>, elevation: Length) -> Ambient {
    let mut ambient = Ambient {
        temperature: Source::Fixed(celsius(AMBIENT_C).value),
        pressure: Source::Fixed(atmosphere::standard_pressure(elevation).0.value),
        pressure_at: metres(0.0),
        temperature_otherwise: celsius(AMBIENT_C),
        pressure_otherwise: atmosphere::standard_pressure(elevation),
    };
    let Some(air) = table.table("ambient") else {
        return ambient;
    };
    ambient.pressure_at = air.length("at").unwrap_or(metres(0.0));
    match temperature_source(&air, "temperature", transmitters) {
        Some(Source::Ambient) => {
            let problem = air.problem_at(
                "temperature",
                "the ambient temperature cannot be \"ambient\" itself",
            );
            air.report(problem.cure("give a quantity or a tag: temperature = \"12 degC\""));
        }
        Some(source) => {
            if let Source::Fixed(fixed_k) = source {
                ambient.temperature_otherwise = kelvin(fixed_k);
            }
            ambient.temperature = source;
        }
        None => {}
    }
    if let Some(source) = ambient_pressure(&air, transmitters) {
        if let Source::Fixed(fixed_pa) = source {
            ambient.pressure_otherwise = AbsolutePressure::pascals(fixed_pa);
        }
        ambient.pressure = source;
    }
    ambient
}

fn ambient_pressure(air: &Table<'_>, transmitters: &Transmitters<'_>) -> Option<Source> {
    match air.source("pressure")? {
        Given::Quantity(written)
            if written.reference == Some(Reference::Gauge)
                || !(30_000.0..=120_000.0).contains(&written.si) =>
        {
            let problem = air.problem_at(
                "pressure",
                "the pressure of the air is absolute, and this cannot be it",
            );
            air.report(problem.cure(
                "give the barometer's reading, not reduced to sea level: pressure = \"996.5 hPa\"",
            ));
            None
        }
        Given::Quantity(written) => Some(Source::Fixed(written.si)),
        Given::Ambient => {
            air.report(
                air.problem_at(
                    "pressure",
                    "the ambient pressure cannot be \"ambient\" itself",
                )
                .cure("give a quantity or a tag"),
            );
            None
        }
        Given::Tags(tags) => {
            let barometers = found(air, tags, transmitters, Dimension::Pressure)?;
            for barometer in &barometers {
                let measures =
                    transmitters.settle(*barometer, Measures::Absolute, air.place_of("pressure"));
                if measures != Measures::Absolute {
                    let problem = air.problem_at(
                        "pressure",
                        format!(
                            "{} is no barometer: it does not measure absolute pressure",
                            transmitters.of(*barometer).tag
                        ),
                    );
                    air.report(
                        problem
                            .related(transmitters.measures_place(*barometer), "says so")
                            .cure("name an absolute transmitter that is open to the air"),
                    );
                }
            }
            Some(Source::Tags(barometers))
        }
    }
}

/// A temperature that may be read, fixed, or that of the air.
pub fn temperature_source(
    table: &Table<'_>,
    name: &'static str,
    transmitters: &Transmitters<'_>,
) -> Option<Source> {
    Some(match table.source(name)? {
        Given::Quantity(written) => Source::Fixed(written.si),
        Given::Ambient => Source::Ambient,
        Given::Tags(tags) => {
            Source::Tags(found(table, tags, transmitters, Dimension::Temperature)?)
        }
    })
}

fn found(
    table: &Table<'_>,
    tags: Vec<(&str, std::ops::Range<usize>)>,
    transmitters: &Transmitters<'_>,
    due: Dimension,
) -> Option<Vec<TransmitterId>> {
    let ids: Vec<Option<TransmitterId>> = tags
        .into_iter()
        .map(|(tag, place)| transmitters.find(table, tag, place, due))
        .collect();
    ids.into_iter().collect()
}

fn show(table: &Table<'_>) -> Option<ShowUnits> {
    let usual = |symbol, dimension| {
        crate::quantity::find(symbol, dimension).expect("the usual units stand in the unit table")
    };
    let Some(show) = table.table("show") else {
        return Some(ShowUnits {
            level: usual("m", Dimension::Length),
            volume: usual("m3", Dimension::Volume),
            pressure: usual("kPa", Dimension::Pressure),
            temperature: usual("degC", Dimension::Temperature),
            flow: usual("m3/h", Dimension::Flow),
            mass: usual("t", Dimension::Mass),
        });
    };
    let unit = |name, dimension| {
        let (unit, reference) = show.unit(name, dimension)?;
        if reference.is_some() {
            let problem = show.problem_at(
                name,
                "pressures are shown as what they are, gauge, absolute or differential",
            );
            show.report(problem.cure(format!(
                "write the unit alone: {name} = \"{}\"",
                unit.symbol
            )));
        }
        Some(unit)
    };
    let (level, volume) = (
        unit("level", Dimension::Length),
        unit("volume", Dimension::Volume),
    );
    let (pressure, temperature) = (
        unit("pressure", Dimension::Pressure),
        unit("temperature", Dimension::Temperature),
    );
    let (flow, mass) = (unit("flow", Dimension::Flow), unit("mass", Dimension::Mass));
    Some(ShowUnits {
        level: level?,
        volume: volume?,
        pressure: pressure?,
        temperature: temperature?,
        flow: flow?,
        mass: mass?,
    })
}
