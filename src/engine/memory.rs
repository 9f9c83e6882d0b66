//! What must survive a restart: each alarm's state, answers and flags, what people have set, and where the
//! numbers of events stand.
//!
//! Whoever keeps it stores an [`AlarmMemory`] in one transaction with the event of the same transition
//! ([`Effect::Keep`](super::Effect::Keep) follows its event within a step), and gives all of it back at the start;
//! so too with what else is [`Remembered`].

mod kind;

use super::alarm::Process;
use super::plan::Priority;
use crate::quantity::Timestamp;
pub use kind::RememberedKind;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use std::time::Duration;

/// All that was kept.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Memory {
    /// Tank, code and what is known of that alarm.
    pub alarms: Vec<(String, String, AlarmMemory)>,
    /// What it is about (a tank, a transmitter, the site) and what is known of that.
    pub remembered: Vec<(String, Remembered)>,
    /// The number of the last event; the next one is one more.
    pub last_event: u64,
    /// When the last entry of any kind was made: from then on nobody has watched.
    pub last_time: Option<Timestamp>,
    /// Of the site file that was in force.
    pub fingerprint: Option<String>,
}

/// What else than an alarm is remembered; of each kind one at most for each name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Remembered {
    Product(ProductMemory),
    Notices(NoticesMemory),
    Call(CallMemory),
    Transfer(TransferMemory),
    Noise(NoiseMemory),
    /// Of a transmitter.
    Work(WorkMemory),
    /// Of an alarm.
    AlarmTest(AlarmTestMemory),
    /// Of a tank.
    Rounds(RoundsMemory),
    /// Of two hookups.
    Pair(PairMemory),
    /// Of a tank.
    Rest(RestMemory),
    /// Of a hookup.
    LowLeg(LowLegMemory),
    /// Of a transmitter.
    Frozen(FrozenMemory),
}

impl Remembered {
    pub fn kind(&self) -> RememberedKind {
        match self {
            Remembered::Product(_) => RememberedKind::Product,
            Remembered::Notices(_) => RememberedKind::Notices,
            Remembered::Call(_) => RememberedKind::Call,
            Remembered::Transfer(_) => RememberedKind::Transfer,
            Remembered::Noise(_) => RememberedKind::Noise,
            Remembered::Work(_) => RememberedKind::Work,
            Remembered::AlarmTest(_) => RememberedKind::AlarmTest,
            Remembered::Rounds(_) => RememberedKind::Rounds,
            Remembered::Pair(_) => RememberedKind::Pair,
            Remembered::Rest(_) => RememberedKind::Rest,
            Remembered::LowLeg(_) => RememberedKind::LowLeg,
            Remembered::Frozen(_) => RememberedKind::Frozen,
        }
    }
}

/// Which product a person has said is in a tank.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProductMemory {
    pub product: Arc<str>,
    pub since: Timestamp,
    pub by: Arc<str>,
}

/// How far the numbers of notices have come.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct NoticesMemory {
    pub last: u64,
}

/// An alarm that nobody has answered, and how far those who must be told of it have been told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CallMemory {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    pub activation: u64,
    pub since: Timestamp,
    pub what: Arc<str>,
    pub test: bool,
    /// The process is back to normal.
    pub returned: bool,
    pub legs: Vec<LegMemory>,
    /// Notices whose outcome is not known: number, `[[notice]]`, recipient.
    pub under_way: Vec<(u64, Arc<str>, Arc<str>)>,
}

/// One `[[notice]]`'s part in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LegMemory {
    pub notice: Arc<str>,
    pub told: u32,
    /// When it is told again; `for_hours`: when its hours begin.
    pub next: Option<Timestamp>,
    pub for_hours: bool,
    pub escalate: Option<Timestamp>,
    pub escalated: bool,
    /// It has yet to stand in a digest that arrives.
    pub waiting: bool,
}

/// A transfer under way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TransferMemory {
    /// From the site's zero, as the level.
    pub target_m: f64,
    pub fills: bool,
    /// None where the level was not known then, or is not comparable with it any more.
    pub start: Option<TransferStart>,
    pub since: Timestamp,
    pub by: Arc<str>,
    pub product: Option<Arc<str>>,
    /// How long before the end it is told, and how long a stop may take.
    pub tell: Duration,
    pub stop_within: Duration,
    pub soon_told: bool,
    pub reached: bool,
}

/// A dry low leg that an overfill floods reads empty: over a restart too it must not be believed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LowLegMemory {
    /// Until a person has confirmed that it is drained.
    pub flooded: bool,
    /// It fell further than what was known to be drawn.
    #[serde(default)]
    pub suspected: bool,
    /// When the level was last near the upper tap, and what it was solved to, m.
    pub near: Option<(Timestamp, f64)>,
}

