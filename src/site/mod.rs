//! The site file: as written, checked, and as the rest of the program needs it.

pub mod settings;

use crate::engine::Plan;
use settings::{
    BrokerSettings, CommandSettings, JournalSettings, LinkSettings, ListenerSettings, ShowUnits,
};

/// A site that was read and found right; one that exists is right.
#[derive(Clone, Debug)]
pub struct Site {
    pub plan: Plan,
    pub links: Vec<LinkSettings>,
    pub show: ShowUnits,
    pub timezone: Option<String>,
    pub mqtt: Option<BrokerSettings>,
    pub http: Option<ListenerSettings>,
    pub journal: JournalSettings,
    pub commands: CommandSettings,
}
