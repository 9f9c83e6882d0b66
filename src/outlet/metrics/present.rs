//! The present: gauges made from the current snapshot at each scrape.
//!
//! What is not known has no series. A NaN would make every comparison false and keep an alert silent; a
//! kept number would look alive. `…_reading_valid` and `…_last_good_timestamp_seconds` say it instead.

use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::{AlarmView, TankView};
use crate::engine::{Quality, Snapshot};
use crate::journal::{Journal, Outbox, Standing};
use crate::quantity::ZERO_CELSIUS_K;
use crate::wire::name::fold;
use prometheus::core::{Collector, Desc};
use prometheus::{Error, Gauge, GaugeVec, IntCounter, Opts, proto::MetricFamily};
use std::sync::Arc;
use tokio::sync::watch;

pub(super) struct Present {
    snapshots: watch::Receiver<Arc<Snapshot>>,
    outbox: Option<Arc<Outbox>>,
    journal: watch::Receiver<Standing>,
    descriptions: Vec<Desc>,
}

impl Present {
    pub fn new(
        snapshots: watch::Receiver<Arc<Snapshot>>,
        journal: &Journal,
    ) -> Result<Self, Error> {
        let descriptions = Gauges::new()?
            .all()
            .flat_map(|gauge| gauge.desc())
            .cloned()
            .collect();
        Ok(Self {
            snapshots,
            outbox: journal.outbox().cloned(),
            journal: journal.standing(),
            descriptions,
        })
    }

    fn gauges(&self) -> Result<Gauges, Error> {
        let gauges = Gauges::new()?;
        let snapshot = self.snapshots.borrow().clone();
        for tank in &snapshot.tanks {
            gauges.tank(tank);
        }
        for (tank, alarm) in snapshot.alarms() {
            gauges.alarm(&fold(tank), alarm);
        }
        for link in &snapshot.links {
            gauges
                .link_up
                .with_label_values(&[&*link.name])
                .set(flag(link.up));
        }
        let beat_s = snapshot.utc.as_millisecond() as f64 / 1000.0;
        gauges.heartbeat.set(beat_s);
        gauges.journal(&self.journal.borrow());
        if let Some(outbox) = &self.outbox {
            gauges.outbox_events.set(outbox.len() as f64);
            gauges.outbox_lost.inc_by(outbox.lost());
        }
        Ok(gauges)
    }
}

impl Collector for Present {
    fn desc(&self) -> Vec<&Desc> {
        self.descriptions.iter().collect()
    }

    fn collect(&self) -> Vec<MetricFamily> {
        match self.gauges() {
            Ok(gauges) if self.outbox.is_some() => {
                gauges.all().flat_map(Collector::collect).collect()
            }
            Ok(gauges) => gauges.measured().flat_map(Collector::collect).collect(),
            Err(error) => {
                tracing::error!(%error, "the gauges could not be made");
                Vec::new()
            }
        }
    }
}

struct Gauges {
    quantities: Vec<(Quantity, GaugeVec)>,
    valid: GaugeVec,
    product: GaugeVec,
    last_good: GaugeVec,
    alarm: GaugeVec,
    link_up: GaugeVec,
    heartbeat: Gauge,
    journal_writable: Gauge,
    journal_waiting: Gauge,
    journal_lost: IntCounter,
    outbox_events: Gauge,
    outbox_lost: IntCounter,
}

impl Gauges {
    fn new() -> Result<Self, Error> {
        let quantities = QUANTITIES
            .iter()
            .map(|(name, help, quantity)| {
                Ok((
                    *quantity,
                    GaugeVec::new(Opts::new(*name, *help), &["tank"])?,
                ))
            })
            .collect::<Result<_, Error>>()?;
        let by =
            |name: &str, help: &str, labels: &[&str]| GaugeVec::new(Opts::new(name, help), labels);
        Ok(Self {
            quantities,
            valid: by(
                "standpipe_tank_reading_valid",
                "1 while the reading is not bad, and no live test puts a value in its place.",
                &["tank"],
            )?,
            product: by(
                "standpipe_tank_product_info",
                "Always 1; what is in the tank is its label, where there is a choice.",
                &["tank", "product"],
            )?,
            last_good: by(
                "standpipe_tank_last_good_timestamp_seconds",
                "When the reading was last good, in Unix time.",
                &["tank"],
            )?,
            alarm: by(
                "standpipe_alarm_state",
                "1 for the state that the alarm is in, 0 for every other.",
                &["tank", "code", "state"],
            )?,
            link_up: by("standpipe_link_up", "1 while the link answers.", &["link"])?,
            heartbeat: Gauge::new(
                "standpipe_heartbeat_timestamp_seconds",
                "When the alarms were last judged, in Unix time.",
            )?,
            journal_writable: Gauge::new(
                "standpipe_journal_writable",
                "1 while the journal can be written.",
            )?,
            journal_waiting: Gauge::new(
                "standpipe_journal_waiting_events",
                "Events that wait in memory to be written to the journal.",
            )?,
            journal_lost: IntCounter::new(
                "standpipe_journal_lost_events_total",
                "Events that could neither be written nor be held in memory.",
            )?,
            outbox_events: Gauge::new(
                "standpipe_outbox_events",
                "Events that wait for the broker.",
            )?,
            outbox_lost: IntCounter::new(
                "standpipe_outbox_lost_events_total",
                "Events given up for want of room in journal and memory.",
            )?,
        })
    }

