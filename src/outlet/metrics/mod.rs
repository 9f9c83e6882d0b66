//! Metrics in the Prometheus text format: base units, and never a stale good number.
//!
//! What describes the present is made from the snapshot at each scrape ([`present`]); what is counted
//! (events, errors, round trips) is counted here.

mod present;

use crate::engine::{EventKind, Snapshot};
use crate::journal::Journal;
use present::Present;
use prometheus::{
    Encoder, Error, Gauge, HistogramOpts, HistogramVec, IntCounterVec, Opts, Registry, TextEncoder,
    process_collector::ProcessCollector,
};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::watch;

/// Upper bounds of the round-trip histogram, s: a fast network answers in a millisecond, a slow gateway
/// in seconds.
const ROUND_TRIP_BOUNDS_S: [f64; 12] = [
    0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0,
];

/// The kinds of link errors, so that each series starts at zero before its first error.
const LINK_ERRORS: [&str; 5] = ["connect", "timeout", "closed", "exception", "malformed"];

pub struct Metrics {
    registry: Registry,
    events: IntCounterVec,
    round_trips: HistogramVec,
    link_errors: IntCounterVec,
    /// The last round trip of each link, for people.
    latest: Mutex<BTreeMap<String, Duration>>,
}

impl Metrics {
    pub fn new(
        snapshots: watch::Receiver<Arc<Snapshot>>,
        journal: &Journal,
    ) -> Result<Self, Error> {
        let metrics = Self {
            registry: Registry::new(),
            events: IntCounterVec::new(
                Opts::new(
                    "standpipe_events_total",
                    "Events of the journal since the start.",
                ),
                &["kind"],
            )?,
            round_trips: HistogramVec::new(
                HistogramOpts::new(
                    "standpipe_link_round_trip_seconds",
                    "Time from a request on a link to its answer.",
                )
                .buckets(ROUND_TRIP_BOUNDS_S.to_vec()),
                &["link"],
            )?,
            link_errors: IntCounterVec::new(
                Opts::new(
                    "standpipe_link_errors_total",
                    "Requests on a link that went wrong.",
                ),
                &["link", "kind"],
            )?,
            latest: Mutex::default(),
        };
        metrics.start_at_zero(&snapshots.borrow());
        let registry = &metrics.registry;
        registry.register(Box::new(metrics.events.clone()))?;
        registry.register(Box::new(metrics.round_trips.clone()))?;
        registry.register(Box::new(metrics.link_errors.clone()))?;
        registry.register(Box::new(build_info()?))?;
        registry.register(Box::new(ProcessCollector::for_self()))?;
        registry.register(Box::new(Present::new(snapshots, journal)?))?;
        Ok(metrics)
    }

    /// An event was journalled.
    pub fn event(&self, kind: EventKind) {
        self.events.with_label_values(&[kind.name()]).inc();
    }

    /// A request on a link was answered.
    pub fn round_trip(&self, link: &str, time: Duration) {
        self.round_trips
            .with_label_values(&[link])
            .observe(time.as_secs_f64());
        self.latest().insert(link.to_owned(), time);
    }

    pub fn last_round_trips(&self) -> BTreeMap<String, Duration> {
        self.latest().clone()
    }

    fn latest(&self) -> MutexGuard<'_, BTreeMap<String, Duration>> {
        // Nothing under this lock can panic half way.
        self.latest.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A request on a link went wrong.
    pub fn link_error(&self, link: &str, kind: &str) {
        self.link_errors.with_label_values(&[link, kind]).inc();
    }

    /// Everything, in the text format 0.0.4.
    pub fn text(&self) -> String {
        let mut text = Vec::new();
        match TextEncoder::new().encode(&self.registry.gather(), &mut text) {
            Ok(()) => String::from_utf8_lossy(&text).into_owned(),
            Err(error) => {
                tracing::error!(%error, "the metrics could not be written as text");
                String::new()
            }
        }
    }

    fn start_at_zero(&self, snapshot: &Snapshot) {
        for kind in EventKind::ALL {
            self.events.with_label_values(&[kind.name()]);
        }
        for link in &snapshot.links {
            self.round_trips.with_label_values(&[&*link.name]);
            for kind in LINK_ERRORS {
                self.link_errors.with_label_values(&[&*link.name, kind]);
            }
        }
    }
}

impl fmt::Debug for Metrics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Metrics").finish_non_exhaustive()
    }
}

fn build_info() -> Result<Gauge, Error> {
    let gauge = Gauge::with_opts(
        Opts::new(
            "standpipe_build_info",
            "Always 1; the version is its label.",
        )
        .const_label("version", env!("CARGO_PKG_VERSION")),
    )?;
    gauge.set(1.0);
    Ok(gauge)
}
