//! Outlets: what goes out by itself. MQTT with its outbox, and metrics for whoever scrapes them.
//!
//! An outlet reads snapshots and events and is never waited for: a broker that is away costs memory up to
//! a limit, and what that limit cost is told.

pub mod metrics;
pub mod mqtt;
pub mod outbox;

pub use metrics::Metrics;
pub use mqtt::Mqtt;
pub use outbox::Outbox;
