//! What a notice says, for a person at three in the morning: what, since when, what to do, what follows.

use super::call::{Call, Leg};
use super::plan::{NoticesPlan, RouteId};
use super::state::At;
use super::{NextTold, Notice, NoticeAlarm, NoticeId, NoticeKind, RecipientId};
use crate::engine::event::TEST_MARK;
use crate::engine::plan::Priority;
use crate::quantity::{Timestamp, span};
use jiff::tz::TimeZone;
use std::fmt::Write;
use std::sync::Arc;
use std::time::Duration;

/// A digest names so many alarms one by one.
const MOST_NAMED: usize = 40;

/// Stands under every notice.
const CAUTION: &str = "This message is no guaranteed path to a person, and silence does not mean that all is well. \
Not a safety instrumented system; local codes and licensed practice decide. Nothing may be controlled by it.";

/// Of one alarm.
pub(super) fn of_call(at: At<'_>, call: &Call, leg: &Leg, kind: NoticeKind) -> Notice {
    let of = &call.of;
    let next = next_told(at, leg);
    let state = match (call.returned, kind) {
        (true, _) => "returned to normal, not acknowledged",
        (false, NoticeKind::Repeat) => "still active, not acknowledged",
        (false, NoticeKind::Escalated) => "nobody has acknowledged it yet",
        (false, _) => "active, not acknowledged",
    };
    let word = match kind {
        NoticeKind::Returned => "RETURNED",
        NoticeKind::Escalated => "ESCALATED",
        NoticeKind::Repeat => "AGAIN",
        _ => "ALARM",
    };
    let subject = format!(
        "{word} {}: {} {} {}",
        of.priority.name(),
        of.tank,
        of.code,
        of.what
    );
    let mut text = String::new();
    let title = match *of.title == *of.tank {
        true => of.tank.to_string(),
        false => format!("{} ({})", of.title, of.tank),
    };
    line(
        &mut text,
        "Alarm",
        &format!("{title} {}, priority {}", of.code, of.priority.name()),
    );
    line(&mut text, "State", state);
    line(&mut text, "What", &of.what);
    line(&mut text, "Since", &clock(of.since, &at.plan.timezone));
    let record = &of.record;
    for (name, said) in [
        ("Cause", &record.cause),
        ("Consequence", &record.consequence),
        ("Response", &record.response),
    ] {
        if let Some(said) = said {
            line(&mut text, name, said);
        }
    }
    if let Some(within) = record.respond_within.filter(|_| !call.returned) {
        line(&mut text, "Time left", &time_left(at, of.since, within));
    }
    text.push('\n');
    line(
        &mut text,
        "Acknowledge",
        &format!(
            "standpipe ack SITE-FILE {} {} --activation {} --by YOUR-NAME",
            of.tank, of.code, of.activation
        ),
    );
    let wait = leg.next.map(|next| later(at, next));
    let follows = match (&next, wait) {
        (Some(next), _) => format!(
            "\"{}\" is told at {}",
            next.to,
            clock(next.at, &at.plan.timezone)
        ),
        (None, Some(again)) => format!("this is sent again at {}", clock(again, &at.plan.timezone)),
        (None, None) => "nobody else is told and nothing is sent again".to_owned(),
    };
    line(&mut text, "No answer", &follows);
    Notice {
        subject: marked(of.test, subject),
        text,
        priority: of.priority,
        test: of.test,
        alarms: vec![call.alarm()],
        escalation: next,
        ..blank(at, leg.route, kind)
    }
}

/// Of several alarms: those that are new first, by priority; `open`: all that wait for an answer.
pub(super) fn of_digest(
    at: At<'_>,
    route: usize,
    new: &[&Call],
    returned: u32,
    open: usize,
) -> Notice {
    let count = |priority| {
        new.iter()
            .filter(|call| call.of.priority == priority)
            .count()
    };
    let counts: Vec<String> = [
        Priority::Highest,
        Priority::High,
        Priority::Medium,
        Priority::Low,
    ]
    .into_iter()
    .filter(|priority| count(*priority) > 0)
    .map(|priority| format!("{} {}", count(priority), priority.name()))
    .collect();
    let first = new.first().map(|call| {
        let of = &call.of;
        format!("; first {} {} {}", of.tank, of.code, of.what)
    });
    let test = !new.is_empty() && new.iter().all(|call| call.of.test);
    let subject = format!(
        "FLOOD {} alarms ({}){}",
        new.len(),
        counts.join(", "),
        first.unwrap_or_default()
    );
    let mut text = format!(
        "There is a flood of alarms: they come together, the most urgent first. The highest priority still comes \
         one by one.\n\nNew or unanswered: {}. Returned to normal since the last digest: {returned}. Waiting for \
         an answer in all: {open}.\n\n",
        new.len()
    );
    for call in new.iter().take(MOST_NAMED) {
        let of = &call.of;
        let back = if call.returned {
            ", back to normal"
        } else {
            ""
        };
        let mark = if of.test { TEST_MARK } else { "" };
        // Writing into a text cannot fail.
        let _ = writeln!(
            text,
            "{mark}{:<8} {} {} since {}: {}{back}{}",
            of.priority.name(),
            of.tank,
            of.code,
            clock(of.since, &at.plan.timezone),
            of.what,
            of.record
                .response
                .as_ref()
                .map_or_else(String::new, |response| format!(". Response: {response}"))
        );
    }
    if let Some(more) = new.len().checked_sub(MOST_NAMED).filter(|more| *more > 0) {
        let _ = writeln!(text, "and {more} more of no higher priority");
    }
    text.push('\n');
    line(
        &mut text,
        "Acknowledge",
        "standpipe ack SITE-FILE TANK CODE --by YOUR-NAME, each alarm by itself",
    );
    if let Some(next) = at.plan.routes[route].escalation {
        let name = &at.plan.route(next.to).name;
        let follows = format!(
            "\"{name}\" is told of each {} after it came",
            span(next.after)
        );
        line(&mut text, "No answer", &follows);
    }
    let alarms: Vec<NoticeAlarm> = new
        .iter()
        .take(MOST_NAMED)
        .map(|call| call.alarm())
        .collect();
    Notice {
        subject: marked(test, subject),
        text,
        priority: alarms.first().map_or(Priority::Low, |alarm| alarm.priority),
        test,
        alarms,
        ..blank(at, route, NoticeKind::Digest)
    }
}

