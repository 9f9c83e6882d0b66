//! Hydrostatics and vessel geometry: pure functions of physical quantities, no state.

pub mod atmosphere;
pub mod balance;
pub mod budget;
pub mod column;
pub mod gravity;
pub mod line;
pub mod liquid;
pub mod ranging;
pub mod vessel;
