//! Events: what happened, in order, for journal, outlets and page.

use super::alarm::AlarmState;
use crate::quantity::Timestamp;
use std::sync::Arc;

/// One thing that happened. Numbers rise by one within a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    pub number: u64,
    pub time: Timestamp,
    pub kind: EventKind,
    pub tank: Option<Arc<str>>,
    /// Alarm code, or the name of the link or tag that the event is about.
    pub code: Option<Arc<str>>,
    pub from: Option<AlarmState>,
    pub to: Option<AlarmState>,
    pub person: Option<Arc<str>>,
    /// Begins with [`TEST_MARK`] where it is part of a test.
    pub text: String,
}

/// The name that stands for the system itself where a tank's would, in commands and events.
pub const SYSTEM: &str = "system";

/// What the text of everything that follows from a test begins with.
pub const TEST_MARK: &str = "TEST: ";

impl Event {
    /// Whether it follows from a value that was put in for a test.
    pub fn is_test(&self) -> bool {
        self.text.starts_with(TEST_MARK)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EventKind {
    Start,
    Stop,
    /// An alarm went from one state to another, by itself or by a person.
    Alarm,
    /// A tank's reading changed its quality.
    Quality,
    /// A link came up or went down.
    Link,
    /// A jump beyond what can flow, and its verdict.
    Jump,
    /// A leg of a differential transmitter is flooded, or drained again.
    Leg,
    /// Hookups of one tank disagree, or agree again.
    Hookup,
    /// The wall clock and the monotonic clock moved apart.
    Clock,
    /// The journal can't be written, or is written again; with what was lost.
    Journal,
    /// Nobody watched for a time.
    Blind,
    /// Another site file is in force.
    SiteFile,
    /// Somebody was told of something, or could not be.
    Notice,
    /// A check finds a fault, finds it more surely, or no longer.
    Diagnosis,
    /// A person said what is in a tank.
    Product,
    /// A transfer was begun or ended, nears or passes its target.
    Transfer,
    /// What somebody saw at the sight glass or by tape.
    Entry,
    /// A round is overdue.
    Rounds,
    /// A person's own words.
    Note,
    /// Work on a transmitter begins, is overdue, or ends.
    Work,
    /// The horn was silenced at a place.
    Silence,
    /// A live test of an alarm begins, or is over; how it went.
    Test,
    /// Somebody tried what they may not.
    Refused,
    /// Somebody signed in or out at the page.
    Session,
    /// Of an entry that a journal holds and this version can't read; never written.
    Unknown,
}

impl EventKind {
    /// All that are written.
    pub const ALL: &'static [EventKind] = &[
        EventKind::Start,
        EventKind::Stop,
        EventKind::Alarm,
        EventKind::Quality,
        EventKind::Link,
        EventKind::Jump,
        EventKind::Leg,
        EventKind::Hookup,
        EventKind::Clock,
        EventKind::Journal,
        EventKind::Blind,
        EventKind::SiteFile,
        EventKind::Notice,
        EventKind::Diagnosis,
        EventKind::Product,
        EventKind::Transfer,
        EventKind::Entry,
        EventKind::Rounds,
        EventKind::Note,
        EventKind::Work,
        EventKind::Silence,
        EventKind::Test,
        EventKind::Refused,
        EventKind::Session,
    ];

    pub fn name(self) -> &'static str {
        match self {
            EventKind::Start => "start",
            EventKind::Stop => "stop",
            EventKind::Alarm => "alarm",
            EventKind::Quality => "quality",
            EventKind::Link => "link",
            EventKind::Jump => "jump",
            EventKind::Leg => "leg",
            EventKind::Hookup => "hookup",
            EventKind::Clock => "clock",
            EventKind::Journal => "journal",
            EventKind::Blind => "blind",
            EventKind::SiteFile => "site-file",
            EventKind::Notice => "notice",
            EventKind::Diagnosis => "diagnosis",
            EventKind::Product => "product",
            EventKind::Transfer => "transfer",
            EventKind::Entry => "entry",
            EventKind::Rounds => "rounds",
            EventKind::Note => "note",
            EventKind::Work => "work",
            EventKind::Silence => "silence",
            EventKind::Test => "test",
            EventKind::Refused => "refused",
            EventKind::Session => "session",
            EventKind::Unknown => "unknown",
        }
    }
}
