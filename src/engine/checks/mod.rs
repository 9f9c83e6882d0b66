//! Checks of readings, and what they find. Each is pure, of fixed memory, with its evidence.

pub mod diagnosis;
pub mod finding;
pub mod flat;
pub mod jump;
pub mod leg;
pub mod noise;
pub mod seen;
