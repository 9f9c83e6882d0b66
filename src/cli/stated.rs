//! Values that are given on the command line in place of running transmitters: `--set TAG=QUANTITY`.

use super::quantity;
use crate::engine::TransmitterId;
use crate::engine::plan::{Measures, Plan, Reads, Source, TransmitterPlan};
use crate::engine::tank::{Signals, Stated, in_percent};
use crate::quantity::{Dimension, Reference, Written};
use anyhow::{Context, bail};

/// Every `--set`, in SI units as its transmitter measures.
pub fn stated(plan: &Plan, settings: &[String]) -> anyhow::Result<Stated> {
    let mut stated = Stated::new(plan);
    let mut settings = settings
        .iter()
        .map(|setting| Setting::read(plan, setting))
        .collect::<anyhow::Result<Vec<Setting>>>()?;
    // Barometers first: what is stated against another zero is turned over by them.
    settings.sort_by_key(|setting| !barometers(plan).contains(&setting.transmitter));
    for setting in settings {
        let shown = setting
            .shown(plan, &stated)
            .with_context(|| format!("--set \"{}\"", setting.text))?;
        stated.set(plan, setting.transmitter, shown);
    }
    Ok(stated)
}

/// Names what an answer needed and was not given.
pub fn nothing_missing(plan: &Plan, stated: &Stated) -> anyhow::Result<()> {
    let missing: Vec<String> = stated
        .missing()
        .into_iter()
        .map(|id| {
            let transmitter = &plan.transmitters[id.index()];
            format!(
                "--set {}=\"… {}\"",
                transmitter.tag, transmitter.unit.symbol
            )
        })
        .collect();
    anyhow::ensure!(
        missing.is_empty(),
        "the answer also needs: {}",
        missing.join("  ")
    );
    Ok(())
}

/// One `--set`, as it was written.
struct Setting<'a> {
    text: &'a str,
    transmitter: TransmitterId,
    written: Written,
}

impl<'a> Setting<'a> {
    fn read(plan: &Plan, text: &'a str) -> anyhow::Result<Self> {
        let (tag, value) = text.split_once('=').with_context(|| {
            format!("--set \"{text}\": a tag, \"=\" and a quantity are due, e.g. --set PDT-101=\"-27.6 kPa\"")
        })?;
        let mut transmitters = plan.transmitters.iter();
        let place = transmitters.position(|transmitter| *transmitter.tag == *tag.trim());
        let Some(place) = place else {
            let tags: Vec<&str> = plan
                .transmitters
                .iter()
                .map(|transmitter| &*transmitter.tag)
                .collect();
            bail!(
                "--set \"{text}\": there is no transmitter \"{}\"; this site has: {}",
                tag.trim(),
                tags.join(", ")
            );
        };
        let written = quantity(value.trim(), dimension(&plan.transmitters[place]))
            .with_context(|| format!("--set \"{text}\""))?;
        Ok(Self {
            text,
            transmitter: TransmitterId(place as u32),
            written,
        })
    }

    /// What the transmitter shows, in SI units.
    fn shown(&self, plan: &Plan, stated: &Stated) -> anyhow::Result<f64> {
        let (transmitter, si) = (
            &plan.transmitters[self.transmitter.index()],
            self.written.si,
        );
        let Reads::Pressure(measures) = transmitter.reads else {
            return Ok(si);
        };
        Ok(match (measures, self.written.reference) {
            (Measures::Differential, Some(_)) => bail!(
                "{} measures a differential pressure: without (g) or (a)",
                transmitter.tag
            ),
            (Measures::Absolute, Some(Reference::Gauge))
                if barometers(plan).contains(&self.transmitter) =>
            {
                bail!(
                    "{} is the barometer: its reading is absolute, (a)",
                    transmitter.tag
                )
            }
            // Stated against another zero than the transmitter's: turned over by the ambient pressure.
            (Measures::Gauge, Some(Reference::Absolute)) => si - air_pa(plan, stated),
            (Measures::Absolute, Some(Reference::Gauge)) => si + air_pa(plan, stated),
            (Measures::SealedGauge(sealed), Some(Reference::Absolute)) => si - sealed.0.value,
            _ => si,
        })
    }
}

fn dimension(transmitter: &TransmitterPlan) -> Dimension {
    match transmitter.reads {
        Reads::Pressure(_) => Dimension::Pressure,
        Reads::Temperature => Dimension::Temperature,
        Reads::Density => Dimension::Density,
        Reads::Flow => Dimension::Flow,
        Reads::Level if in_percent(transmitter) => Dimension::Ratio,
        Reads::Level => Dimension::Length,
    }
}

fn barometers(plan: &Plan) -> &[TransmitterId] {
    match &plan.ambient.pressure {
        Source::Tags(tags) => tags,
        Source::Fixed(_) | Source::Ambient => &[],
    }
}

/// The ambient pressure; a barometer that was not stated is noted as missing.
fn air_pa(plan: &Plan, stated: &Stated) -> f64 {
    if let Source::Fixed(pressure_pa) = plan.ambient.pressure {
        return pressure_pa;
    }
    let readings = barometers(plan)
        .iter()
        .map(|tag| stated.value(*tag).value)
        .collect::<Option<Vec<f64>>>()
        .filter(|readings| !readings.is_empty());
    readings.map_or(plan.ambient.pressure_otherwise.0.value, |readings| {
        readings.iter().sum::<f64>() / readings.len() as f64
    })
}
