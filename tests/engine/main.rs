//! The whole engine in virtual time: sites from small texts, readings by hand or from the simulated
//! plant, no sockets and no clock.

mod bounds;
mod clock;
mod commands;
mod currents;
mod demo;
mod due;
mod flooded;
mod forecast;
mod hookups;
mod jumps;
mod monte_carlo;
mod rates;
mod recorded;
mod rig;
mod scene;
mod sites;
mod staleness;
mod waiting;
