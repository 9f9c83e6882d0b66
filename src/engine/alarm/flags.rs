//! The three flags that hide an alarm while its process state runs underneath: shelved, suppressed by
//! design, out of service.
//!
//! What always holds: the deadline of a shelf and the longest time of a suppression are absolute times of the
//! wall clock, so that they survive a restart; the hold of a suppression is process time.

use super::{AlarmState, Cause};
use crate::engine::Now;
use crate::engine::memory::{AlarmMemory, OutOfService, Shelf, Suppressed};
use crate::engine::plan::Suppress;
use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

/// What the site file's own logic wants at one moment.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Wanted {
    /// Not to be suppressed.
    #[default]
    No,
    /// Its conditions have not been heard yet: what is stays.
    Unknown,
    /// To be suppressed, and by what, in words.
    Yes(Arc<str>),
    /// Another alarm, of that code, tells the same.
    Elsewhere { teller: Teller, code: Arc<str> },
}

/// The alarm that tells what others are suppressed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Teller {
    /// Of the same tank, by its place in the plan.
    Tank(usize),
    /// Of the system itself, by its place in the plan.
    System(usize),
}

#[derive(Clone, Debug, Default)]
pub struct Flags {
    pub shelf: Option<Shelf>,
    pub suppressed: Option<Suppressed>,
    pub out_of_service: Option<OutOfService>,
    /// The suppression had its longest time, and its condition has been true ever since.
    spent: bool,
    /// Since when the suppression's condition does not hold any more.
    unwanted_since: Option<Duration>,
    /// The condition has cleared under a shelf that ends with it.
    cleared: bool,
    /// Who tells it instead, where that is why it is suppressed.
    told_by: Option<Teller>,
}

impl Flags {
    pub fn restored(memory: &AlarmMemory) -> Self {
        Self {
            shelf: memory.shelf.clone(),
            suppressed: memory.suppressed.clone(),
            out_of_service: memory.out_of_service.clone(),
            spent: memory.suppression_spent,
            ..Self::default()
        }
    }

    /// Out of service over shelved over suppressed; none where nothing hides the alarm.
    pub fn shown(&self) -> Option<AlarmState> {
        if self.out_of_service.is_some() {
            Some(AlarmState::OutOfService)
        } else if self.shelf.is_some() {
            Some(AlarmState::Shelved)
        } else {
            self.suppressed.is_some().then_some(AlarmState::Suppressed)
        }
    }

    pub fn spent(&self) -> bool {
        self.spent
    }

    pub fn told_by(&self) -> Option<Teller> {
        self.told_by
    }

    /// Hidden by something else than that another alarm tells the same.
    pub fn hide_by_themselves(&self, rule: Option<&Suppress>) -> bool {
        let by_rule = rule.is_some() && self.suppressed.is_some() && self.told_by.is_none();
        by_rule || self.shelf.is_some() || self.out_of_service.is_some()
    }

    pub fn shelve(&mut self, shelf: Shelf) {
        self.shelf = Some(shelf);
        self.cleared = false;
    }

    /// The condition went false under the flags.
    pub fn condition_cleared(&mut self) {
        self.cleared = true;
    }

    /// Begins a suppression that is wanted.
    #[inline]
    pub fn begin(&mut self, wanted: &Wanted, now: Now) -> Option<Cause> {
        match wanted {
            Wanted::Yes(_) if self.spent => None,
            Wanted::Yes(cause) => self.suppress(None, || Arc::clone(cause), now),
            Wanted::Elsewhere { teller, code } => {
                let cause = || format!("{code} tells it").into();
                self.suppress(Some(*teller), cause, now)
            }
            Wanted::No => {
                self.spent = false;
                if self.suppressed.is_none() {
                    self.told_by = None;
                }
                None
            }
            Wanted::Unknown => None,
        }
    }

    /// Another alarm tells it, and this one is shown all the same.
    pub fn follow(&mut self, teller: Teller) {
        self.told_by = Some(teller);
    }

    #[inline(never)]
    fn suppress(
        &mut self,
        teller: Option<Teller>,
        cause: impl FnOnce() -> Arc<str>,
        now: Now,
    ) -> Option<Cause> {
        self.unwanted_since = None;
        let same = self.told_by == teller;
        self.told_by = teller;
        match &mut self.suppressed {
            Some(_) if same => None,
            // It stays hidden, for another cause now.
            Some(suppressed) => {
                suppressed.cause = cause();
                None
            }
            None => {
                self.suppressed = Some(Suppressed {
                    since: now.utc,
                    cause: cause(),
                });
                Some(Cause::Suppressed)
            }
        }
    }

    /// Ends what is over; one at a time.
    #[inline]
    pub fn end(&mut self, rule: Option<&Suppress>, wanted: &Wanted, now: Now) -> Option<Cause> {
        if self.shelf.is_none() && self.suppressed.is_none() {
            return None;
        }
        self.end_shelf(now)
            .or_else(|| self.end_suppression(rule, wanted, now))
    }

    fn end_shelf(&mut self, now: Now) -> Option<Cause> {
        let shelf = self.shelf.as_ref()?;
        let cause = if now.utc >= shelf.until {
            Cause::ShelfTimeUp
        } else if shelf.once && self.cleared {
            Cause::ShelfCleared
        } else {
            return None;
        };
        self.shelf = None;
        Some(cause)
    }

    fn end_suppression(
        &mut self,
        rule: Option<&Suppress>,
        wanted: &Wanted,
        now: Now,
    ) -> Option<Cause> {
        let suppressed = self.suppressed.as_ref()?;
        let rule = self.in_force(rule);
        let cause = if longest(rule, suppressed).is_some_and(|until| now.utc >= until) {
            self.spent = *wanted != Wanted::No;
            Cause::SuppressionTooLong
        } else if *wanted == Wanted::No {
            let since = *self.unwanted_since.get_or_insert(now.up);
            let hold = rule.map_or(Duration::ZERO, |rule| rule.hold);
            if now.up.saturating_sub(since) < hold {
                return None;
            }
            Cause::SuppressionOver
        } else {
            return None;
        };
        self.suppressed = None;
        self.unwanted_since = None;
        self.told_by = None;
        Some(cause)
    }

    /// Where another alarm tells it, it ends with that.
    fn in_force<'a>(&self, rule: Option<&'a Suppress>) -> Option<&'a Suppress> {
        rule.filter(|_| self.told_by.is_none())
    }

    /// Nothing hides the alarm, and nothing is about to end.
    pub fn are_at_rest(&self) -> bool {
        self.shown().is_none() && self.unwanted_since.is_none()
    }

    /// When time alone next ends one of them.
    pub fn due(&self, rule: Option<&Suppress>, now: Now) -> Option<Duration> {
        let at = |until: Timestamp| {
            let left = until.duration_since(now.utc);
            now.up + Duration::try_from(left).unwrap_or_default()
        };
        let rule = self.in_force(rule);
        let shelf = self.shelf.as_ref().map(|shelf| at(shelf.until));
        let longest = self
            .suppressed
            .as_ref()
            .and_then(|suppressed| longest(rule, suppressed))
            .map(at);
        let hold = rule
            .zip(self.unwanted_since)
            .map(|(rule, since)| since + rule.hold);
        [shelf, longest, hold].into_iter().flatten().min()
    }
}

fn longest(rule: Option<&Suppress>, suppressed: &Suppressed) -> Option<Timestamp> {
    let at_most = rule?.at_most?;
    suppressed.since.checked_add(at_most).ok()
}