/// Of the way itself.
pub(super) fn of_test(at: At<'_>, route: usize, by: Option<&str>) -> Notice {
    let asked = match by {
        Some(by) => format!("{by} has asked for it"),
        None => "it is sent every day at this time".to_owned(),
    };
    let text = format!(
        "A test of the way to you: {asked}. Nothing is wrong. If one that is due does not come, the way is broken: \
         look after it.\n"
    );
    Notice {
        subject: marked(true, format!("notice \"{}\"", at.plan.routes[route].name)),
        text,
        test: true,
        priority: Priority::Low,
        ..blank(at, route, NoticeKind::Test)
    }
}

/// The same notice for one recipient, with its number; signed with what always has to be said.
pub(super) fn numbered(at: At<'_>, notice: &Notice, number: u64, recipient: RecipientId) -> Notice {
    let to = Arc::clone(&at.plan.recipients[recipient.index()]);
    let text = format!(
        "{}\nNotice {number} of {}, {}, to {to} by \"{}\".\n{CAUTION}\n",
        notice.text,
        at.site,
        clock(notice.time, &at.plan.timezone),
        notice.route
    );
    Notice {
        id: NoticeId(number),
        recipient,
        subject: format!("{}: {}", at.site, notice.subject),
        to,
        text,
        ..notice.clone()
    }
}

/// After a restart: perhaps it has arrived before.
pub(super) fn again(notice: Notice) -> Notice {
    let number = notice.id.0;
    Notice {
        again: true,
        text: format!(
            "{}Sent again after a restart: one with the number {number} may have come before.\n",
            notice.text
        ),
        ..notice
    }
}

pub(super) fn flood_begins(plan: &NoticesPlan) -> String {
    let flood = &plan.flood;
    format!(
        "a flood of alarms begins: {} within {}; notices are gathered into a digest every {}, but for the highest priority",
        flood.begins_at,
        span(flood.within),
        span(flood.digest_every)
    )
}

pub(super) fn flood_ends(plan: &NoticesPlan) -> String {
    let flood = &plan.flood;
    format!(
        "the flood of alarms is over: fewer than {} within {}; notices go out one by one again",
        flood.ends_below,
        span(flood.within)
    )
}

fn blank(at: At<'_>, route: usize, kind: NoticeKind) -> Notice {
    Notice {
        id: NoticeId(0),
        recipient: RecipientId(0),
        to: "".into(),
        route: Arc::clone(&at.plan.routes[route].name),
        time: at.now.utc,
        kind,
        test: false,
        again: false,
        priority: Priority::Low,
        subject: String::new(),
        text: String::new(),
        alarms: Vec::new(),
        escalation: None,
    }
}

fn marked(test: bool, subject: String) -> String {
    match test {
        true => format!("{TEST_MARK}{subject}"),
        false => subject,
    }
}

pub(super) fn next_told(at: At<'_>, leg: &Leg) -> Option<NextTold> {
    let to = at.plan.route(RouteId(leg.route as u32)).escalation?.to;
    Some(NextTold {
        to: Arc::clone(&at.plan.route(to).name),
        at: later(at, leg.escalate?),
    })
}

/// The wall clock's time of a moment to come.
pub(super) fn later(at: At<'_>, up: Duration) -> Timestamp {
    let wait = up.saturating_sub(at.now.up);
    at.now.utc.checked_add(wait).unwrap_or(Timestamp::MAX)
}

fn time_left(at: At<'_>, since: Timestamp, within: Duration) -> String {
    let end = since.checked_add(within).unwrap_or(Timestamp::MAX);
    let left = Duration::try_from(end.duration_since(at.now.utc)).unwrap_or_default();
    let until = clock(end, &at.plan.timezone);
    if left.is_zero() {
        return format!("none: the {} to respond ended at {until}", span(within));
    }
    let left = match left.as_secs() {
        seconds @ 0..=119 => format!("{seconds} s"),
        seconds => format!("{} min", seconds / 60),
    };
    format!("{left} of {}, until {until}", span(within))
}

/// "Wed 4 Mar 03:12:05 GMT", by the site's clocks.
fn clock(moment: Timestamp, timezone: &TimeZone) -> String {
    let zoned = moment.to_zoned_datetime(timezone.clone());
    zoned.strftime("%a %-d %b %H:%M:%S %Z").to_string()
}

/// "Name:        said"; texts of the site file stay on one line.
fn line(text: &mut String, name: &str, said: &str) {
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let name = format!("{name}:");
    // Writing into a text cannot fail.
    let _ = writeln!(text, "{name:<13}{said}");
}
