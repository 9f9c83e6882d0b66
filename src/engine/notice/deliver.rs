//! What became of notices: told people are facts of the journal, and who could not be told makes the next
//! one be told at once.

use super::call::Pending;
use super::state::{At, Notices};
use super::{NoticeId, NoticeKind, Outcome};
use crate::quantity::span;
use std::sync::Arc;

/// An outcome as an event tells it.
#[derive(Debug)]
pub(super) struct Told {
    pub recipient: Arc<str>,
    pub tank: Option<Arc<str>>,
    pub code: Option<Arc<str>>,
    pub text: String,
    pub failed: bool,
}

impl Notices {
    /// None of a number that nobody waits for.
    pub(super) fn delivered(
        &mut self,
        at: At<'_>,
        id: NoticeId,
        outcome: &Outcome,
    ) -> Option<Told> {
        let place = self.pending.iter().position(|one| one.id == id.0)?;
        let pending = self.pending.remove(place);
        self.mark(&pending);
        let is_told = *outcome == Outcome::Delivered;
        if is_told {
            self.unreached.remove(&pending.recipient);
            self.settle_digest(pending.group);
        } else {
            self.unreached.insert(pending.recipient);
        }
        let mut others = self
            .pending
            .iter_mut()
            .filter(|one| one.group == pending.group)
            .peekable();
        let is_last = others.peek().is_none();
        others.for_each(|one| one.other_told |= is_told);
        let nobody = !is_told && is_last && !pending.other_told;
        let next = nobody.then(|| self.escalate_undelivered(at, &pending));
        Some(told(at, &pending, outcome, next))
    }

    fn mark(&mut self, pending: &Pending) {
        let of = pending.about.as_ref();
        if let Some(place) = of.and_then(|(tank, code, _)| self.find(tank, code)) {
            self.calls[place].changed = true;
        }
    }

    fn settle_digest(&mut self, group: u64) {
        for call in &mut self.calls {
            for leg in call.legs.iter_mut().filter(|leg| leg.digest == Some(group)) {
                (leg.digest, call.changed) = (None, true);
            }
        }
    }

    /// Nobody of a route could be told: whoever comes next is, without waiting. Answers with his name.
    fn escalate_undelivered(&mut self, at: At<'_>, pending: &Pending) -> Option<Arc<str>> {
        let is_meant = |place: &usize| {
            let call = &self.calls[*place];
            match &pending.about {
                Some((tank, code, _)) => call.is_of(tank, code),
                None => pending.kind == NoticeKind::Digest,
            }
        };
        let next = at.plan.routes[pending.route].escalation?.to;
        let places: Vec<usize> = (0..self.calls.len()).filter(is_meant).collect();
        let mut any = false;
        for place in places {
            let call = &mut self.calls[place];
            let Some(leg) = call.leg(pending.route) else {
                continue;
            };
            let of_leg = &mut call.legs[leg];
            if pending.kind == NoticeKind::Digest && of_leg.digest != Some(pending.group) {
                continue;
            }
            of_leg.digest = None;
            any |= !of_leg.escalated;
            self.escalate(at, place, leg);
        }
        any.then(|| Arc::clone(&at.plan.route(next).name))
    }
}

/// `next`: nobody of the route could be told, and who is told instead, if anybody.
fn told(at: At<'_>, pending: &Pending, outcome: &Outcome, next: Option<Option<Arc<str>>>) -> Told {
    let route = &at.plan.routes[pending.route];
    let recipient = Arc::clone(&at.plan.recipients[pending.recipient().index()]);
    let about = pending.about.as_ref();
    let activation = about.map(|(_, _, activation)| format!(" of activation {activation}"));
    let what = format!(
        "notice {} ({}, {}){}",
        pending.id,
        route.name,
        pending.kind.name(),
        activation.unwrap_or_default()
    );
    let text = match outcome {
        Outcome::Delivered => format!("{what} was taken by the server of {recipient}"),
        Outcome::Failed(why) => {
            let follows = match (next, route.repeat) {
                (None, _) => String::new(),
                (Some(Some(next)), _) => format!("; \"{next}\" is told at once"),
                (Some(None), Some(every)) if about.is_some() => {
                    format!(
                        "; nobody else is told, it is sent again after {}",
                        span(every)
                    )
                }
                (Some(None), _) => "; nobody else is told".to_owned(),
            };
            format!("{what} did not reach {recipient}: {why}{follows}")
        }
    };
    Told {
        recipient,
        tank: about.map(|(tank, ..)| Arc::clone(tank)),
        code: about.map(|(_, code, _)| Arc::clone(code)),
        text,
        failed: *outcome != Outcome::Delivered,
    }
}
