//! What must survive a restart, and how it is taken up: repeats and escalations go on where they stood, and
//! what was under way is sent again under its number.

use super::call::{Annunciation, Call, Leg, Pending};
use super::engine::at;
use super::plan::RouteId;
use super::state::{At, Notices};
use super::words::{self, later};
use super::{NoticeKind, RecipientId};
use crate::engine::memory::{CallMemory, LegMemory, Memory, Remembered, RememberedKind};
use crate::engine::step::Engine;
use crate::engine::{Effect, Now};
use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

impl Notices {
    pub(super) fn has_changed(&self) -> bool {
        !self.ended.is_empty() || self.calls.iter().any(|call| call.changed)
    }

    fn memory(&self, at: At<'_>, call: &Call) -> CallMemory {
        let of = &call.of;
        let time = |due: Option<Duration>| due.map(|due| later(at, due));
        let about = |one: &&Pending| {
            let about = one.about.as_ref();
            about.is_some_and(|(tank, code, _)| call.is_of(tank, code))
        };
        let under_way = self.pending.iter().filter(about);
        CallMemory {
            tank: Arc::clone(&of.tank),
            code: Arc::clone(&of.code),
            activation: of.activation,
            since: of.since,
            what: Arc::clone(&of.what),
            test: of.test,
            returned: call.returned,
            legs: call
                .legs
                .iter()
                .map(|leg| LegMemory {
                    notice: Arc::clone(&at.plan.routes[leg.route].name),
                    told: leg.told,
                    next: time(leg.next),
                    for_hours: leg.for_hours,
                    escalate: time(leg.escalate),
                    escalated: leg.escalated,
                    waiting: leg.waiting || leg.digest.is_some(),
                })
                .collect(),
            under_way: under_way
                .map(|one| {
                    let route = &at.plan.routes[one.route];
                    let to = &at.plan.recipients[one.recipient().index()];
                    (one.id, Arc::clone(&route.name), Arc::clone(to))
                })
                .collect(),
        }
    }

    /// A call as it was; what its routes are not any more is left out.
    fn take_up(&mut self, at: At<'_>, kept: &CallMemory, of: Annunciation) {
        let mut call = Call::new(of);
        (call.returned, call.returned_told) = (kept.returned, kept.returned);
        for leg in &kept.legs {
            let Some(route) = at.plan.route_named(&leg.notice) else {
                continue;
            };
            let plan = at.plan.route(route);
            let due =
                |time: Option<Timestamp>, longest| time.map(|time| resumed(at.now, time, longest));
            let after = plan.escalation.map(|next| next.after);
            call.legs.push(Leg {
                told: leg.told,
                // Where the site file has no repeat any more, nothing is repeated.
                next: due(leg.next, plan.repeat)
                    .filter(|_| leg.told == 0 || leg.for_hours || plan.repeat.is_some()),
                for_hours: leg.for_hours,
                escalate: due(leg.escalate, after).filter(|_| after.is_some()),
                escalated: leg.escalated,
                waiting: leg.waiting,
                ..Leg::new(route.index())
            });
        }
        let is_waiting = call.legs.iter().any(|leg| leg.waiting);
        self.calls.push(call);
        if is_waiting {
            self.digest_due.get_or_insert(at.now.up);
        }
        let place = self.calls.len() - 1;
        for (id, route, to) in &kept.under_way {
            let recipient = at.plan.recipients.iter().position(|one| one == to);
            let route = at.plan.route_named(route);
            if let Some((recipient, route)) = recipient.zip(route) {
                self.send_again(at, place, *id, route, RecipientId(recipient as u32));
            }
        }
    }

