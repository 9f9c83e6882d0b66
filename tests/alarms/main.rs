//! Alarms in virtual time: a site file and its engine, fed once a second; days in a moment.

mod gone;
mod hidden;
mod live_test;
mod people;
mod products;
mod quality;
mod restart;
mod rig;
mod rounds;
mod system;
mod together;
mod transfers;
mod work;
