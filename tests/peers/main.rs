//! Against programs that are not ours: what is spoken to them must be understood and what they say be
//! read right. They are installed by `bash tests/run`; where one is missing its tests fail.

mod broker;
mod daemon;
mod daemon_alarm;
mod daemon_broker;
mod daemon_level;
mod daemon_link;
mod daemon_live_test;
mod daemon_people;
mod daemon_robust;
mod field;
mod mail;
mod metrics;
mod modbus;
mod mqtt;
mod notices;
mod patience;
mod program;
mod relay;
mod same_events;
mod simulated;
mod snapshots;
mod subscriber;
mod works;
