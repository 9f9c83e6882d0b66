//! (to come)
pub mod simulate;