/// How a transmitter's number moved in the last one to two days: a run of equal ones is told from it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FrozenMemory {
    pub at: Timestamp,
    /// The largest chance that two neighbours are equal.
    pub repeats: f64,
    /// The longest run that ended by itself, and the shortest.
    pub longest: Option<f64>,
    pub shortest: Option<f64>,
    /// The smallest step.
    pub step: Option<f64>,
}

/// What a hookup's noise was while its lines were clear.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct NoiseMemory {
    pub modes: Vec<ModeMemory>,
}

/// The same in one mode: which streams ran.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ModeMemory {
    pub mode: u32,
    pub since: Timestamp,
    /// The smallest step of the number.
    pub step: Option<f64>,
    /// ln of the variance of each block, in thousandths, until there are enough.
    pub learning: Vec<i16>,
    /// Mean, standard deviation and limit, once they stand.
    pub baseline: Option<[f64; 3]>,
}

/// How far two hookups of a tank are apart when all is well.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PairMemory {
    /// What it hangs on in the site file.
    pub basis: u64,
    /// Hours that were learnt from; their mean, Σ(off)², Σ(off·off of the one before).
    pub learnt: u32,
    /// Those that the mean is of, where fewer; none from before that was kept.
    #[serde(default)]
    pub mean_of: Option<u32>,
    pub mean_m: f64,
    pub squares: f64,
    pub products: f64,
    /// Both sides of the CUSUM.
    pub high: f64,
    pub low: f64,
    /// A drift stands.
    #[serde(default)]
    pub drifts: bool,
}

/// What a tank at rest did at each hour of the day (UTC), the last days, kg/s.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RestMemory {
    pub hours: Vec<Vec<f32>>,
}

/// Work on a transmitter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WorkMemory {
    pub by: Arc<str>,
    /// The number of the permit.
    pub permit: Arc<str>,
    pub since: Timestamp,
    pub until: Timestamp,
    /// What stands in for the signal, in the transmitter's SI unit.
    pub hand: Option<f64>,
}

/// The live tests of one alarm.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct AlarmTestMemory {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    /// When one was last passed.
    pub passed: Option<Timestamp>,
    /// The last one, by whom, and how it went.
    pub last: Option<Timestamp>,
    pub by: Option<Arc<str>>,
    pub result: Option<Arc<str>>,
    pub running: bool,
}

/// The rounds of one tank: the newest entries, and what is left of those before.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RoundsMemory {
    /// From when on an entry is waited for, where there is none yet.
    pub since: Timestamp,
    /// In the order of their times.
    pub entries: Vec<EntryMemory>,
    /// The chart up to the first of them.
    pub before: DriftMemory,
    /// The first entry from then on begins a series: the reading is not comparable with what it was.
    pub anew: Option<Timestamp>,
    pub overdue_told: bool,
}

/// What somebody saw.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EntryMemory {
    pub time: Timestamp,
    pub by: Arc<str>,
    /// Who saw it, where that is not who entered it.
    #[serde(default)]
    pub reader: Option<Arc<str>>,
    pub way: EntryWay,
    /// The tank's level by it, from the site's zero.
    pub level_m: f64,
    /// Standard uncertainty of it, k = 1.
    pub sigma_m: f64,
    pub blown_down: bool,
    /// By tape: the height of free water at the bottom, and the density of a sample.
    pub water_cut_m: Option<f64>,
    pub density_kg_m3: Option<f64>,
    /// None where no reading of that time is known.
    pub reading: Option<ComparedMemory>,
    /// What each hookup of several said then, before its correction.
    #[serde(default)]
    pub hookups: Vec<HookupSaidMemory>,
    /// It begins a series.
    pub begins: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EntryWay {
    Sight,
    Dip,
}

/// What one hookup said when the entry was seen, before its correction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HookupSaidMemory {
    pub name: Arc<str>,
    pub uncorrected_m: f64,
}

/// The reading that held when the entry was seen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ComparedMemory {
    /// As it was shown, and before the hookup's correction.
    pub level_m: f64,
    pub uncorrected_m: f64,
    /// Standard uncertainty, k = 1, and what of it is a share of the head.
    pub sigma_m: f64,
    pub gain_sigma: f64,
    /// The entry's level above the lower tap.
    pub head_m: f64,
}

