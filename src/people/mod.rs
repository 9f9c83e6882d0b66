//! People's ways in: one entrance for commands, who may pass it, and the local socket in front of it.

pub mod accounts;
mod attempts;
pub mod entrance;
pub mod password;
pub mod role;
pub mod roster;
pub mod socket;

pub use accounts::{Accounts, SignInError, SignedIn, Visitor};
pub use entrance::{Closed, Entrance, Petition, Way, own_user};
pub use roster::Roster;
