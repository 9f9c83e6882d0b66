//! Outlets: what goes out by itself. MQTT with its outbox, and metrics for whoever scrapes them.
//!
//! An outlet reads snapshots and events and is never waited for: what a broker that is away has to get waits
//! in the journal's outbox, and only the newest of a live value.

pub mod metrics;
pub mod mqtt;

pub use crate::journal::Outbox;
pub use metrics::Metrics;
pub use mqtt::Mqtt;
