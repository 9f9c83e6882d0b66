//! A register's number → a quantity with quality: scale, loop-current limits, range, staleness.
//!
//! What always holds: a value is never older than the plan's `bad_after`, and never made up. A failed
//! poll keeps the last value, first as good, then as uncertain, then not at all.
//!
//! Loop current by NAMUR NE 43: measuring 3.8–20.5 mA; failed at ≤ 3.6 or ≥ 21 mA once held for 4 s (the
//! hold time from memory); between the bands the value is a bound.

use super::plan::{LoopCurrent, TransmitterPlan};
use super::quality::{Quality, Reason, Reasons};
use super::{Fault, Now};
use crate::quantity::Timestamp;
use std::time::Duration;

/// Loop currents in mA (NAMUR NE 43, edition 2003 as its public explanations quote it).
const FAILED_LOW_MA: f64 = 3.6;
const MEASURING_LOW_MA: f64 = 3.8;
const MEASURING_HIGH_MA: f64 = 20.5;
const FAILED_HIGH_MA: f64 = 21.0;
/// How long a failure current must stand before it is believed (NE 43, from memory).
const FAILURE_HOLD: Duration = Duration::from_secs(4);

/// How far past its span a value is still measured, as shares of the span: the same −1.25 % and
/// +3.125 % that 3.8 and 20.5 mA are.
const SPAN_BELOW: f64 = 0.0125;
const SPAN_ABOVE: f64 = 0.031_25;

/// The largest that anything is measured, in SI units: what a 32-bit float holds. Beyond it, sums and
/// products on the way to a reading could leave the numbers. Common practice, no source.
const LARGEST: f64 = f32::MAX as f64;

/// Whether a value is the quantity or only bounds it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Bound {
    #[default]
    Exact,
    /// The quantity is at most the value.
    AtMost,
    /// The quantity is at least the value.
    AtLeast,
}

/// What one transmitter says now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SignalValue {
    /// In SI units, by what the transmitter reads; none where quality is bad.
    pub value: Option<f64>,
    pub bound: Bound,
    pub reasons: Reasons,
}

impl SignalValue {
    /// A value that somebody states: good, and exact.
    pub fn stated(value: f64) -> Self {
        Self {
            value: Some(value),
            ..Self::default()
        }
    }

    pub fn quality(&self) -> Quality {
        self.reasons.quality()
    }

    /// Somebody works on the transmitter: what it says is no measurement.
    pub fn is_worked_on(&self) -> bool {
        is_worked_on(self.reasons)
    }

    pub fn is_waiting(&self) -> bool {
        self.reasons.has(Reason::WaitingForData)
    }
}

/// Whether reasons say that a transmitter is worked on.
pub fn is_worked_on(reasons: Reasons) -> bool {
    reasons.has(Reason::HandValue) || reasons.has(Reason::FunctionCheck)
}

/// One transmitter's memory.
#[derive(Clone, Copy, Debug)]
pub struct Signal {
    /// When it began to be listened to.
    since: Duration,
    raw: Option<f64>,
    answered: Option<(Duration, Timestamp)>,
    /// What the last answer was judged to be, before its age.
    judged: SignalValue,
    /// The last value that came in a measuring band, and when.
    last_value: Option<(Duration, f64)>,
    fault: Option<Fault>,
    failure_current_since: Option<Duration>,
}

impl Signal {
    pub fn new(now: Now) -> Self {
        Self {
            since: now.up,
            raw: None,
            answered: None,
            judged: SignalValue::default(),
            last_value: None,
            fault: None,
            failure_current_since: None,
        }
    }

    /// Takes one poll's outcome.
    pub fn accept(&mut self, plan: &TransmitterPlan, now: Now, raw: Result<f64, Fault>) {
        match raw {
            Ok(number) => {
                self.raw = Some(number);
                self.fault = None;
                self.answered = Some((now.up, now.utc));
                self.judged = self.judge(plan, now, number);
                let held = self.judged.reasons.has(Reason::CurrentSuspect);
                if let (Some(value), Bound::Exact, false) =
                    (self.judged.value, self.judged.bound, held)
                {
                    self.last_value = Some((now.up, value));
                }
            }
            Err(fault) => self.fault = Some(fault),
        }
    }

    /// What it says at this moment: the last answer, by its age.
    pub fn read(&self, plan: &TransmitterPlan, now: Now) -> SignalValue {
        let failed = |reason: Reason| SignalValue {
            reasons: reason.into(),
            ..SignalValue::default()
        };
        let silence = match self.fault {
            Some(Fault::Exception(_)) => Reason::DeviceException,
            _ => Reason::NoAnswer,
        };
        let Some((answered, _)) = self.answered else {
            let waited = now.up.saturating_sub(self.since);
            return failed(if waited < plan.bad_after {
                Reason::WaitingForData
            } else {
                silence
            });
        };
        let age = now.up.saturating_sub(answered);
        if age >= plan.bad_after {
            failed(silence)
        } else if age >= plan.uncertain_after && age >= missed_polls(plan) {
            let mut kept = self.judged;
            kept.reasons.add(Reason::LastValueKept);
            kept
        } else {
            self.judged
        }
    }

    /// The next moment at which time alone changes what it says.
    pub fn due(&self, plan: &TransmitterPlan, now: Now) -> Option<Duration> {
        let from = self.answered.map_or(self.since, |(at, _)| at);
        [from + missed_polls(plan), from + plan.bad_after]
            .into_iter()
            .filter(|at| *at > now.up)
            .min()
    }

