//! A tank as the HTTP interface answers it: its reading, its alarms, its open jump.

use super::{
    AbilityForm, AlarmForm, FindingForm, HookupForm, ReadingForm, RoundsForm, TestForm,
    TransferForm, time,
};
use crate::engine::snapshot::{JumpView, TankView};
use schemars::JsonSchema;
use serde::Serialize;

/// Everything about one tank now.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "tank")]
pub struct TankForm {
    pub name: String,
    pub title: String,
    /// What is in it, where the site file leaves a choice.
    pub product: Option<String>,
    pub reading: ReadingForm,
    /// When the reading was last good.
    #[schemars(extend("format" = "date-time"))]
    pub last_good: Option<String>,
    pub alarms: Vec<AlarmForm>,
    pub jump: Option<JumpForm>,
    /// What each hookup says; one for most tanks.
    pub hookups: Vec<HookupForm>,
    /// The transfer that is under way.
    pub transfer: Option<TransferForm>,
    /// What diagnosis finds, and what each of its checks could find here.
    pub findings: Vec<FindingForm>,
    pub abilities: Vec<AbilityForm>,
    /// What people see at the sight glass or by tape, against the reading.
    pub rounds: RoundsForm,
    /// The live test that is under way.
    pub test: Option<TestForm>,
}

/// A jump that nobody has confirmed or explained yet.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "jump")]
pub struct JumpForm {
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    pub verdict: &'static str,
    /// What happened, what speaks for the verdict, what to do.
    pub text: String,
}

impl TankForm {
    pub fn new(tank: &TankView) -> Self {
        Self {
            test: tank.test.as_ref().map(TestForm::new),
            name: tank.name.to_string(),
            title: tank.title.to_string(),
            product: tank.product.as_deref().map(str::to_owned),
            reading: ReadingForm::of(tank),
            last_good: tank.last_good.map(time),
            alarms: tank.alarms.iter().map(AlarmForm::new).collect(),
            jump: tank.jump.as_ref().map(JumpForm::new),
            hookups: tank.hookups.iter().map(HookupForm::new).collect(),
            transfer: tank.transfer.as_ref().map(TransferForm::new),
            findings: tank.findings.iter().map(FindingForm::new).collect(),
            abilities: tank.abilities.iter().map(AbilityForm::new).collect(),
            rounds: RoundsForm::new(&tank.rounds),
        }
    }
}

impl JumpForm {
    fn new(jump: &JumpView) -> Self {
        Self {
            since: time(jump.since),
            verdict: jump.verdict.name(),
            text: jump.text.to_string(),
        }
    }
}
