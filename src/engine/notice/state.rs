//! The calls that are open, and what time and people do with them.

use super::call::{Annunciation, Call, Leg, Pending};
use super::flood::Flood;
use super::hours::until_time;
use super::plan::{NoticesPlan, RouteId, Until};
use super::{Notice, NoticeId, NoticeKind, RecipientId, words};
use crate::engine::Now;
use crate::engine::plan::Priority;
use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

/// An alarm that comes and goes is told again no sooner. Common practice, no source.
const AGAIN_AFTER: Duration = Duration::from_secs(60);
/// So many outcomes are waited for; the oldest beyond counts as failed.
const MOST_PENDING: usize = 1024;

#[derive(Clone, Debug, Default)]
pub(in crate::engine) struct Notices {
    pub(super) calls: Vec<Call>,
    pub(super) pending: Vec<Pending>,
    pub(super) flood: Flood,
    pub(super) digest_due: Option<Duration>,
    /// What came back to normal since the last digest of each route.
    pub(super) returned: Vec<u32>,
    tests: Vec<Option<Duration>>,
    /// The number of the last notice.
    pub(super) last: u64,
    /// Recipients whose last notice did not arrive.
    pub(super) unreached: BTreeSet<u32>,
    /// What this step brings about.
    pub(super) out: Vec<Notice>,
    /// Calls that have ended: not to be remembered any more.
    pub(super) ended: Vec<(Arc<str>, Arc<str>)>,
    /// Sentences for events.
    pub(super) told: Vec<String>,
}

/// Everything that telling needs to know beside its own state.
#[derive(Clone, Copy, Debug)]
pub(super) struct At<'a> {
    pub plan: &'a NoticesPlan,
    pub site: &'a Arc<str>,
    pub now: Now,
}

impl Notices {
    pub fn new(plan: &NoticesPlan, now: Now) -> Self {
        let mut notices = Self {
            returned: vec![0; plan.routes.len()],
            tests: vec![None; plan.routes.len()],
            ..Self::default()
        };
        notices.time_tests(plan, now);
        notices
    }

    fn time_tests(&mut self, plan: &NoticesPlan, now: Now) {
        for (test, route) in self.tests.iter_mut().zip(&plan.routes) {
            let wait = |time| until_time(time, now.utc, &plan.timezone);
            *test = route.daily_test.and_then(wait).map(|wait| now.up + wait);
        }
    }

    /// The wall clock was stepped: what hangs on the time of the day is timed anew.
    pub(super) fn clock_stepped(&mut self, at: At<'_>) {
        self.time_tests(at.plan, at.now);
        for leg in self.calls.iter_mut().flat_map(|call| &mut call.legs) {
            if leg.for_hours {
                let wait = at.plan.closed_for(leg.route, at.now.utc);
                leg.next = Some(at.now.up + wait.unwrap_or_default());
            }
        }
    }

    pub(in crate::engine) fn due(&self, plan: &NoticesPlan) -> Option<Duration> {
        let calls = self.calls.iter().filter_map(Call::due);
        let tests = self.tests.iter().flatten().copied();
        let flood = self.flood.end(&plan.flood);
        let others = flood.into_iter().chain(self.digest_due);
        calls.chain(tests).chain(others).min()
    }

    /// An alarm annunciates.
    pub(super) fn annunciate(&mut self, at: At<'_>, of: Annunciation) {
        if self.flood.note(&at.plan.flood, at.now.up) {
            self.told.push(words::flood_begins(at.plan));
        }
        let place = match self.find(&of.tank, &of.code) {
            Some(place) => {
                let call = &mut self.calls[place];
                (call.returned, call.changed) = (false, true);
                call.of = of;
                place
            }
            None => {
                self.calls.push(Call::new(of));
                self.calls.len() - 1
            }
        };
        for route in 0..at.plan.routes.len() {
            let of = &self.calls[place].of;
            if at.plan.routes[route].tells(&of.tank, of.priority) {
                self.join(at, place, route);
            }
        }
        let call = &self.calls[place];
        for leg in 0..call.legs.len() {
            self.tell_again(at, place, leg);
        }
        if self.calls[place].legs.is_empty() {
            self.calls.remove(place);
        }
    }

