//! People's ways in: one entrance for commands, and the local socket in front of it.

pub mod entrance;
pub mod socket;

pub use entrance::{Closed, Entrance, Petition};
