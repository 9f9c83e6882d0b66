//! What diagnosis finds: a fault with its evidence, how sure it is, and what to do; and what a check could
//! find at all on a tank.
//!
//! Categories are those of NAMUR NE 107.

use crate::quantity::Timestamp;
use std::sync::Arc;

/// How sure a finding is. One check alone that has no independent evidence stays at possible.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    Possible,
    Probable,
}

impl Confidence {
    pub fn name(self) -> &'static str {
        match self {
            Confidence::Possible => "possible",
            Confidence::Probable => "probable",
        }
    }
}

/// What a fault means for the device (NAMUR NE 107).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Category {
    Failure,
    FunctionCheck,
    OutOfSpecification,
    MaintenanceRequired,
}

impl Category {
    pub fn name(self) -> &'static str {
        match self {
            Category::Failure => "failure",
            Category::FunctionCheck => "function check",
            Category::OutOfSpecification => "out of specification",
            Category::MaintenanceRequired => "maintenance required",
        }
    }
}

macro_rules! faults {
    ($($(#[$doc:meta])* $name:ident, $category:ident, $text:literal, $remedy:literal;)*) => {
        /// What can be wrong with a reading.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Fault { $($(#[$doc])* $name,)* }

        impl Fault {
            pub const ALL: &'static [Fault] = &[$(Fault::$name,)*];

            /// The words that scripts, events and pages have for it.
            pub fn name(self) -> &'static str {
                match self { $(Fault::$name => $text,)* }
            }
            pub fn category(self) -> Category {
                match self { $(Fault::$name => Category::$category,)* }
            }
            /// What a person is to do about it.
            pub fn remedy(self) -> &'static str {
                match self { $(Fault::$name => $remedy,)* }
            }
        }
    };
}

faults! {
    /// A jump that follows the headspace.
    PressureArtefact, OutOfSpecification, "pressure artefact",
        "Look at the sight glass; see whether the low side is open to the headspace";
    UnexplainedJump, OutOfSpecification, "unexplained jump",
        "Look at the sight glass, then confirm the level";
    LowLegFlooded, Failure, "low leg flooded",
        "Treat the tank as full. Drain the leg under the site's permit, then confirm it";
    FlatReading, Failure, "level stands still though liquid flows",
        "Look at the sight glass; see whether a line is plugged, the transmitter frozen, or the pump's signal wrong";
    HookupsDisagree, OutOfSpecification, "hookups disagree",
        "Compare both with the sight glass or a dip";
    /// The glass did not move with the reading.
    JumpArtefact, OutOfSpecification, "reading jumped, level did not",
        "Go by the sight glass; find what moved at the transmitter and its lines";
    WetLegLost, OutOfSpecification, "wet leg lost",
        "THE TANK HOLDS LESS THAN IS SHOWN. Look at the glass again; fill the leg under the site's permit";
    CondensateInLeg, OutOfSpecification, "condensate in the dry leg",
        "THE TANK HOLDS MORE THAN IS SHOWN. Look at the glass again; drain the leg under the site's permit";
    DensityWrong, OutOfSpecification, "density wrong",
        "Take a sample; then set the liquid's density in the site file, or choose the product";
    ZeroOff, MaintenanceRequired, "zero off",
        "Check the zero with both sides equalised, under the site's permit; correct it in one place only";
    DriftsFromEntries, MaintenanceRequired, "reading drifts from the entries",
        "Enter the sight glass at another level; then check zero and density";
}

/// A fault that is held to be there.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    pub fault: Fault,
    /// The transmitter or stream that it is about, where it is not the whole tank.
    pub subject: Option<Arc<str>>,
    pub confidence: Confidence,
    /// What speaks for it, with its numbers.
    pub evidence: String,
}

impl Finding {
    pub fn of_tank(fault: Fault, confidence: Confidence, evidence: String) -> Self {
        Self {
            fault,
            subject: None,
            confidence,
            evidence,
        }
    }

    /// The same fault of the same thing, whatever the evidence.
    pub fn is_same(&self, other: &Finding) -> bool {
        self.fault == other.fault && self.subject == other.subject
    }

    /// In a sentence: how sure, what, of what, why, and what to do.
    pub fn sentence(&self) -> String {
        let subject = self.subject.as_ref();
        let subject = subject.map_or(String::new(), |subject| format!(" ({subject})"));
        format!(
            "{} {}{subject}, {}: {}. {}",
            self.confidence.name(),
            self.fault.name(),
            self.fault.category().name(),
            self.evidence,
            self.fault.remedy()
        )
    }
}

/// A finding that stands, since when.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenFinding {
    pub finding: Finding,
    pub since: Timestamp,
}

/// What a check could find on a tank, or why it can't.
#[derive(Clone, Debug, PartialEq)]
pub struct Ability {
    pub check: &'static str,
    pub diagnosable: bool,
    /// With its numbers: the smallest step, loss or drift that it would show; or the reason.
    pub text: String,
}

impl Ability {
    pub fn can(check: &'static str, text: String) -> Self {
        Self {
            check,
            diagnosable: true,
            text,
        }
    }

    pub fn cannot(check: &'static str, reason: impl Into<String>) -> Self {
        Self {
            check,
            diagnosable: false,
            text: format!("not diagnosable here: {}", reason.into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fault_has_a_name_of_its_own() {
        for (index, fault) in Fault::ALL.iter().enumerate() {
            let earlier = &Fault::ALL[..index];
            assert!(earlier.iter().all(|other| other.name() != fault.name()));
            assert!(!fault.remedy().is_empty());
        }
    }
}