    pub fn raw(&self) -> Option<f64> {
        self.raw
    }

    pub fn time(&self) -> Option<Timestamp> {
        self.answered.map(|(_, utc)| utc)
    }

    /// The last value ever measured, however old: a stand-in for a slow quantity such as a temperature.
    pub fn last_value(&self) -> Option<f64> {
        self.last_value.map(|(_, value)| value)
    }

    fn judge(&mut self, plan: &TransmitterPlan, now: Now, raw: f64) -> SignalValue {
        let failed = |reason: Reason| SignalValue {
            reasons: reason.into(),
            ..SignalValue::default()
        };
        if !raw.is_finite() {
            return failed(Reason::NotFinite);
        }
        if plan.failed.iter().any(|word| word.total_cmp(&raw).is_eq()) {
            return failed(Reason::MarkedFailed);
        }
        let value = in_si(plan, raw);
        let mut said = SignalValue::stated(value);
        if let Some(current) = &plan.loop_current {
            match self.judge_current(plan, current, now, raw) {
                Ok(bound) => said.bound = bound,
                Err(verdict) => return verdict,
            }
            if said.bound != Bound::Exact {
                said.reasons.add(Reason::CurrentOutOfBand);
            }
        }
        let ranged = in_range(plan, value);
        said.reasons.merge(ranged.reasons);
        said.value = ranged.value;
        said
    }

    /// Where the loop current stands: a bound on the value, or a verdict that replaces it.
    fn judge_current(
        &mut self,
        plan: &TransmitterPlan,
        current: &LoopCurrent,
        now: Now,
        raw: f64,
    ) -> Result<Bound, SignalValue> {
        let (raw_4, raw_20) = current.raw;
        // I = 4 mA + 16 mA·(raw − raw4)/(raw20 − raw4)
        let current_ma = 4.0 + 16.0 * (raw - raw_4) / (raw_20 - raw_4);
        let failed_low = current.live_zero && current_ma <= FAILED_LOW_MA;
        if failed_low || current_ma >= FAILED_HIGH_MA {
            let since = *self.failure_current_since.get_or_insert(now.up);
            let waits = now.up.saturating_sub(since) < FAILURE_HOLD;
            // What is held must not be older than any other value may be.
            let held = self
                .last_value
                .filter(|(at, _)| waits && now.up.saturating_sub(*at) < plan.bad_after);
            return Err(SignalValue {
                value: held.map(|(_, value)| value),
                bound: Bound::Exact,
                reasons: if held.is_some() {
                    Reason::CurrentSuspect
                } else {
                    Reason::CurrentFailed
                }
                .into(),
            });
        }
        self.failure_current_since = None;
        let rises = in_si(plan, raw_20) >= in_si(plan, raw_4);
        Ok(
            match (
                current_ma < MEASURING_LOW_MA,
                current_ma > MEASURING_HIGH_MA,
            ) {
                (true, _) if current.live_zero => {
                    if rises {
                        Bound::AtMost
                    } else {
                        Bound::AtLeast
                    }
                }
                (_, true) => {
                    if rises {
                        Bound::AtLeast
                    } else {
                        Bound::AtMost
                    }
                }
                _ => Bound::Exact,
            },
        )
    }
}

/// Three missed polls: the fourth is half a period late.
pub fn missed_polls(plan: &TransmitterPlan) -> Duration {
    plan.uncertain_after + plan.poll_every / 2
}

/// A value against the sensor's limits (bad beyond them) and the set range (uncertain beyond it).
pub fn in_range(plan: &TransmitterPlan, value: f64) -> SignalValue {
    let outside = plan
        .limits
        .is_some_and(|(low, high)| value < low || value > high);
    let measurable = value.abs() <= LARGEST;
    if outside || !measurable {
        return SignalValue {
            reasons: Reason::OutsideLimits.into(),
            ..SignalValue::default()
        };
    }
    let mut said = SignalValue::stated(value);
    if plan.span.is_some_and(|(low, high)| {
        let width = high - low;
        value < low - SPAN_BELOW * width || value > high + SPAN_ABOVE * width
    }) {
        said.reasons.add(Reason::OutsideSpan);
    }
    said
}

/// The register's number in SI units, the zero subtracted.
pub fn in_si(plan: &TransmitterPlan, raw: f64) -> f64 {
    let in_unit = plan.scale.map_or(raw, |scale| {
        let ((raw_0, raw_1), (value_0, value_1)) = (scale.raw, scale.value);
        // value = value0 + (raw − raw0)·(value1 − value0)/(raw1 − raw0)
        value_0 + (raw - raw_0) * (value_1 - value_0) / (raw_1 - raw_0)
    });
    plan.unit.to_si(in_unit) - plan.zero
}

/// The register's number that stands for a number of the transmitter's unit, before any zero is subtracted.
pub fn raw_of(plan: &TransmitterPlan, in_unit: f64) -> f64 {
    plan.scale.map_or(in_unit, |scale| {
        let ((raw_0, raw_1), (value_0, value_1)) = (scale.raw, scale.value);
        // raw = raw0 + (value − value0)·(raw1 − raw0)/(value1 − value0)
        raw_0 + (in_unit - value_0) * (raw_1 - raw_0) / (value_1 - value_0)
    })
}