    fn send_again(&mut self, at: At<'_>, place: usize, id: u64, route: RouteId, to: RecipientId) {
        let call = &self.calls[place];
        let Some(leg) = call.leg(route.index()) else {
            return;
        };
        let kind = match call.returned {
            true => NoticeKind::Returned,
            false => NoticeKind::Alarm,
        };
        let of = &call.of;
        let about = (Arc::clone(&of.tank), Arc::clone(&of.code), of.activation);
        let notice = words::of_call(at, call, &call.legs[leg], kind);
        let notice = words::again(words::numbered(at, &notice, id, to));
        self.pending.push(Pending {
            id,
            group: id,
            recipient: to.0,
            route: route.index(),
            kind,
            about: Some(about),
            other_told: false,
        });
        self.out.push(notice);
    }
}

/// When it is due now: never later than counted from the start, in case the clock was set back.
fn resumed(now: Now, time: Timestamp, longest: Option<Duration>) -> Duration {
    let wait = Duration::try_from(time.duration_since(now.utc)).unwrap_or_default();
    now.up + longest.map_or(wait, |longest| wait.min(longest))
}

impl Engine {
    /// After the alarms have been taken up: every one that waits for an answer is told on.
    pub(in crate::engine) fn take_up_notices(&mut self, memory: &Memory) {
        let plan = Arc::clone(&self.plan);
        let mut calls = Vec::new();
        for (_, remembered) in &memory.remembered {
            match remembered {
                Remembered::Notices(kept) => self.notices.last = kept.last,
                Remembered::Call(call) => calls.push(call),
                _ => {}
            }
        }
        if plan.notices.routes.is_empty() {
            return;
        }
        let at = at(&plan, self.last);
        for kept in &calls {
            match self.annunciated(&kept.tank, &kept.code, Some(kept)) {
                Some(of) => self.notices.take_up(at, kept, of),
                None => {
                    let key = (Arc::clone(&kept.tank), Arc::clone(&kept.code));
                    self.notices.ended.push(key);
                }
            }
        }
        for (tank, code, kept) in &memory.alarms {
            let is_new = !calls
                .iter()
                .any(|call| *call.tank == **tank && *call.code == **code);
            if is_new
                && kept.activation.is_some()
                && let Some(of) = self.annunciated(tank, code, None)
            {
                self.notices.annunciate(at, of);
            }
        }
    }

    /// An alarm that still waits for an answer, as it is told.
    fn annunciated(
        &self,
        tank: &str,
        code: &str,
        kept: Option<&CallMemory>,
    ) -> Option<Annunciation> {
        let at = self.plan.find_alarm(tank, code)?;
        let (plan, alarm) = (self.plan.alarm_at(at), self.alarm_at(at));
        let activation = alarm.activation();
        let is_same = kept.is_none_or(|kept| activation == Some(kept.activation));
        if !alarm.state().needs_acknowledgement() || !is_same {
            return None;
        }
        Some(Annunciation {
            tank: self.plan.alarm_owner(at),
            title: self.plan.alarm_title(at),
            code: Arc::clone(&plan.code),
            priority: plan.priority,
            record: Arc::clone(&plan.record),
            activation: activation?,
            since: kept.map_or(alarm.since()?, |kept| kept.since),
            what: kept.map_or("unanswered since before the start".into(), |kept| {
                Arc::clone(&kept.what)
            }),
            test: kept.is_some_and(|kept| kept.test),
        })
    }

    pub(super) fn remember_calls(&mut self, at: At<'_>, effects: &mut Vec<Effect>) {
        let forget = |(tank, code): (Arc<str>, Arc<str>)| Effect::Remember {
            kind: RememberedKind::Call,
            of: name(&tank, &code),
            memory: None,
        };
        effects.extend(
            std::mem::take(&mut self.notices.ended)
                .into_iter()
                .map(forget),
        );
        for place in 0..self.notices.calls.len() {
            if !std::mem::take(&mut self.notices.calls[place].changed) {
                continue;
            }
            let call = &self.notices.calls[place];
            effects.push(Effect::Remember {
                kind: RememberedKind::Call,
                of: name(&call.of.tank, &call.of.code),
                memory: Some(Remembered::Call(self.notices.memory(at, call))),
            });
        }
    }
}

fn name(tank: &str, code: &str) -> Arc<str> {
    format!("{tank} {code}").into()
}