    fn all(&self) -> impl Iterator<Item = &dyn Collector> {
        let outbox: [&dyn Collector; 2] = [&self.outbox_events, &self.outbox_lost];
        self.measured().chain(outbox)
    }

    /// All but the outbox, which only a site with a broker has.
    fn measured(&self) -> impl Iterator<Item = &dyn Collector> {
        let fixed: [&dyn Collector; 9] = [
            &self.valid,
            &self.product,
            &self.last_good,
            &self.alarm,
            &self.link_up,
            &self.heartbeat,
            &self.journal_writable,
            &self.journal_waiting,
            &self.journal_lost,
        ];
        self.quantities
            .iter()
            .map(|(_, gauge)| gauge as &dyn Collector)
            .chain(fixed)
    }

    fn journal(&self, standing: &Standing) {
        self.journal_writable.set(flag(standing.trouble.is_none()));
        self.journal_waiting.set(standing.waiting as f64);
        self.journal_lost.inc_by(standing.lost.events);
    }

    fn tank(&self, tank: &TankView) {
        let name = fold(&tank.name);
        // What a live test puts in is no level.
        let valid = tank.reading.quality != Quality::Bad && tank.test.is_none();
        for (quantity, gauge) in &self.quantities {
            if let Some(value) = quantity(tank).filter(|value| valid && value.is_finite()) {
                gauge.with_label_values(&[&name]).set(value);
            }
        }
        self.valid.with_label_values(&[&name]).set(flag(valid));
        if let Some(product) = &tank.product {
            self.product
                .with_label_values(&[&name, &**product])
                .set(1.0);
        }
        if let Some(moment) = tank.last_good {
            self.last_good
                .with_label_values(&[&name])
                .set(moment.as_millisecond() as f64 / 1000.0);
        }
    }

    /// `tank`: its name, or that of the system.
    fn alarm(&self, tank: &str, alarm: &AlarmView) {
        for state in AlarmState::ALL {
            let labels = [tank, &*alarm.code, state.code()];
            let is_it = flag(alarm.state == *state);
            self.alarm.with_label_values(&labels).set(is_it);
        }
    }
}

type Quantity = fn(&TankView) -> Option<f64>;

/// Name, help and value of each quantity of a tank.
const QUANTITIES: [(&str, &str, Quantity); 12] = [
    (
        "standpipe_tank_level_meters",
        "Level above the site's zero.",
        |tank| tank.reading.level.map(|level| level.value),
    ),
    (
        "standpipe_tank_level_uncertainty_meters",
        "Expanded uncertainty of the level, k = 2.",
        |tank| tank.reading.level_uncertainty.map(|level| level.value),
    ),
    (
        "standpipe_tank_fill_ratio",
        "Share of the working volume.",
        |tank| tank.reading.fill,
    ),
    (
        "standpipe_tank_volume_cubic_meters",
        "Liquid in the tank.",
        |tank| tank.reading.volume.map(|volume| volume.value),
    ),
    (
        "standpipe_tank_usable_volume_cubic_meters",
        "Liquid that can be drawn.",
        |tank| tank.reading.usable.map(|volume| volume.value),
    ),
    (
        "standpipe_tank_ullage_cubic_meters",
        "Room left in the tank.",
        |tank| tank.reading.ullage.map(|volume| volume.value),
    ),
    (
        "standpipe_tank_mass_kilograms",
        "Liquid in the tank.",
        |tank| tank.reading.mass.map(|mass| mass.value),
    ),
    (
        "standpipe_tank_density_kilograms_per_cubic_meter",
        "Density of the liquid.",
        |tank| tank.reading.density.map(|density| density.value),
    ),
    (
        "standpipe_tank_temperature_celsius",
        "Temperature of the liquid.",
        |tank| {
            tank.reading
                .temperature
                .map(|temperature| temperature.value - ZERO_CELSIUS_K)
        },
    ),
    (
        "standpipe_tank_rate_meters_per_second",
        "Rate of the level; rising is positive.",
        |tank| tank.reading.rate.map(|rate| rate.value),
    ),
    (
        "standpipe_tank_net_flow_cubic_meters_per_second",
        "What the rate means in volume.",
        |tank| tank.reading.net_flow.map(|flow| flow.value),
    ),
    (
        "standpipe_tank_differential_pressure_pascals",
        "High minus low, port to port.",
        |tank| {
            tank.reading
                .differential_pressure
                .map(|difference| difference.0.value)
        },
    ),
];

fn flag(set: bool) -> f64 {
    if set { 1.0 } else { 0.0 }
}
