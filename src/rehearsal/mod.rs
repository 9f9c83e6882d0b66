//! Rehearsal: a script acts on the simulated plant of a site, and the site's engine watches it.
//!
//! [`Script`] is what was written, [`scenario::plant`] builds the plant of a site with it, and a
//! [`Timeline`] does at each of the plant's moments what is due. [`play`] runs plant and engine together in
//! virtual time, [`judge`] holds what came of it against what is expected, and [`rehearse`] does both for many
//! scripts at once.

pub mod coverage;
mod judge;
mod junit;
mod markup;
mod outcome;
mod reader;
mod record;
pub mod recording;
mod rehearsed;
pub mod scenario;
pub mod script;
mod stage;
mod strip;
mod timeline;
pub mod trace;

pub use coverage::Coverage;
pub use judge::{Judged, judge};
pub use junit::junit;
pub use outcome::Outcome;
pub use record::Record;
pub use rehearsed::{Manner, Progress, Rehearsed, rehearse};
pub use scenario::Scenario;
pub use script::{Expectation, Script};
pub use stage::{Keep, look_on, play, play_telling, play_until};
pub use strip::{Columns, strip};
pub use timeline::{Outside, Timeline};
pub use trace::Trace;
