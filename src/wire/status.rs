//! The whole site at one moment: links and tanks.

use super::{TankForm, time};
use crate::engine::Snapshot;
use crate::engine::snapshot::LinkView;
use schemars::JsonSchema;
use serde::Serialize;

/// The site as it stands.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StatusForm {
    pub site: String,
    /// RFC 3339, UTC.
    pub time: String,
    /// Since the program started.
    pub up_s: u64,
    pub links: Vec<LinkForm>,
    pub tanks: Vec<TankForm>,
}

/// One link.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LinkForm {
    pub link: String,
    pub up: bool,
    /// Why it is down; null while it is up.
    pub trouble: Option<String>,
    pub since: String,
}

impl StatusForm {
    pub fn new(snapshot: &Snapshot) -> Self {
        Self {
            site: snapshot.site.to_string(),
            time: time(snapshot.utc),
            up_s: snapshot.up.as_secs(),
            links: snapshot.links.iter().map(LinkForm::new).collect(),
            tanks: snapshot.tanks.iter().map(TankForm::new).collect(),
        }
    }
}

impl LinkForm {
    fn new(link: &LinkView) -> Self {
        Self {
            link: link.name.to_string(),
            up: link.up,
            trouble: (!link.up).then(|| link.trouble.to_string()),
            since: time(link.since),
        }
    }
}
