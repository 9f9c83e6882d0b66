//! Checks: is the reading true? Each is a pure state machine with a fixed amount of memory.

pub mod jump;
pub mod leg;
mod noise;
