//! Against programs that are not ours: what is spoken to them must be understood and what they say be
//! read right. They are installed by `bash tests/run`; where one is missing its tests fail.

mod broker;
mod field;
mod metrics;
mod modbus;
mod mqtt;
mod program;
mod relay;
mod snapshots;
