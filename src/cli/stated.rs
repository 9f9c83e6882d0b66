//! Values that are given on the command line in place of running transmitters: `--set TAG=QUANTITY`.

use super::quantity;
use crate::engine::TransmitterId;
use crate::engine::plan::{Measures, Plan, Reads, TankPlan, TransmitterPlan};
use crate::engine::tank::{OutsideAir, Stated, in_percent};
use crate::quantity::{Dimension, Reference, Written};
use anyhow::{Context, bail};

/// Every `--set`, in SI units as its transmitter measures. What is stated against another zero than the
/// transmitter's own is turned over by the air at its height in that tank.
pub fn stated(plan: &Plan, tank: &TankPlan, settings: &[String]) -> anyhow::Result<Stated> {
    let mut stated = Stated::new(plan);
    let mut settings = settings
        .iter()
        .map(|setting| Setting::read(plan, setting))
        .collect::<anyhow::Result<Vec<Setting>>>()?;
    // The outside air first: what is stated against another zero is turned over by it.
    settings.sort_by_key(|setting| {
        let of_air = barometers(plan).contains(&setting.transmitter)
            || plan.ambient.temperature.names(setting.transmitter);
        !of_air
    });
    for setting in settings {
        let shown = setting
            .shown(plan, tank, &stated)
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
    fn shown(&self, plan: &Plan, tank: &TankPlan, stated: &Stated) -> anyhow::Result<f64> {
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
            (Measures::Gauge, Some(Reference::Absolute)) => si - self.air_pa(plan, tank, stated),
            (Measures::Absolute, Some(Reference::Gauge)) => si + self.air_pa(plan, tank, stated),
            (Measures::SealedGauge(sealed), Some(Reference::Absolute)) => si - sealed.0.value,
            // Above the air of the moment, not above what it was sealed at.
            (Measures::SealedGauge(sealed), Some(Reference::Gauge)) => {
                si + self.air_pa(plan, tank, stated) - sealed.0.value
            }
            _ => si,
        })
    }
}

impl Setting<'_> {
    /// The outside air at the transmitter; at the barometer's height where the tank has no place for it. What is
    /// not stated of the air is noted as missing.
    fn air_pa(&self, plan: &Plan, tank: &TankPlan, stated: &Stated) -> f64 {
        let mut hookups = tank.hookups.iter();
        let at = hookups.find_map(|hookup| hookup.hookup.elevation_of(self.transmitter));
        let air = OutsideAir::of(plan, stated);
        let pressure = air.pressure(plan, at.unwrap_or(plan.ambient.pressure_at));
        pressure.0.value
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
    plan.ambient.pressure.tags()
}
