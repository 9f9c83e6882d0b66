//! Alarms in virtual time: a site file and its engine, fed once a second; days in a moment.

mod hidden;
mod people;
mod products;
mod quality;
mod restart;
mod rig;
mod transfers;