    fn join(&mut self, at: At<'_>, place: usize, route: usize) {
        let call = &mut self.calls[place];
        if call.leg(route).is_some() {
            return;
        }
        let mut leg = Leg::new(route);
        // Told in this step, unless its hours have yet to begin.
        let wait = at.plan.closed_for(route, at.now.utc);
        leg.for_hours = wait.is_some();
        leg.next = Some(at.now.up + wait.unwrap_or_default());
        // Whoever comes next is told in time, whether or not somebody is in his hours before.
        let escalation = at.plan.routes[route].escalation;
        leg.escalate = escalation.map(|next| at.now.up + next.after);
        call.legs.push(leg);
    }

    /// A leg of an alarm that has just annunciated: at once, but not more often than once in a while.
    fn tell_again(&mut self, at: At<'_>, place: usize, leg: usize) {
        let of_leg = &mut self.calls[place].legs[leg];
        if of_leg.for_hours {
            return;
        }
        let earliest = of_leg.told_up.map(|told| told + AGAIN_AFTER);
        match earliest.filter(|earliest| *earliest > at.now.up) {
            Some(earliest) => {
                of_leg.next = Some(of_leg.next.map_or(earliest, |next| next.min(earliest)));
            }
            None => self.tell(at, place, leg, NoticeKind::Alarm),
        }
    }

    /// Somebody has answered it, or something hides it.
    pub(super) fn end(&mut self, tank: &str, code: &str) {
        if let Some(place) = self.find(tank, code) {
            let call = self.calls.remove(place);
            self.ended.push((call.of.tank, call.of.code));
        }
    }

    /// The process is back to normal, and nobody has answered.
    pub(super) fn returned(&mut self, at: At<'_>, tank: &str, code: &str) {
        let Some(place) = self.find(tank, code) else {
            return;
        };
        let call = &mut self.calls[place];
        let is_told = std::mem::replace(&mut call.returned_told, true);
        (call.returned, call.changed) = (true, true);
        for leg in 0..call.legs.len() {
            let of_leg = &self.calls[place].legs[leg];
            if of_leg.told == 0 || is_told {
                continue;
            }
            if self.is_gathered(place) {
                self.returned[of_leg.route] += 1;
                self.want_digest(at);
            } else {
                self.issue(at, place, leg, NoticeKind::Returned);
            }
        }
        let call = &mut self.calls[place];
        call.legs
            .retain(|leg| at.plan.routes[leg.route].until == Until::Acknowledged);
        if call.legs.is_empty() {
            self.end(tank, code);
        }
    }

    /// What time alone brings about.
    pub(super) fn let_time_tell(&mut self, at: At<'_>) {
        let up = at.now.up;
        for place in 0..self.calls.len() {
            for leg in 0..self.calls[place].legs.len() {
                self.tend(at, place, leg);
            }
        }
        if self.flood.ends(&at.plan.flood, up) {
            self.told.push(words::flood_ends(at.plan));
            self.send_digests(at);
            self.digest_due = None;
        } else if self.digest_due.is_some_and(|due| due <= up) {
            self.send_digests(at);
            self.digest_due = self
                .flood
                .is_on()
                .then_some(up + at.plan.flood.digest_every);
        }
        for route in 0..self.tests.len() {
            if self.tests[route].is_some_and(|due| due <= up) {
                self.test(at, RouteId(route as u32), None);
                self.time_tests(at.plan, at.now);
            }
        }
    }

    fn tend(&mut self, at: At<'_>, place: usize, leg: usize) {
        let up = at.now.up;
        let is_due = |due: Option<Duration>| due.is_some_and(|due| due <= up);
        if is_due(self.calls[place].legs[leg].escalate) {
            self.escalate(at, place, leg);
        }
        let of_leg = &mut self.calls[place].legs[leg];
        if !is_due(of_leg.next) {
            return;
        }
        if let Some(wait) = at.plan.closed_for(of_leg.route, at.now.utc) {
            (of_leg.next, of_leg.for_hours) = (Some(up + wait), true);
            return;
        }
        let kind = match of_leg.told {
            0 => NoticeKind::Alarm,
            _ => NoticeKind::Repeat,
        };
        self.tell(at, place, leg, kind);
    }

