//! Standpipe: a live level monitor and alarm daemon for liquid in tanks.

pub mod cli;
pub mod daemon;
pub mod engine;
pub mod field;
pub mod journal;
pub mod outlet;
pub mod page;
pub mod people;
pub mod physics;
pub mod plant;
pub mod quantity;
pub mod rehearsal;
pub mod report;
pub mod site;
pub mod wire;
