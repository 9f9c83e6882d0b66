//! Quality of a value, and the one published list of reasons for it.
//!
//! The worst input wins. Quality codes on the wire are those of OPC UA (IEC 62541-4, 62541-8).

/// How far a value can be trusted; the order is from best to worst.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quality {
    #[default]
    Good,
    Uncertain,
    Bad,
}

impl Quality {
    pub fn name(self) -> &'static str {
        match self {
            Quality::Good => "good",
            Quality::Uncertain => "uncertain",
            Quality::Bad => "bad",
        }
    }
}

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident, $quality:ident, $code:literal, $text:literal;)*) => {
        /// Why a value is not simply good.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[repr(u8)]
        pub enum Reason { $($(#[$doc])* $name,)* }

        impl Reason {
            /// Every reason, in the order of the published list.
            pub const ALL: &'static [Reason] = &[$(Reason::$name,)*];

            /// The text that `reasons` holds in every public form.
            pub fn text(self) -> &'static str {
                match self { $(Reason::$name => $text,)* }
            }
            /// The OPC UA status code that says the same.
            pub fn code(self) -> &'static str {
                match self { $(Reason::$name => $code,)* }
            }
            /// The quality that this reason alone gives.
            pub const fn quality(self) -> Quality {
                match self { $(Reason::$name => Quality::$quality,)* }
            }
        }
    };
}

reasons! {
    WaitingForData, Bad, "BadWaitingForInitialData", "waiting for the first reading";
    NoAnswer, Bad, "BadNoCommunication", "no answer";
    DeviceException, Bad, "BadDeviceFailure", "device answers an exception";
    LastValueKept, Uncertain, "UncertainLastUsableValue", "no new reading, last value kept";
    NotFinite, Bad, "BadSensorFailure", "not a finite number";
    MarkedFailed, Bad, "BadSensorFailure", "the device marks its value as failed";
    CurrentFailed, Bad, "BadSensorFailure", "loop current says the transmitter failed";
    CurrentSuspect, Uncertain, "UncertainSensorNotAccurate", "loop current in a failure band, held";
    CurrentOutOfBand, Uncertain, "UncertainEngineeringUnitsExceeded", "loop current outside the measuring band";
    OutsideSpan, Uncertain, "UncertainEngineeringUnitsExceeded", "outside the set range";
    OutsideLimits, Bad, "BadOutOfRange", "outside what the sensor can tell";
    AtOrBelowTap, Uncertain, "UncertainSensorNotAccurate", "at or below the tap";
    AtOrAboveUpperTap, Uncertain, "UncertainSensorNotAccurate", "at or above the upper tap";
    OutsideIntactLines, Bad, "BadOutOfRange", "outside what intact lines give";
    LowLegFlooded, Bad, "BadSensorFailure", "low leg flooded";
    EmptyOrLowLegFlooded, Uncertain, "UncertainSensorNotAccurate", "empty, or low leg flooded";
    LowLegSuspected, Uncertain, "UncertainSensorNotAccurate", "fell further than is drawn: low leg flooded, or a flow is wrong";
    AboveVessel, Bad, "BadOutOfRange", "above the vessel";
    DensityOutOfRange, Uncertain, "UncertainEngineeringUnitsExceeded", "density outside the range of its formula";
    DensitiesTooClose, Bad, "BadConfigurationError", "liquid is no denser than what is above it";
    ConditionAssumed, Uncertain, "UncertainSubstituteValue", "temperature or pressure not read, a stand-in taken";
    DensityKept, Uncertain, "UncertainLastUsableValue", "density not read, last value kept";
    DensityAssumed, Uncertain, "UncertainSubstituteValue", "density not read, the stated liquid taken";
    DensityUnknown, Bad, "BadSensorFailure", "density not read, and none is known";
    ImplausibleJump, Uncertain, "UncertainSubNormal", "implausible jump";
    FloodingNotVerified, Uncertain, "UncertainSensorNotAccurate", "flooding not verified";
    UpperTapNotFlooded, Bad, "BadOutOfRange", "upper tap not flooded";
    DensityLastTrusted, Uncertain, "UncertainLastUsableValue", "density not measured at this level, last trusted one taken";
    DensityAsStated, Uncertain, "UncertainSubstituteValue", "density not measured at this level, the stated one taken";
    InsteadTaken, Uncertain, "UncertainSubstituteValue", "the chosen hookup gives no level, another one taken";
    HookupMissing, Uncertain, "UncertainSubNormal", "one of the hookups gives no level";
    HookupsDisagree, Uncertain, "UncertainSubNormal", "hookups disagree";
    CorrectionOverdue, Uncertain, "UncertainSensorNotAccurate", "the correction is past its last day";
    FunctionCheck, Bad, "BadOutOfService", "function check: work on the transmitter";
    HandValue, Uncertain, "UncertainSubstituteValue", "hand value in place of the transmitter";
    TestValue, Uncertain, "UncertainSubstituteValue", "live test: a value is put in";
    ProductNotConfirmed, Uncertain, "UncertainSubstituteValue", "which product is in the tank is not confirmed";
    SingleSpike, Uncertain, "UncertainSensorNotAccurate", "single wild sample";
}

/// A set of reasons; no allocation.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Reasons(u64);

impl Reasons {
    pub const NONE: Reasons = Reasons(0);

    pub fn add(&mut self, reason: Reason) {
        self.0 |= 1 << reason as u64;
    }
    pub fn with(mut self, reason: Reason) -> Self {
        self.add(reason);
        self
    }
    pub fn merge(&mut self, other: Reasons) {
        self.0 |= other.0;
    }
    pub fn has(self, reason: Reason) -> bool {
        self.0 & (1 << reason as u64) != 0
    }
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
    pub fn iter(self) -> impl Iterator<Item = Reason> {
        Reason::ALL
            .iter()
            .copied()
            .filter(move |reason| self.has(*reason))
    }
    /// The worst quality that any of the reasons gives.
    pub fn quality(self) -> Quality {
        const BAD: u64 = all_that_give(Quality::Bad);
        const UNCERTAIN: u64 = all_that_give(Quality::Uncertain);
        match self.0 {
            some if some & BAD != 0 => Quality::Bad,
            some if some & UNCERTAIN != 0 => Quality::Uncertain,
            _ => Quality::Good,
        }
    }
}

const fn all_that_give(quality: Quality) -> u64 {
    let (mut bits, mut place) = (0, 0);
    while place < Reason::ALL.len() {
        let reason = Reason::ALL[place];
        if reason.quality() as u8 == quality as u8 {
            bits |= 1 << reason as u64;
        }
        place += 1;
    }
    bits
}

impl From<Reason> for Reasons {
    fn from(reason: Reason) -> Self {
        Reasons::NONE.with(reason)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_reason_wins() {
        let both = Reasons::from(Reason::OutsideSpan).with(Reason::NoAnswer);
        assert_eq!(both.quality(), Quality::Bad);
        assert_eq!(Reasons::NONE.quality(), Quality::Good);
        for reason in Reason::ALL {
            assert_eq!(Reasons::from(*reason).quality(), reason.quality());
        }
    }

    #[test]
    fn every_reason_fits_and_has_a_text_of_its_own() {
        assert!(Reason::ALL.len() <= 64);
        for (index, reason) in Reason::ALL.iter().enumerate() {
            assert!(
                Reason::ALL[..index]
                    .iter()
                    .all(|other| other.text() != reason.text())
            );
        }
    }
}