    /// Tells the next in the chain who is in his hours; where nobody is, the last: better woken than not.
    pub(super) fn escalate(&mut self, at: At<'_>, place: usize, leg: usize) {
        let of_leg = &mut self.calls[place].legs[leg];
        of_leg.escalate = None;
        if std::mem::replace(&mut of_leg.escalated, true) {
            return;
        }
        let mut last = None;
        let is_open = |id: &RouteId| {
            last = Some(*id);
            at.plan.closed_for(id.index(), at.now.utc).is_none()
        };
        let found = at.plan.chain(RouteId(of_leg.route as u32)).find(is_open);
        let Some(target) = found.or(last) else { return };
        let call = &mut self.calls[place];
        call.changed = true;
        let leg = match call.leg(target.index()) {
            Some(leg) => leg,
            None => {
                call.legs.push(Leg::new(target.index()));
                call.legs.len() - 1
            }
        };
        self.tell(at, place, leg, NoticeKind::Escalated);
    }

    fn tell(&mut self, at: At<'_>, place: usize, leg: usize, kind: NoticeKind) {
        let is_gathered = self.is_gathered(place);
        let call = &mut self.calls[place];
        (call.changed, call.returned_told) = (true, call.returned);
        let of_leg = &mut call.legs[leg];
        of_leg.tell(&at.plan.routes[of_leg.route], at.now.up);
        if is_gathered {
            of_leg.waiting = true;
            self.want_digest(at);
        } else {
            self.issue(at, place, leg, kind);
        }
    }

    /// While there is a flood all but the highest priority goes into digests.
    fn is_gathered(&self, place: usize) -> bool {
        self.flood.is_on() && self.calls[place].of.priority != Priority::Highest
    }

    fn want_digest(&mut self, at: At<'_>) {
        self.digest_due
            .get_or_insert(at.now.up + at.plan.flood.digest_every);
    }

    /// One notice to each recipient of a leg's route.
    fn issue(&mut self, at: At<'_>, place: usize, leg: usize, kind: NoticeKind) {
        let (call, of_leg) = (&self.calls[place], &self.calls[place].legs[leg]);
        let notice = words::of_call(at, call, of_leg, kind);
        let of = &call.of;
        let about = (Arc::clone(&of.tank), Arc::clone(&of.code), of.activation);
        self.post(at, of_leg.route, notice, Some(about));
    }

    /// Tries the way to a route's recipients; `by`: who asks for it, or the daily test.
    pub(super) fn test(&mut self, at: At<'_>, route: RouteId, by: Option<&str>) {
        let notice = words::of_test(at, route.index(), by);
        self.post(at, route.index(), notice, None);
    }

    /// Gives the next numbers, one a recipient; answers with the first.
    pub(super) fn post(
        &mut self,
        at: At<'_>,
        route: usize,
        notice: Notice,
        about: Option<(Arc<str>, Arc<str>, u64)>,
    ) -> u64 {
        let group = self.last + 1;
        for recipient in &at.plan.routes[route].recipients {
            self.last += 1;
            self.pending.push(Pending {
                id: self.last,
                group,
                recipient: recipient.0,
                route,
                kind: notice.kind,
                about: about.clone(),
                other_told: false,
            });
            self.out
                .push(words::numbered(at, &notice, self.last, *recipient));
        }
        group
    }

    /// The oldest of too many whose outcome nobody has told.
    pub(super) fn beyond_bounds(&self) -> Option<NoticeId> {
        let is_beyond = self.pending.len() > MOST_PENDING;
        is_beyond.then(|| NoticeId(self.pending[0].id))
    }

    pub(super) fn find(&self, tank: &str, code: &str) -> Option<usize> {
        self.calls.iter().position(|call| call.is_of(tank, code))
    }
}

impl Pending {
    pub fn recipient(&self) -> RecipientId {
        RecipientId(self.recipient)
    }
}
