//! The whole engine in virtual time: sites from small texts, readings by hand or from the simulated
//! plant, no sockets and no clock.

mod bounds;
mod chances;
mod clock;
mod commands;
mod currents;
mod demo;
mod diagnosis;
mod doubts;
mod due;
mod flooded;
mod forecast;
mod hookups;
mod jumps;
mod link_flood;
mod live_tests;
mod monte_carlo;
mod rates;
mod recorded;
mod rig;
mod scene;
mod sites;
mod staleness;
mod waiting;
