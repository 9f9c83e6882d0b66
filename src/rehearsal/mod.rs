//! Rehearsal: a script acts on the simulated plant of a site.
//!
//! [`Script`] is what was written, [`scenario::plant`] builds the plant of a site with it, and a
//! [`Timeline`] does at each of the plant's moments what is due.

pub mod recording;
pub mod scenario;
pub mod script;
mod timeline;

pub use scenario::Scenario;
pub use script::Script;
pub use timeline::Timeline;
