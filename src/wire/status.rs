//! The whole site at one moment: links and tanks.

use super::notice::EscalationForm;
use super::{
    AlarmForm, AlarmTestForm, ContactForm, EntriesForm, HornForm, SignalForm, TankForm, time,
};
use crate::engine::Snapshot;
use crate::engine::notice::{CallView, NoticesView};
use crate::engine::snapshot::{AlarmView, LinkView};
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
    /// The alarms of the system itself.
    pub system: Vec<AlarmForm>,
    /// Alarms of tanks that are gone from the site file and wait for an answer.
    pub gone: Vec<OwnedAlarmForm>,
    pub notices: NoticesForm,
    pub horn: HornForm,
    /// Transmitters under function check, by their tags.
    pub work: Vec<SignalForm>,
    /// Alarms that are to be tested at intervals, or were tested.
    pub tests: Vec<AlarmTestForm>,
    /// The entries of each tank that has some.
    pub entries: Vec<EntriesForm>,
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

/// An alarm with the name that it is asked for by.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OwnedAlarmForm {
    /// The tank's name; "system" for an alarm of the system itself.
    pub tank: String,
    #[serde(flatten)]
    pub alarm: AlarmForm,
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
            system: snapshot.system.iter().map(AlarmForm::new).collect(),
            gone: gone(snapshot),
            notices: NoticesForm::new(&snapshot.notices),
            tests: snapshot.tests.iter().map(AlarmTestForm::new).collect(),
            entries: snapshot
                .tanks
                .iter()
                .filter(|tank| !tank.rounds.rows.is_empty())
                .map(EntriesForm::new)
                .collect(),
            horn: HornForm::new(&snapshot.horn),
            work: snapshot
                .transmitters
                .iter()
                .filter(|signal| signal.work.is_some())
                .map(SignalForm::new)
                .collect(),
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

fn gone(snapshot: &Snapshot) -> Vec<OwnedAlarmForm> {
    let gone = snapshot.gone.iter();
    let shown = gone.filter_map(|gone| Some((&*gone.tank, gone.alarm.as_ref()?)));
    shown
        .map(|(tank, alarm)| OwnedAlarmForm::new(tank, alarm))
        .collect()
}

impl OwnedAlarmForm {
    pub fn new(tank: &str, alarm: &AlarmView) -> Self {
        Self {
            tank: tank.to_owned(),
            alarm: AlarmForm::new(alarm),
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
