//! A contact: a bit → on or off with quality, by its age alone.
//!
//! What always holds: a state is never older than the plan's `bad_after`, and never made up.

use super::plan::{Condition, ContactPlan};
use super::quality::{Quality, Reason, Reasons};
use super::{Fault, Now};
use crate::quantity::Timestamp;
use std::time::Duration;

/// What one contact says now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ContactValue {
    /// After `invert`; none where quality is bad.
    pub on: Option<bool>,
    pub reasons: Reasons,
}

impl ContactValue {
    pub fn quality(&self) -> Quality {
        self.reasons.quality()
    }
    pub fn is_waiting(&self) -> bool {
        self.reasons.has(Reason::WaitingForData)
    }
}

/// One contact's memory.
#[derive(Clone, Copy, Debug)]
pub struct Contact {
    /// When it began to be listened to.
    since: Duration,
    answered: Option<(bool, Duration, Timestamp)>,
    fault: Option<Fault>,
}

impl Contact {
    pub fn new(now: Now) -> Self {
        Self {
            since: now.up,
            answered: None,
            fault: None,
        }
    }

    /// Takes one poll's outcome.
    pub fn accept(&mut self, now: Now, bit: Result<bool, Fault>) {
        match bit {
            Ok(bit) => {
                self.answered = Some((bit, now.up, now.utc));
                self.fault = None;
            }
            Err(fault) => self.fault = Some(fault),
        }
    }

    /// What it says at this moment: the last answer, by its age.
    pub fn read(&self, plan: &ContactPlan, now: Now) -> ContactValue {
        let silence = match self.fault {
            Some(Fault::Exception(_)) => Reason::DeviceException,
            _ => Reason::NoAnswer,
        };
        let Some((bit, answered, _)) = self.answered else {
            let waited = now.up.saturating_sub(self.since);
            let reason = if waited < plan.bad_after {
                Reason::WaitingForData
            } else {
                silence
            };
            return ContactValue {
                on: None,
                reasons: reason.into(),
            };
        };
        let age = now.up.saturating_sub(answered);
        let mut reasons = Reasons::NONE;
        if age >= plan.bad_after {
            reasons.add(silence);
        } else if age >= plan.uncertain_after {
            reasons.add(Reason::LastValueKept);
        }
        ContactValue {
            on: (age < plan.bad_after).then_some(bit != plan.invert),
            reasons,
        }
    }

    /// The next moment at which time alone changes what it says.
    pub fn due(&self, plan: &ContactPlan, now: Now) -> Option<Duration> {
        let from = self.answered.map_or(self.since, |(_, at, _)| at);
        [from + plan.uncertain_after, from + plan.bad_after]
            .into_iter()
            .filter(|at| *at > now.up)
            .min()
    }

    pub fn time(&self) -> Option<Timestamp> {
        self.answered.map(|(.., utc)| utc)
    }
}

/// Whether all conditions hold; none while one that could decide it has not been heard yet. A contact of bad
/// quality fulfils none.
pub fn all_hold(
    conditions: &[Condition],
    read: impl Fn(&Condition) -> ContactValue,
) -> Option<bool> {
    let mut waiting = false;
    for condition in conditions {
        let value = read(condition);
        if value.is_waiting() {
            waiting = true;
        } else if value.on != Some(condition.on) {
            return Some(false);
        }
    }
    (!waiting).then_some(true)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::{ContactId, LinkId};

    const POLL: Duration = Duration::from_secs(1);

    fn plan(invert: bool) -> ContactPlan {
        ContactPlan {
            tag: "HS-101".into(),
            link: LinkId(0),
            poll_every: POLL,
            invert,
            on_means: None,
            off_means: None,
            uncertain_after: 3 * POLL,
            bad_after: 10 * POLL,
        }
    }

    fn at(seconds: u64) -> Now {
        Now {
            up: POLL * seconds as u32,
            utc: Timestamp::UNIX_EPOCH,
        }
    }

    #[test]
    fn a_state_is_kept_then_doubted_then_dropped() {
        let (plan, mut contact) = (plan(false), Contact::new(at(0)));
        assert!(contact.read(&plan, at(9)).is_waiting());
        assert_eq!(contact.read(&plan, at(10)).quality(), Quality::Bad);
        contact.accept(at(10), Ok(true));
        contact.accept(at(11), Err(Fault::NoAnswer));
        assert_eq!(contact.read(&plan, at(12)).quality(), Quality::Good);
        let kept = contact.read(&plan, at(13));
        assert_eq!((kept.on, kept.quality()), (Some(true), Quality::Uncertain));
        assert_eq!(contact.due(&plan, at(13)), Some(at(20).up));
        let gone = contact.read(&plan, at(20));
        assert_eq!((gone.on, gone.quality()), (None, Quality::Bad));
    }

    #[test]
    fn invert_turns_it_round() {
        let mut contact = Contact::new(at(0));
        contact.accept(at(0), Ok(true));
        assert_eq!(contact.read(&plan(true), at(0)).on, Some(false));
    }

    #[test]
    fn all_of_a_list_must_hold_and_bad_fulfils_none() {
        let on = |index| Condition {
            contact: ContactId(index),
            on: true,
        };
        let off = Condition {
            contact: ContactId(0),
            on: false,
        };
        let says = |on, reasons| ContactValue { on, reasons };
        let values = [
            says(Some(true), Reasons::NONE),
            says(None, Reason::NoAnswer.into()),
            says(None, Reason::WaitingForData.into()),
        ];
        let hold = |conditions: &[Condition]| {
            all_hold(conditions, |condition| values[condition.contact.index()])
        };
        assert_eq!(hold(&[on(0)]), Some(true));
        assert_eq!(hold(&[off]), Some(false));
        assert_eq!(hold(&[on(0), on(1)]), Some(false));
        assert_eq!(hold(&[on(0), on(2)]), None);
        assert_eq!(hold(&[off, on(2)]), Some(false));
    }
}