/// How far a series of entries has come; see [`rounds`](super::rounds).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DriftMemory {
    pub entries: u32,
    /// What is taken for normal: residual = zero + gain·head, and the variances of the two.
    pub zero_m: f64,
    pub gain: f64,
    pub p_zero: f64,
    pub p_cross: f64,
    pub p_gain: f64,
    /// Both sides of the CUSUM, and how many entries each has run.
    pub high: f64,
    pub low: f64,
    pub run_high: u32,
    pub run_low: u32,
    pub ewma: f64,
    /// Σz², Σz·z of the one before, and of how many.
    pub squares: f64,
    pub products: f64,
    pub learnt: u32,
    pub last: Option<f64>,
    /// A signal towards high (true) or low, and how many entries have been in line since.
    pub signal: Option<bool>,
    pub in_line: u32,
    /// Entries since then that were off to the same side by themselves.
    #[serde(default)]
    pub confirmed: u32,
    /// What was normal before the present run, and how many entries said so.
    pub normal_zero_m: f64,
    pub normal_gain: f64,
    pub normal_of: u32,
}

/// What was in the tank when a transfer began.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TransferStart {
    pub level_m: f64,
    pub volume_m3: f64,
    /// k = 2.
    pub uncertainty_m3: Option<f64>,
}

/// One alarm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AlarmMemory {
    /// A to F, as its code: what runs under the flags.
    #[serde(with = "process_code")]
    pub state: Process,
    /// When it came to what it is shown as.
    pub since: Option<Timestamp>,
    /// The number of the event that an acknowledgement answers.
    pub activation: Option<u64>,
    pub shelf: Option<Shelf>,
    pub suppressed: Option<Suppressed>,
    /// Suppression had its longest time; it begins again only after its condition was once untrue.
    pub suppression_spent: bool,
    pub out_of_service: Option<OutOfService>,
    /// What was watched and its limit: where that has changed, the alarm is judged anew.
    pub limit: Arc<str>,
    #[serde(with = "priority_name")]
    pub priority: Priority,
    /// Only bad data brought it about.
    #[serde(default)]
    pub by_bad: bool,
}

/// Hidden by a person for a time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shelf {
    /// The deadline, whatever happens meanwhile.
    pub until: Timestamp,
    pub by: Arc<str>,
    pub reason: Arc<str>,
    /// Ends already when the condition clears.
    pub once: bool,
}

/// Hidden by the site file's own logic.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Suppressed {
    pub since: Timestamp,
    /// What suppresses it, in words.
    pub cause: Arc<str>,
}

/// Hidden by a person, for maintenance.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OutOfService {
    pub since: Timestamp,
    pub by: Arc<str>,
    pub reason: Option<Arc<str>>,
}

mod process_code {
    use super::Process;
    use serde::{Deserialize, Deserializer, Serializer, de};
    use std::borrow::Cow;

    pub fn serialize<S: Serializer>(state: &Process, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(state.code())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Process, D::Error> {
        let code = Cow::<str>::deserialize(deserializer)?;
        let known = Process::ALL.iter().find(|state| state.code() == code);
        let unknown = || de::Error::custom(format!("no state of an alarm: {code}"));
        known.copied().ok_or_else(unknown)
    }
}

mod priority_name {
    use super::Priority;
    use serde::{Deserialize, Deserializer, Serializer, de};
    use std::borrow::Cow;

    pub fn serialize<S: Serializer>(priority: &Priority, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(priority.name())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Priority, D::Error> {
        let name = Cow::<str>::deserialize(deserializer)?;
        let all = [
            Priority::Low,
            Priority::Medium,
            Priority::High,
            Priority::Highest,
        ];
        let known = all.into_iter().find(|priority| priority.name() == name);
        known.ok_or_else(|| de::Error::custom(format!("no priority: {name}")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_comes_back_the_same() {
        let time = Timestamp::UNIX_EPOCH;
        let alarm = AlarmMemory {
            state: Process::LatchedUnacknowledged,
            since: Some(time),
            activation: Some(7),
            shelf: Some(Shelf {
                until: time,
                by: "Ada".into(),
                reason: "float sticks".into(),
                once: true,
            }),
            suppressed: Some(Suppressed {
                since: time,
                cause: "HS-101 is on".into(),
            }),
            suppression_spent: false,
            out_of_service: Some(OutOfService {
                since: time,
                by: "Ben".into(),
                reason: None,
            }),
            limit: "level above 3".into(),
            priority: Priority::Highest,
            by_bad: true,
        };
        let memory = Memory {
            alarms: vec![("clearwell".into(), "LAH".into(), alarm)],
            remembered: vec![(
                "clearwell".into(),
                Remembered::Product(ProductMemory {
                    product: "raw".into(),
                    since: time,
                    by: "Ada".into(),
                }),
            )],
            last_event: 9,
            last_time: Some(time),
            fingerprint: Some("abc".into()),
        };
        let text = serde_json::to_string(&memory).expect("it can be written");
        assert!(
            text.contains("\"LATUN\"") && text.contains("\"highest\""),
            "{text}"
        );
        let back: Memory = serde_json::from_str(&text).expect("it can be read");
        assert_eq!(back, memory);
        let unknown = text.replace("LATUN", "LOST");
        assert!(serde_json::from_str::<Memory>(&unknown).is_err());
    }
}
