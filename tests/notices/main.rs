//! Who is told of what, when, and who after that: a site file and its engine in virtual time, and a recipient
//! who takes every notice or none.

mod escalation;
mod flood;
mod hours;
mod kinds;
mod restart;
mod rig;
