//! The whole engine in virtual time: sites from small texts, readings by hand or from the simulated
//! plant, no sockets and no clock.

mod bounds;
mod causes;
mod chances;
mod clock;
mod closed_tank;
mod commands;
mod costs;
mod currents;
mod demo;
mod diagnosis;
mod doubts;
mod due;
mod flooded;
mod forecast;
mod frozen;
mod hookups;
mod jumps;
mod lines;
mod link_flood;
mod live_tests;
mod monte_carlo;
mod noises;
mod normal;
mod rates;
mod recorded;
mod redundant;
mod rest;
mod rig;
mod round_rates;
mod rounds;
mod scene;
mod sites;
mod staleness;
mod waiting;
mod weather;
