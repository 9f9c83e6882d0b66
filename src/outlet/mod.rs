//! Outlets: what goes out by itself. MQTT with its outbox, notices, the heartbeat, and metrics for whoever
//! scrapes them.
//!
//! An outlet reads snapshots and events and is never waited for: what a broker that is away has to get waits
//! in the journal's outbox, and only the newest of a live value.

mod encryption;
pub mod heartbeat;
pub mod metrics;
pub mod mqtt;
pub mod notice;
mod secret;

pub use crate::journal::Outbox;
pub use heartbeat::Heartbeat;
pub use metrics::Metrics;
pub use mqtt::Mqtt;
pub use notice::{Desk, Notices};
