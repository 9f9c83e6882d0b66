//! Values that are given on the command line in place of running transmitters: `--set TAG=QUANTITY`.

use super::quantity;
use crate::engine::TransmitterId;
use crate::engine::plan::{Measures, Plan, Reads, TransmitterPlan};
use crate::engine::tank::Stated;
use crate::quantity::{Dimension, Reference};
use anyhow::{Context, bail};

/// Every `--set`, in SI units as its transmitter measures.
pub fn stated(plan: &Plan, settings: &[String]) -> anyhow::Result<Stated> {
    let mut stated = Stated::new(plan);
    for setting in settings {
        let (tag, text) = setting.split_once('=').with_context(|| {
            format!("--set \"{setting}\": a tag, \"=\" and a quantity are due, e.g. --set PDT-101=\"-27.6 kPa\"")
        })?;
        let place = plan
            .transmitters
            .iter()
            .position(|transmitter| *transmitter.tag == *tag.trim());
        let Some(place) = place else {
            let tags: Vec<&str> = plan
                .transmitters
                .iter()
                .map(|transmitter| &*transmitter.tag)
                .collect();
            bail!(
                "--set \"{setting}\": there is no transmitter \"{}\"; this site has: {}",
                tag.trim(),
                tags.join(", ")
            );
        };
        let value = value(plan, &plan.transmitters[place], text.trim())
            .with_context(|| format!("--set \"{setting}\""))?;
        stated.set(plan, TransmitterId(place as u32), value);
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

fn value(plan: &Plan, transmitter: &TransmitterPlan, text: &str) -> anyhow::Result<f64> {
    let measures = match transmitter.reads {
        Reads::Temperature => return Ok(quantity(text, Dimension::Temperature)?.si),
        Reads::Density => return Ok(quantity(text, Dimension::Density)?.si),
        Reads::Flow => return Ok(quantity(text, Dimension::Flow)?.si),
        Reads::Level => return Ok(quantity(text, Dimension::Length)?.si),
        Reads::Pressure(measures) => measures,
    };
    let written = quantity(text, Dimension::Pressure)?;
    // Stated against another zero than the transmitter's: turned over by the ambient pressure.
    let air_pa = match &plan.ambient.pressure {
        crate::engine::plan::Source::Fixed(pressure) => *pressure,
        _ => plan.ambient.pressure_otherwise.0.value,
    };
    Ok(match (measures, written.reference) {
        (Measures::Differential, Some(_)) => {
            bail!(
                "{} measures a differential pressure: without (g) or (a)",
                transmitter.tag
            )
        }
        (Measures::Gauge, Some(Reference::Absolute)) => written.si - air_pa,
        (Measures::Absolute, Some(Reference::Gauge)) => written.si + air_pa,
        (Measures::SealedGauge(sealed), Some(Reference::Absolute)) => written.si - sealed.0.value,
        _ => written.si,
    })
}
