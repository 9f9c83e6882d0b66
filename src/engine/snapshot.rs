//! The snapshot: the state of everything at one moment, for outlets, page and people.
//!
//! It holds all that they may read; names and records are shared, so a copy is cheap.

use super::alarm::{AlarmState, Process};
pub use super::checks::finding::{Ability, OpenFinding};
use super::checks::jump::JumpVerdict;
use super::event::SYSTEM;
pub use super::frame::{Frame, FrameLimit, Looks};
pub use super::horn::Horn;
pub use super::memory::EntryWay;
use super::memory::WorkMemory;
use super::memory::{OutOfService, Shelf, Suppressed};
use super::notice::NoticesView;
pub use super::plan::{Gives, Marks, Priority, Record};
use super::quality::{Quality, Reasons};
use super::reading::Reading;
pub use super::rounds::{ChartView, Charted, RoundsView, RowView, Side, Suggestion};
pub use super::transfer::Transfer;
pub use crate::physics::balance::{Balance, Terms};
pub use crate::physics::budget::Budget;
use crate::quantity::{Length, MassDensity, Timestamp, Unit};
use std::sync::Arc;
use std::time::Duration;

#[derive(Clone, Debug)]
pub struct Snapshot {
    /// Since the start of the run, and as the wall clock says.
    pub up: Duration,
    pub utc: Timestamp,
    pub site: Arc<str>,
    pub site_folded: Arc<str>,
    pub links: Vec<LinkView>,
    pub transmitters: Vec<SignalView>,
    pub contacts: Vec<ContactView>,
    pub tanks: Vec<TankView>,
    pub horn: Horn,
    pub notices: NoticesView,
    /// Alarms that are to be tested at intervals, or were tested.
    pub tests: Vec<AlarmTestView>,
    /// The alarms of the system itself.
    pub system: Vec<AlarmView>,
    /// Alarms that are gone from the site file and are not shown with a tank of it.
    pub gone: Vec<GoneView>,
}

impl Snapshot {
    /// Every alarm that is shown, with its tank's name or that of the system; also those that are gone.
    pub fn alarms(&self) -> impl Iterator<Item = (&str, &AlarmView)> {
        let of_tanks = self.tanks.iter().flat_map(|tank| {
            let name: &str = &tank.name;
            tank.alarms.iter().map(move |alarm| (name, alarm))
        });
        let gone = self.gone.iter().filter_map(|gone| {
            let name: &str = &gone.tank;
            gone.alarm.as_ref().map(|alarm| (name, alarm))
        });
        let of_system = self.system.iter().map(|alarm| (SYSTEM, alarm));
        of_tanks.chain(gone).chain(of_system)
    }
}

/// An alarm that is gone from the site file.
#[derive(Clone, Debug)]
pub struct GoneView {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    /// The tank is gone as well.
    pub is_tank_gone: bool,
    /// None where it is closed and answered: all that is left of it is what outlets still show.
    pub alarm: Option<AlarmView>,
}

#[derive(Clone, Debug)]
pub struct LinkView {
    pub name: Arc<str>,
    pub up: bool,
    /// Why it is down, in words; empty while it is up.
    pub trouble: Arc<str>,
    pub since: Timestamp,
}

#[derive(Clone, Debug)]
pub struct SignalView {
    pub tag: Arc<str>,
    pub link: Arc<str>,
    /// The register's number as read, before scaling.
    pub raw: Option<f64>,
    /// The registers' words that it was read from, where whoever reads them says so.
    pub words: Option<Arc<[u16]>>,
    /// In SI units.
    pub value: Option<f64>,
    pub unit: &'static Unit,
    pub quality: Quality,
    pub reasons: Reasons,
    /// When the value was read.
    pub time: Option<Timestamp>,
    pub work: Option<WorkView>,
}

/// Work on a transmitter.
#[derive(Clone, Debug)]
pub struct WorkView {
    pub memory: WorkMemory,
    pub overdue: bool,
}

#[derive(Clone, Debug)]
pub struct ContactView {
    pub tag: Arc<str>,
    pub link: Arc<str>,
    pub on: Option<bool>,
    /// What that means, in the site file's words.
    pub means: Option<Arc<str>>,
    pub quality: Quality,
    pub reasons: Reasons,
    /// When it was read.
    pub time: Option<Timestamp>,
}

/// A correction that was made to a level: who found it, and the last day that it is good for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CorrectionView {
    pub by: Option<Arc<str>>,
    pub until: Option<jiff::civil::Date>,
}

