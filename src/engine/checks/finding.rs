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
    CommonCause, OutOfSpecification, "several tanks jumped at once",
        "Look for what they share: gateway, supply, barometer, weather; then confirm each level at its sight glass";
    EqualiserOpen, FunctionCheck, "equaliser open",
        "Shut the equalising valve, or finish the work at the manifold; then confirm the level at the sight glass";
    WetLegLost, OutOfSpecification, "wet leg lost",
        "THE TANK HOLDS LESS THAN IS SHOWN. Look at the sight glass; fill the leg under the site's permit, then confirm the level";
    UnitOrWords, Failure, "unit or word order changed",
        "Look at what was changed in the transmitter or gateway: unit, scaling, word order; then confirm the level";
    RealJump, OutOfSpecification, "movement beyond the stated flow",
        "Confirm the level at the sight glass; correct the largest flow in the site file";
    LinesUnsound, Failure, "lines not sound",
        "Treat the level as unknown; look at manifold, legs and transmitter, and at the sight glass";
    LowLegFlooded, Failure, "low leg flooded",
        "Treat the tank as full. Drain the leg under the site's permit, then confirm it";
    FlatReading, Failure, "level stands still though liquid flows",
        "Look at the sight glass; see whether a line is plugged, the transmitter frozen, or the pump's signal wrong";
    AgainstFlow, Failure, "level moves against the known flow",
        "TREAT THE LEVEL AS UNKNOWN: the tank may be filling while it reads less. Look at the sight glass, then at the legs (a dry one that fills, a wet one that is lost) and at what is said to flow";
    HookupsDisagree, OutOfSpecification, "hookups disagree",
        "Compare both with the sight glass or a dip";
    Frozen, Failure, "frozen number",
        "Look at the sight glass; see whether transmitter and gateway still measure, and start them anew if not";
    HighSidePlugged, Failure, "high side plugged",
        "Look at the sight glass. Clear or blow down the high-side line under the site's permit";
    LowSidePlugged, Failure, "low side plugged, or open to the air",
        "Look at the sight glass. See whether the low side is lined up to the headspace; clear its line under the site's permit";
    BothSidesPlugged, Failure, "both sides plugged, or the manifold closed",
        "Look at the sight glass, then at the manifold's valves; clear the lines under the site's permit";
    LinePlugged, Failure, "impulse line plugged",
        "Look at the sight glass, then at the valves of the line; clear it under the site's permit";
    EqualiserPassing, Failure, "equaliser passing",
        "See whether the equalising valve is shut and tight, and whether the flow that it is judged by is right";
    NoiseFell, MaintenanceRequired, "noise of the line fell",
        "Compare with the sight glass; look for a line that plugs or a valve half shut, or for a damping that was set";
    NoiseRose, MaintenanceRequired, "noise of the line rose",
        "Look for a loose line, gas in a liquid line, a valve that chatters, or a damping that was taken off";
    LosesAtRest, OutOfSpecification, "loses while nothing should flow",
        "Look at drains, outlet valves, overflow and bund, and whether the pumps' signals are right";
    GainsAtRest, OutOfSpecification, "gains while nothing should flow",
        "Look at inlet valves and at what else can run in, and whether the pumps' signals are right";
    FollowsTemperature, MaintenanceRequired, "follows the ambient temperature",
        "Look for liquid or gas trapped in a line, and for a leg that is not as warm as the site file says; shade or insulate it, or give its temperature";
    FollowsWeather, MaintenanceRequired, "follows the barometer",
        "See whether the vent tube is blocked or kinked, or the gauge a sealed one";
    RedundantApart, OutOfSpecification, "redundant levels apart",
        "Compare each with the sight glass or a dip; look at the lines and legs of the one that is off";
    RedundantDrift, MaintenanceRequired, "redundant levels drift apart",
        "Compare each with the sight glass or a dip; have the one that drifts calibrated";
    Recurring, MaintenanceRequired, "a fault keeps coming back",
        "Look for a loose wire, water in the housing or a failing supply before it stays";
    /// The glass did not move with the reading.
    JumpArtefact, OutOfSpecification, "reading jumped, level did not",
        "Go by the sight glass; find what moved at the transmitter and its lines";
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

    /// Of a transmitter or a stream.
    pub fn of(fault: Fault, subject: &Arc<str>, confidence: Confidence, evidence: String) -> Self {
        Self {
            subject: Some(Arc::clone(subject)),
            ..Self::of_tank(fault, confidence, evidence)
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
