//! What stands open on one tank: findings come, get firmer, and go.
//!
//! What always holds: a fault of one thing stands at most once; its time is that of its first finding; a
//! finding that got less sure stays as sure as it was until it goes.

use super::finding::{Ability, Finding, OpenFinding};
use crate::engine::Now;
use std::sync::Arc;
use std::time::Duration;

/// How often the checks of a tank are asked for what they find: fits and blocks run on their own period,
/// never with each sample.
pub const PERIOD: Duration = Duration::from_secs(5);

/// What a round over the checks changed.
#[derive(Clone, Debug, PartialEq)]
pub enum FindingChange {
    Opened(Finding),
    /// From possible to probable.
    Firmer(Finding),
    Closed(Finding),
}

/// How often it is worked out anew what the checks could find.
const ABILITIES_EVERY: Duration = Duration::from_secs(60);

#[derive(Clone, Debug, Default)]
pub struct Diagnosis {
    open: Vec<OpenFinding>,
    next: Option<Duration>,
    next_abilities: Option<Duration>,
    /// What each check could find here, as last worked out.
    pub abilities: Arc<[Ability]>,
}

impl Diagnosis {
    /// Rounds over tanks are spread over the period.
    pub fn new(tank: usize, now: Now) -> Self {
        let spread = PERIOD.mul_f64(tank as f64 * 0.618 % 1.0);
        Self {
            next: Some(now.up + spread),
            ..Self::default()
        }
    }

    pub fn open(&self) -> &[OpenFinding] {
        &self.open
    }

    /// Whether it is time for a round; asked for once, it is over.
    pub fn is_due(&mut self, now: Now) -> bool {
        let due = self.next.is_none_or(|next| next <= now.up);
        if due {
            self.next = Some(now.up + PERIOD);
        }
        due
    }

    pub fn abilities_are_due(&mut self, now: Now) -> bool {
        let due = self.next_abilities.is_none_or(|next| next <= now.up);
        if due {
            self.next_abilities = Some(now.up + ABILITIES_EVERY);
        }
        due
    }

    /// Takes all that the checks find now.
    pub fn settle(&mut self, found: Vec<Finding>, now: Now) -> Vec<FindingChange> {
        let mut changes = Vec::new();
        self.open.retain(|open| {
            let stays = found.iter().any(|finding| finding.is_same(&open.finding));
            if !stays {
                changes.push(FindingChange::Closed(open.finding.clone()));
            }
            stays
        });
        for finding in found {
            let same = |open: &&mut OpenFinding| open.finding.is_same(&finding);
            match self.open.iter_mut().find(same) {
                Some(open) if finding.confidence > open.finding.confidence => {
                    open.finding = finding.clone();
                    changes.push(FindingChange::Firmer(finding));
                }
                Some(open) => open.finding.evidence = finding.evidence,
                None => {
                    changes.push(FindingChange::Opened(finding.clone()));
                    let since = now.utc;
                    self.open.push(OpenFinding { finding, since });
                }
            }
        }
        changes
    }
}

#[cfg(test)]
mod tests {
    use super::super::finding::{Confidence, Fault};
    use super::*;
    use crate::quantity::Timestamp;

    const NOW: Now = Now {
        up: Duration::from_secs(7),
        utc: Timestamp::UNIX_EPOCH,
    };

    fn flooded(confidence: Confidence) -> Finding {
        Finding::of_tank(Fault::LowLegFlooded, confidence, "it fell".to_owned())
    }

    #[test]
    fn a_finding_comes_gets_firmer_and_goes_once_each() {
        let mut diagnosis = Diagnosis::default();
        let (possible, probable) = (flooded(Confidence::Possible), flooded(Confidence::Probable));
        let opened = diagnosis.settle(vec![possible.clone()], NOW);
        assert_eq!(opened, [FindingChange::Opened(possible.clone())]);
        assert_eq!(diagnosis.settle(vec![possible.clone()], NOW), []);
        let firmer = diagnosis.settle(vec![probable.clone()], NOW);
        assert_eq!(firmer, [FindingChange::Firmer(probable.clone())]);
        assert_eq!(diagnosis.settle(vec![possible], NOW), []);
        let closed = diagnosis.settle(Vec::new(), NOW);
        assert_eq!(closed, [FindingChange::Closed(probable)]);
        assert_eq!(diagnosis.open(), []);
    }

    #[test]
    fn a_round_is_due_once_a_period() {
        let mut diagnosis = Diagnosis::default();
        let later = Now {
            up: NOW.up + PERIOD,
            ..NOW
        };
        assert!(diagnosis.is_due(NOW) && !diagnosis.is_due(NOW) && diagnosis.is_due(later));
    }
}
