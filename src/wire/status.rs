//! The whole site at one moment: links and tanks.

use super::notice::EscalationForm;
use super::{TankForm, time};
use crate::engine::Snapshot;
use crate::engine::notice::{CallView, NoticesView};
use crate::engine::snapshot::{ContactView, LinkView};
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
    pub contacts: Vec<ContactForm>,
    pub tanks: Vec<TankForm>,
    pub notices: NoticesForm,
}

/// Who is being told.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct NoticesForm {
    /// Alarms flood: notices are gathered into digests.
    pub flood: bool,
    /// Notices whose outcome is not known yet.
    pub under_way: usize,
    pub calls: Vec<CallForm>,
}

/// One alarm that nobody has answered, and who was told.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CallForm {
    pub tank: String,
    pub code: String,
    pub activation: u64,
    pub priority: &'static str,
    pub since: String,
    /// The `[[notice]]`s that have told it.
    pub told: Vec<String>,
    /// Who is told next if nobody acknowledges.
    pub next: Option<EscalationForm>,
}

/// One on/off input.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ContactForm {
    pub tag: String,
    pub link: String,
    /// Null where its quality is bad.
    pub on: Option<bool>,
    /// What that means, in the site file's words.
    pub means: Option<String>,
    pub quality: &'static str,
    pub reasons: Vec<&'static str>,
    pub time: Option<String>,
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
            contacts: snapshot.contacts.iter().map(ContactForm::new).collect(),
            tanks: snapshot.tanks.iter().map(TankForm::new).collect(),
            notices: NoticesForm::new(&snapshot.notices),
        }
    }
}

impl NoticesForm {
    fn new(notices: &NoticesView) -> Self {
        let call = |call: &CallView| CallForm {
            tank: call.tank.to_string(),
            code: call.code.to_string(),
            activation: call.activation,
            priority: call.priority.name(),
            since: time(call.since),
            told: call.told.iter().map(|name| name.to_string()).collect(),
            next: call.next.as_ref().map(|(to, at)| EscalationForm {
                to: to.to_string(),
                at: time(*at),
            }),
        };
        Self {
            flood: notices.flood,
            under_way: notices.under_way,
            calls: notices.calls.iter().map(call).collect(),
        }
    }
}

impl ContactForm {
    fn new(contact: &ContactView) -> Self {
        Self {
            tag: contact.tag.to_string(),
            link: contact.link.to_string(),
            on: contact.on,
            means: contact.means.as_deref().map(str::to_owned),
            quality: contact.quality.name(),
            reasons: contact.reasons.iter().map(|reason| reason.text()).collect(),
            time: contact.time.map(time),
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
