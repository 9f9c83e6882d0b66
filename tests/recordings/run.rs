//! One replay: a site, a recording, and what it brought; by the same way as the command.

use standpipe::engine::{Event, Quality, Reading, Reason};
use standpipe::quantity::Timestamp;
use standpipe::rehearsal::recording::{Manual, Mapping, Rows, Told, Window, replay};
use standpipe::site::Site;
use standpipe::wire::ReplayForm;
use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;
use std::sync::Arc;

/// What is kept of a reading.
#[derive(Clone, Copy, Debug)]
pub struct Shown {
    pub time: Timestamp,
    pub quality: Quality,
    pub level_m: Option<f64>,
    pub at_most_m: Option<f64>,
    pub difference_pa: Option<f64>,
    /// No level gives this through sound lines.
    pub outside_lines: bool,
}

impl Shown {
    fn of(reading: &Reading) -> Self {
        Self {
            time: reading.time,
            quality: reading.quality,
            level_m: reading.level.map(|level| level.value),
            at_most_m: reading.level_at_most.map(|level| level.value),
            difference_pa: reading
                .differential_pressure
                .map(|pressure| pressure.0.value),
            outside_lines: reading.reasons.has(Reason::OutsideIntactLines),
        }
    }

    /// Since second 0 of a recording that counts them.
    pub fn seconds(&self) -> f64 {
        self.time.as_millisecond() as f64 / 1000.0
    }
}

/// Whether a reading is at most that high: one-sided, or bad because no water gives less than the air.
pub fn shows_at_most(reading: &Shown, highest_m: f64) -> bool {
    match (reading.level_m, reading.at_most_m) {
        (Some(level_m), _) => level_m <= highest_m,
        (None, Some(at_most_m)) => at_most_m <= highest_m && reading.quality != Quality::Good,
        (None, None) => reading.outside_lines && reading.quality == Quality::Bad,
    }
}

pub struct Replayed {
    pub form: ReplayForm,
    pub readings: Vec<Shown>,
    pub events: Vec<Event>,
}

impl Replayed {
    pub fn levels(&self) -> Vec<f64> {
        let levels = self.readings.iter().map(|reading| reading.level_m);
        levels
            .map(|level| level.expect("every row has a level"))
            .collect()
    }
}

/// A site with standard gravity, water of a temperature that may be a tag, and one tank; `hookup` is its
/// table, `more` goes before it. The reference neglects the air above the water: so do these sites.
pub struct Bench<'a> {
    pub poll_every: &'a str,
    pub ambient: &'a str,
    /// Each a tag, what it reads or measures, and its unit.
    pub transmitters: &'a [(&'a str, &'a str, &'a str)],
    pub temperature: &'a str,
    pub hookup: &'a str,
    pub alarms: &'a str,
}

impl Bench<'_> {
    pub fn site(&self) -> Site {
        let transmitters = self.transmitters.iter().enumerate().map(|(index, (tag, what, unit))| {
            // Stated for pressures: without it, 1 % of the vessel around a tap counts as at the tap.
            let accuracy = if what.starts_with("reads") { "" } else { "accuracy = \"1 Pa\"" };
            format!(
                "[[transmitter]]\ntag = \"{tag}\"\nlink = \"bench\"\nregister = \"input {}\"\ntype = \"f32\"\n{what}\nunit = \"{unit}\"\n{accuracy}\n",
                2 * index
            )
        });
        let text = format!(
            r#"
[site]
name = "Bench"
gravity = "9.80665 m/s2"
ambient = {ambient}
[[link]]
name = "bench"
tcp = "127.0.0.1:1502"
poll_every = "{poll_every}"
{transmitters}
[[tank]]
name = "tank"
vessel = {{ shape = "upright-cylinder", diameter = "0.3 m", height = "9 m" }}
liquid = {{ kind = "water", temperature = "{temperature}" }}
gas = {{ density = "0 kg/m3" }}
hookup = {hookup}
{alarms}
"#,
            ambient = self.ambient,
            poll_every = self.poll_every,
            transmitters = transmitters.collect::<String>(),
            temperature = self.temperature,
            hookup = self.hookup,
            alarms = self.alarms,
        );
        standpipe::site::parse(&text, Path::new("bench.toml"))
            .unwrap_or_else(|problems| panic!("{problems}"))
    }
}

pub fn replayed(site: &Site, recording: &Path, columns: &[&str]) -> Replayed {
    let source = File::open(recording).expect("the data");
    of(site, source, columns, None)
}

/// With manual readings, as CSV.
pub fn of(site: &Site, source: impl Read, columns: &[&str], manual: Option<&str>) -> Replayed {
    let mut mapping = Mapping::default();
    for column in columns {
        mapping.add(column).expect("a mapping");
    }
    let zero = Timestamp::UNIX_EPOCH;
    let plan = Arc::new(site.plan.clone());
    let rows = Rows::open(source, "data.csv", Arc::clone(&plan), &mapping, zero)
        .unwrap_or_else(|error| panic!("{error}"));
    let manual = manual.map(|text| {
        let source = Box::new(Cursor::new(text.to_owned()));
        let manual = Manual::open(source, "manual.csv", Arc::clone(&plan), zero);
        manual.unwrap_or_else(|error| panic!("{error}"))
    });
    let (mut readings, mut events) = (Vec::new(), Vec::new());
    let form = replay(&plan, rows, manual, Window::default(), &mut |told| {
        match told {
            Told::Reading(tank, engine) => readings.push(Shown::of(engine.reading(tank))),
            Told::Event(event) => events.push(event.clone()),
            Told::Row(_) | Told::End(_) => {}
        }
        Ok(())
    });
    Replayed {
        form: form.unwrap_or_else(|error| panic!("{error}")),
        readings,
        events,
    }
}

pub fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    if sorted.len() % 2 == 1 {
        sorted[half]
    } else {
        (sorted[half - 1] + sorted[half]) / 2.0
    }
}

pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// `ours` within `tolerance` of the reference.
pub fn near(what: &str, ours: f64, reference: f64, tolerance: f64) {
    assert!(
        (ours - reference).abs() <= tolerance,
        "{what}: {ours}, reference {reference}, tolerance {tolerance:e}"
    );
}
