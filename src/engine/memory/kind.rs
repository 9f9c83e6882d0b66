//! The kinds of what is remembered beside alarms.

/// The kinds of [`Remembered`](super::Remembered).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RememberedKind {
    Product,
    /// How far the numbers of notices have come.
    Notices,
    /// An alarm that nobody has answered, and who was told of it.
    Call,
    Transfer,
    /// What a hookup's noise was while its lines were clear; by "tank/hookup".
    Noise,
    Work,
    AlarmTest,
    /// What was seen at the glass or by tape.
    Rounds,
    /// How far two hookups are apart when all is well; by "tank/hookup/hookup".
    Pair,
    /// What a tank at rest usually does at each hour.
    Rest,
    /// That a dry low leg is flooded, or may be since; by "tank/hookup".
    LowLeg,
    /// How a transmitter's number usually moves; by its tag.
    Frozen,
}

impl RememberedKind {
    pub fn name(self) -> &'static str {
        match self {
            RememberedKind::Product => "product",
            RememberedKind::Notices => "notices",
            RememberedKind::Call => "call",
            RememberedKind::Transfer => "transfer",
            RememberedKind::Noise => "noise",
            RememberedKind::Work => "work",
            RememberedKind::AlarmTest => "alarm-test",
            RememberedKind::Rounds => "rounds",
            RememberedKind::Pair => "pair",
            RememberedKind::Rest => "rest",
            RememberedKind::LowLeg => "low-leg",
            RememberedKind::Frozen => "frozen",
        }
    }
}
