//! What people ask of the engine, and what it answers.

pub use super::live_test::{TestValue, Value};
pub use super::rounds::{EntryRefusal, Looked, NewEntry, SeenAt, Surface};
pub use super::work::Permit;
use crate::quantity::{Length, Timestamp, Volume, span};
use std::fmt;
use std::sync::Arc;
use std::time::Duration;

#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Acknowledge an alarm. `activation` is the event number of the activation that is answered;
    /// without it, the present one.
    Acknowledge {
        tank: String,
        code: String,
        by: Arc<str>,
        activation: Option<u64>,
    },
    /// Reset an alarm that is latched and acknowledged.
    Reset {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// Hide an alarm for a time; `once`: until its condition clears, if that is sooner.
    Shelve {
        tank: String,
        code: String,
        by: Arc<str>,
        time: Duration,
        reason: Arc<str>,
        once: bool,
    },
    Unshelve {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// Hide an alarm for maintenance, until it is returned.
    OutOfService {
        tank: String,
        code: String,
        by: Arc<str>,
        reason: Option<Arc<str>>,
    },
    Return {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// The sight glass was looked at: the reading after a jump is taken as it stands again.
    ConfirmLevel {
        tank: String,
        by: Arc<str>,
    },
    /// What was seen at the sight glass, or by tape.
    Enter {
        tank: String,
        entry: NewEntry,
        /// Who saw it, where that is not who enters it.
        reader: Option<Arc<str>>,
        by: Arc<str>,
    },
    /// Try the way to those whom a `[[notice]]` tells.
    TestNotice {
        name: String,
        by: Arc<str>,
    },
    /// A low leg that was held to be flooded is drained.
    ConfirmLegDrained {
        tank: String,
        by: Arc<str>,
    },
    /// What is in the tank now, by the name of one of its products.
    ChooseProduct {
        tank: String,
        product: String,
        by: Arc<str>,
    },
    /// Follow a filling or drawing to its target.
    Transfer {
        tank: String,
        to: TransferTo,
        /// Told so long before the expected end.
        tell: Duration,
        /// Moving on for longer than this past the target is overdue.
        stop_within: Duration,
        by: Arc<str>,
    },
    EndTransfer {
        tank: String,
        by: Arc<str>,
    },
    /// Work on a transmitter begins.
    Work {
        tag: String,
        permit: Permit,
        by: Arc<str>,
    },
    /// The transmitter is back; `anyway`: whatever its signal says.
    EndWork {
        tag: String,
        anyway: bool,
        by: Arc<str>,
    },
    /// Silence the horn at a place, or everywhere; no alarm is answered by it.
    Silence {
        place: Option<Arc<str>>,
        by: Arc<str>,
    },
    /// Try an alarm by a value that is put in at a transmitter.
    TestAlarm {
        tank: String,
        code: String,
        test: TestValue,
        by: Arc<str>,
    },
    /// Take that value away before its time.
    EndTestAlarm {
        tank: String,
        code: String,
        by: Arc<str>,
    },
    /// A person's own words for the journal; of a tank, or of the site.
    Note {
        tank: Option<String>,
        text: Arc<str>,
        by: Arc<str>,
    },
}

/// Where a transfer ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TransferTo {
    Level(Length),
    Volume(Volume),
    /// So much more, or with a minus less, than there is now.
    ByVolume(Volume),
}

/// A command that was carried out, in a sentence for the person who gave it.
#[derive(Clone, Debug, PartialEq)]
pub struct Done(pub String);

/// Why a command was not carried out. Nothing has changed then.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    UnknownTank {
        tank: String,
    },
    UnknownAlarm {
        tank: String,
        code: String,
    },
    NothingToAcknowledge {
        tank: String,
        code: String,
        state: &'static str,
    },
    OlderActivation {
        named: u64,
        present: u64,
    },
    /// Latched, and nobody has acknowledged it.
    AcknowledgeFirst {
        tank: String,
        code: String,
    },
    NothingToReset {
        tank: String,
        code: String,
        state: &'static str,
    },
    /// The site file does not let this alarm be shelved.
    NeverShelved {
        tank: String,
        code: String,
    },
    NoReason,
    ShelfTime {
        asked: Duration,
        at_most: Duration,
    },
    AlreadyShelved {
        tank: String,
        code: String,
        until: Timestamp,
    },
    NotShelved {
        tank: String,
        code: String,
    },
    AlreadyOutOfService {
        tank: String,
        code: String,
    },
    NotOutOfService {
        tank: String,
        code: String,
    },
    NoJump {
        tank: String,
    },
    LegNotFlooded {
        tank: String,
    },
    UnknownNotice {
        name: String,
    },
    /// `known`: the products that the site file has, in a row.
    UnknownProduct {
        tank: String,
        product: String,
        known: String,
    },
    OneProduct {
        tank: String,
    },
    ProductInForce {
        tank: String,
        product: String,
    },
    TransferUnderWay {
        tank: String,
    },
    NoTransfer {
        tank: String,
    },
    LevelUnknown {
        tank: String,
    },
    /// Outside what the vessel holds, from and to.
    TargetOutside {
        tank: String,
        low: String,
        high: String,
    },
    TargetHere {
        tank: String,
    },
    EmptyNote,
    UnknownTransmitter {
        tag: String,
    },
    NoPermit,
    WorkTime {
        asked: Duration,
        at_most: Duration,
    },
    AtWork {
        tag: String,
    },
    NotAtWork {
        tag: String,
    },
    SignalNotSound {
        tag: String,
        why: String,
    },
    NothingSounds,
    TooManyPlaces,
    TestTime {
        asked: Duration,
        on_delay: Duration,
        at_most: Duration,
    },
    TestUnderWay {
        tank: String,
        code: String,
    },
    NoTest {
        tank: String,
        code: String,
    },
    /// It does not look at anything that a transmitter's value moves.
    NotByValue {
        tank: String,
        code: String,
    },
    HiddenFromTest {
        tank: String,
        code: String,
        state: &'static str,
    },
    TankNotQuiet {
        tank: String,
        why: String,
    },
    NotOfTank {
        tag: String,
        tank: String,
    },
    /// No reading of the transmitter gives that level.
    NoSuchReading {
        tag: String,
        value: String,
    },
    UnderTest {
        tank: String,
        code: String,
    },
    Entry {
        tank: String,
        why: EntryRefusal,
    },
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refusal::UnknownTank { tank } => write!(f, "there is no tank \"{tank}\""),
            Refusal::UnknownAlarm { tank, code } => {
                write!(f, "tank \"{tank}\" has no alarm \"{code}\"")
            }
            Refusal::NothingToAcknowledge { tank, code, state } => {
                write!(f, "{tank} {code} is {state}: nothing to acknowledge")
            }
            Refusal::OlderActivation { named, present } => write!(
                f,
                "activation {named} is over; the present one is {present}: look at it, then acknowledge that"
            ),
            Refusal::AcknowledgeFirst { tank, code } => write!(
                f,
                "{tank} {code} is latched and nobody has acknowledged it: acknowledge it first, then reset it"
            ),
            Refusal::NothingToReset { tank, code, state } => {
                write!(f, "{tank} {code} is {state}: nothing to reset")
            }
            Refusal::NeverShelved { tank, code } => write!(
                f,
                "{tank} {code} has the highest priority and cannot be shelved; the site file can allow it with shelve = {{ at_most = \"8 h\" }} on that alarm"
            ),
            Refusal::NoReason => write!(f, "shelving needs a reason"),
            Refusal::ShelfTime { asked, .. } if asked.is_zero() => {
                write!(f, "shelving needs a time of more than 0")
            }
            Refusal::ShelfTime { asked, at_most } => write!(
                f,
                "{} on the shelf is too long: {} at most",
                span(*asked),
                span(*at_most)
            ),
            Refusal::AlreadyShelved { tank, code, until } => write!(
                f,
                "{tank} {code} is shelved already, until {until:.0}: unshelve it first"
            ),
            Refusal::NotShelved { tank, code } => write!(f, "{tank} {code} is not shelved"),
            Refusal::AlreadyOutOfService { tank, code } => {
                write!(f, "{tank} {code} is out of service already")
            }
            Refusal::NotOutOfService { tank, code } => {
                write!(f, "{tank} {code} is not out of service")
            }
            Refusal::NoJump { tank } => {
                write!(f, "tank \"{tank}\" has no jump that waits to be confirmed")
            }
            Refusal::UnknownNotice { name } => write!(f, "the site file has no notice \"{name}\""),
            Refusal::LegNotFlooded { tank } => write!(
                f,
                "the low leg of tank \"{tank}\" is not held to be flooded"
            ),
            Refusal::UnknownProduct {
                tank,
                product,
                known,
            } => write!(
                f,
                "tank \"{tank}\" has no product \"{product}\"; the site file has {known}"
            ),
            Refusal::OneProduct { tank } => write!(
                f,
                "tank \"{tank}\" has one liquid only; the site file can name several with [[tank.product]]"
            ),
            Refusal::ProductInForce { tank, product } => {
                write!(f, "{tank} holds {product} already")
            }
            Refusal::TransferUnderWay { tank } => write!(
                f,
                "a transfer of {tank} is under way: end it first, or let it end by itself"
            ),
            Refusal::NoTransfer { tank } => write!(f, "no transfer of {tank} is under way"),
            Refusal::LevelUnknown { tank } => write!(
                f,
                "the level of {tank} is not known now, so no transfer can be followed"
            ),
            Refusal::TargetOutside { tank, low, high } => {
                write!(f, "{tank} has levels from {low} to {high} only")
            }
            Refusal::TargetHere { tank } => write!(
                f,
                "{tank} is at that target already, as far as its reading can tell"
            ),
            Refusal::EmptyNote => write!(f, "a note needs a text"),
            Refusal::UnknownTransmitter { tag } => {
                write!(f, "there is no transmitter \"{tag}\"")
            }
            Refusal::NoPermit => write!(f, "work needs the number of its permit"),
            Refusal::WorkTime { asked, at_most } => write!(
                f,
                "work for {} is not taken: more than 0, and {} at most",
                span(*asked),
                span(*at_most)
            ),
            Refusal::AtWork { tag } => write!(f, "there is work on {tag} already: end it first"),
            Refusal::NotAtWork { tag } => write!(f, "there is no work on {tag}"),
            Refusal::SignalNotSound { tag, why } => write!(
                f,
                "{tag} is not sound yet ({why}): mend it, or return it with --anyway"
            ),
            Refusal::NothingSounds => write!(f, "no horn sounds"),
            Refusal::TestTime {
                asked, on_delay, ..
            } if asked <= on_delay => write!(
                f,
                "{} is too short: its on-delay is {}",
                span(*asked),
                span(*on_delay)
            ),
            Refusal::TestTime { asked, at_most, .. } => write!(
                f,
                "{} is too long for a test: {} at most",
                span(*asked),
                span(*at_most)
            ),
            Refusal::TestUnderWay { tank, code } => {
                write!(f, "{tank} {code} is being tested: one test at a time")
            }
            Refusal::NoTest { tank, code } => write!(f, "{tank} {code} is not being tested"),
            Refusal::NotByValue { tank, code } => write!(
                f,
                "{tank} {code} does not look at a level or what follows from one: test it at its instrument"
            ),
            Refusal::HiddenFromTest { tank, code, state } => write!(
                f,
                "{tank} {code} is {state}: nothing would be annunciated; show it again first"
            ),
            Refusal::TankNotQuiet { tank, why } => write!(
                f,
                "{tank} is not quiet ({why}): what really goes on would not be told from the test"
            ),
            Refusal::NotOfTank { tag, tank } => write!(f, "{tank} does not use {tag}"),
            Refusal::NoSuchReading { tag, value } => write!(
                f,
                "no reading of {tag} gives {value} now: put in what it reads instead"
            ),
            Refusal::UnderTest { tank, code } => write!(
                f,
                "{tank} is under a live test of {code}, and goes on as it was before: end the test first"
            ),
            Refusal::Entry { tank, why } => write!(f, "{tank}: {why}"),
            Refusal::TooManyPlaces => write!(
                f,
                "too many places are silenced already: acknowledge what sounds"
            ),
        }
    }
}