#[derive(Clone, Debug)]
pub struct TankView {
    pub name: Arc<str>,
    pub title: Arc<str>,
    pub frame: Arc<Frame>,
    /// What is in it, where there is a choice.
    pub product: Option<Arc<str>>,
    pub reading: Reading,
    /// What its uncertainties are made of, the largest first.
    pub budget: Budget,
    /// Where a correction is in the reading's level.
    pub corrected: Option<CorrectionView>,
    /// When the reading was last good.
    pub last_good: Option<Timestamp>,
    pub alarms: Vec<AlarmView>,
    pub jump: Option<JumpView>,
    /// What each hookup says; one for most tanks.
    pub hookups: Vec<HookupView>,
    pub transfer: Option<Transfer>,
    /// What diagnosis finds, and what it could find.
    pub findings: Vec<OpenFinding>,
    pub abilities: Arc<[Ability]>,
    pub rounds: Arc<RoundsView>,
    /// A live test: then all of this comes from the value that is put in.
    pub test: Option<TestView>,
}

impl TankView {
    /// The open jump, unless a finding tells of it in the same words.
    pub fn untold_jump(&self) -> Option<&JumpView> {
        let is_told = |jump: &&JumpView| {
            let mut findings = self.findings.iter();
            findings.any(|open| *open.finding.evidence == *jump.text)
        };
        self.jump.as_ref().filter(|jump| !is_told(jump))
    }
}

/// A live test of an alarm.
#[derive(Clone, Debug)]
pub struct TestView {
    pub code: Arc<str>,
    /// Where the value is put in.
    pub tag: Arc<str>,
    pub value: Arc<str>,
    pub by: Arc<str>,
    pub since: Timestamp,
    pub until: Timestamp,
    /// False once the value is taken away and the alarm is to clear.
    pub is_put_in: bool,
}

/// When an alarm was tested, and when it is due.
#[derive(Clone, Debug)]
pub struct AlarmTestView {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    pub every: Option<Duration>,
    /// When a test was last passed; none: never, so far as is remembered.
    pub passed: Option<Timestamp>,
    pub due: Option<Timestamp>,
    pub overdue: bool,
    /// The last test, passed or not.
    pub last: Option<Timestamp>,
    pub by: Option<Arc<str>>,
    pub result: Option<Arc<str>>,
}

/// What one hookup of a tank says for itself, before one of them is chosen.
#[derive(Clone, Debug)]
pub struct HookupView {
    pub name: Arc<str>,
    pub kind: &'static str,
    pub gives: Gives,
    /// Whether the tank's reading is made from it.
    pub chosen: bool,
    pub reasons: Reasons,
    pub level: Option<Length>,
    pub level_at_least: Option<Length>,
    pub level_at_most: Option<Length>,
    /// k = 2.
    pub level_uncertainty: Option<Length>,
    pub density: MassDensity,
    /// Everything that ties its pressure to a level now.
    pub balance: Balance,
    /// The level that its pressure solves to, wherever that is, and the columns there.
    pub solved: Option<Length>,
    pub terms: Option<Terms>,
}

#[derive(Clone, Debug)]
pub struct AlarmView {
    pub code: Arc<str>,
    /// As it is shown: out of service over shelved over suppressed over the process state.
    pub state: AlarmState,
    /// Held over bad data: neither confirmed nor cleared by them.
    pub questionable: bool,
    /// The condition, with its delays, is true.
    pub active: bool,
    pub since: Option<Timestamp>,
    /// The event number of the present activation.
    pub activation: Option<u64>,
    pub priority: Priority,
    /// In the shown unit; none for measurement-failed.
    pub limit: Option<f64>,
    pub value: Option<f64>,
    pub unit: Option<&'static Unit>,
    pub record: Arc<Record>,
    /// What runs underneath.
    pub process: Process,
    pub latching: bool,
    pub shelf: Option<Shelf>,
    pub suppressed: Option<Suppressed>,
    pub out_of_service: Option<OutOfService>,
    /// Gone from the site file; shown until it is acknowledged.
    pub removed: bool,
    /// Tank and code of the alarms that are suppressed by design because this one tells it.
    pub follows: Vec<(Arc<str>, Arc<str>)>,
    /// Its tank is under a live test: all that is said of it comes from the value that is put in.
    pub test: bool,
}

/// A jump that nobody has confirmed or explained yet.
#[derive(Clone, Debug)]
pub struct JumpView {
    pub since: Timestamp,
    pub verdict: JumpVerdict,
    /// What happened, what speaks for the verdict, what to do.
    pub text: Arc<str>,
}
