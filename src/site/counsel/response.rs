//! Whether the operator has the time that the alarm's record promises.
//!
//! `V(limit) + Qmax·(respond_within + on-delay + poll + damping + notice) + U(V)` must stay within `V(critical high)`;
//! a low alarm is its mirror image. A notice counts until the last person that it goes on to is told, as if nobody
//! before answered; how long an e-mail is on its way the file does not know.

use super::finding::Notes;
use super::marks::behind;
use super::tank::{Advised, Threshold};
use super::words::{cubic_metres, duration, flow, metres, time};
use crate::engine::notice::{NoticesPlan, RouteId};
use crate::engine::plan::Priority;
use crate::engine::tank::level_range;
use std::time::Duration;

const NO_RESPONSE: &str = "no-response";
const TOO_LATE: &str = "too-late-to-respond";
const UNKNOWN: &str = "flow-unknown";

pub fn advise(on: &Advised<'_>, notes: &mut Notes<'_>) {
    for (place, alarm) in on.alarms() {
        if alarm.record.response.is_none() {
            let what = format!(
                "{} has no response: what is the operator to do?",
                alarm.code
            );
            let why = "an alarm that asks for nothing teaches people to answer without looking";
            let cure = "add response = \"Close the inlet valve\", or take the alarm out and let it be seen on the page";
            notes.add(on.finding_at(NO_RESPONSE, (place, ""), notes, what, why, cure));
        }
    }
    let mut is_told = false;
    for threshold in on.thresholds.clone() {
        let Some(protected) = protected(on, threshold) else {
            continue;
        };
        match available(on, threshold, protected.level_m) {
            Some(available) => judge(on, threshold, protected, available, notes),
            // Once a tank.
            None if !is_told && protected.is_marked => {
                is_told = unknown(on, threshold, protected, notes);
            }
            None => {}
        }
    }
}

/// The level that an alarm is to keep away from.
#[derive(Clone, Copy)]
struct Protected {
    name: &'static str,
    level_m: f64,
    /// It is a mark, and not the vessel's top.
    is_marked: bool,
}

fn protected(on: &Advised<'_>, threshold: Threshold) -> Option<Protected> {
    let gives_level = on.nominal.as_ref().is_some_and(|of| of.gives_level());
    if !gives_level || behind(on, threshold).is_some() {
        return None;
    }
    let marks = &on.tank.marks;
    let marked = |name, level: Option<crate::quantity::Length>| {
        level.map(|level| Protected {
            name,
            level_m: level.value,
            is_marked: true,
        })
    };
    if !threshold.is_high {
        return marked("critical_low", marks.critical_low).or(marked("heel", marks.heel));
    }
    let top = Protected {
        name: "the vessel's top",
        level_m: level_range(on.tank).1.value,
        is_marked: false,
    };
    marked("critical_high", marks.critical_high)
        .or(marked("overflow", marks.overflow))
        .or(Some(top))
}

/// What there is between a limit and what it protects.
struct Available {
    /// V(protected) − V(limit), mirrored for a low alarm.
    room_m3: f64,
    uncertainty_m3: Option<f64>,
    flow_m3_s: f64,
    /// On-delay, one poll and the damping.
    late: Duration,
    /// Until the last person of its notice is told.
    notice: Duration,
}

impl Available {
    /// What is left of the time for the operator, s.
    fn seconds(&self) -> f64 {
        let room_m3 = self.room_m3 - self.uncertainty_m3.unwrap_or(0.0);
        room_m3 / self.flow_m3_s - self.before_response().as_secs_f64()
    }

    fn before_response(&self) -> Duration {
        self.late + self.notice
    }
}

fn available(on: &Advised<'_>, threshold: Threshold, protected_m: f64) -> Option<Available> {
    let nominal = on.nominal.as_ref()?;
    let flow_m3_s = match threshold.is_high {
        true => on.fill_m3_s,
        false => on.draw_m3_s,
    }?;
    let volume = |level_m: f64| nominal.volume_and_area(level_m).0;
    let leading = &on.plan.transmitters[nominal.hookup.hookup.leading().index()];
    let alarm = on.alarm(threshold);
    Some(Available {
        room_m3: (volume(protected_m) - volume(threshold.level_m)).abs(),
        uncertainty_m3: nominal.volume_uncertainty_m3(threshold.level_m),
        flow_m3_s,
        late: alarm.on_delay + leading.poll_every + leading.damping,
        notice: notice(&on.plan.notices, &on.tank.name, alarm.priority),
    })
}

/// How long until the last person is told, if nobody answers before; of several notices the one that is through
/// first.
fn notice(plan: &NoticesPlan, tank: &str, priority: Priority) -> Duration {
    let telling = (0_u32..).zip(&plan.routes);
    let telling = telling.filter(|(_, route)| route.tells(tank, priority));
    let through = telling.map(|(place, _)| {
        let first = RouteId(place);
        let steps = std::iter::once(first).chain(plan.chain(first));
        let steps = steps.filter_map(|id| plan.route(id).escalation);
        steps.map(|escalation| escalation.after).sum()
    });
    through.min().unwrap_or_default()
}

fn judge(
    on: &Advised<'_>,
    threshold: Threshold,
    protected: Protected,
    available: Available,
    notes: &mut Notes<'_>,
) {
    let alarm = on.alarm(threshold);
    let needed = alarm.record.respond_within;
    // To the millisecond: what is left is no rounder than that.
    if needed.unwrap_or_default().as_secs_f64() <= available.seconds() + 1e-3 {
        return;
    }
    let left = time(available.seconds());
    let what = match needed {
        Some(needed) => format!(
            "{} leaves {left} of the {} that its operator is promised",
            alarm.code,
            duration(needed)
        ),
        None => format!(
            "{} comes too late for anybody to respond: it leaves {left}",
            alarm.code
        ),
    };
    let (side, way) = match threshold.is_high {
        true => ("in", "filled"),
        false => ("out", "drawn"),
    };
    let uncertain = match available.uncertainty_m3 {
        Some(u_m3) => format!("U(V) {}", cubic_metres(u_m3)),
        None => "U(V) not known from the file alone".to_owned(),
    };
    let told = match available.notice.is_zero() {
        true => String::new(),
        false => format!(
            ", {} until the last person of its notice is told",
            duration(available.notice)
        ),
    };
    let why = format!(
        "from {} to {} at {} there are {}; at the {} that can flow {side} they are {way} in {}, less {} for on-delay, \
         poll and damping{told}, and {uncertain}",
        metres(threshold.level_m),
        protected.name,
        metres(protected.level_m),
        cubic_metres(available.room_m3),
        flow(available.flow_m3_s, on.show.flow),
        time(available.room_m3 / available.flow_m3_s),
        duration(available.late),
    );
    let cure = cure(on, threshold, protected, &available);
    notes.add(on.finding(TOO_LATE, threshold, notes, what, why, cure));
}

/// Where the limit would have to be.
fn cure(
    on: &Advised<'_>,
    threshold: Threshold,
    protected: Protected,
    available: &Available,
) -> String {
    let alarm = on.alarm(threshold);
    let late_s = (alarm.record.respond_within.unwrap_or_default() + available.before_response())
        .as_secs_f64();
    let needed_m3 = available.flow_m3_s * late_s + available.uncertainty_m3.unwrap_or(0.0);
    let nominal = on
        .nominal
        .as_ref()
        .expect("without it no time would have been worked out");
    let (protected_m3, _) = nominal.volume_and_area(protected.level_m);
    let limit_m3 = match threshold.is_high {
        true => protected_m3 - needed_m3,
        false => protected_m3 + needed_m3,
    };
    let (empty_m3, full_m3) = (
        on.tank.vessel.volume(on.tank.vessel.bottom()).value,
        on.tank.vessel.capacity().value,
    );
    let alone = "promise what is left, or have an independent protection act: what is shorter than a person's way is \
                 a trip's work";
    if limit_m3 <= empty_m3 || limit_m3 >= full_m3 {
        return format!("no limit in this vessel leaves that much; {alone}");
    }
    // Down to the centimetre on the safe side.
    let limit_m = nominal.level_of_volume(limit_m3);
    let (side, limit_m) = match threshold.is_high {
        true => ("below", (limit_m * 100.0).floor() / 100.0),
        false => ("above", (limit_m * 100.0).ceil() / 100.0),
    };
    format!(
        "a level of {} or {side} would leave it; else {alone}",
        metres(limit_m)
    )
}

/// A promise that can't be checked.
fn unknown(
    on: &Advised<'_>,
    threshold: Threshold,
    protected: Protected,
    notes: &mut Notes<'_>,
) -> bool {
    let alarm = on.alarm(threshold);
    let Some(needed) = alarm.record.respond_within else {
        return false;
    };
    let (side, verb, direction) = match threshold.is_high {
        true => ("in", "fills", "in"),
        false => ("out", "empties", "out"),
    };
    let what = format!(
        "whether {} leaves its operator {} can't be said: nothing tells how fast the tank {verb}",
        alarm.code,
        duration(needed)
    );
    let why = format!(
        "there are {} between its limit and {}",
        volume_between(on, threshold, protected.level_m),
        protected.name
    );
    let cure = format!(
        "add the most that can flow {side}: [[tank.stream]] with direction = \"{direction}\" and at_most = \"40 m3/h\""
    );
    notes.add(on.finding(UNKNOWN, threshold, notes, what, why, cure));
    true
}

fn volume_between(on: &Advised<'_>, threshold: Threshold, protected_m: f64) -> String {
    let nominal = on.nominal.as_ref();
    nominal.map_or_else(String::new, |nominal| {
        let volume = |level_m: f64| nominal.volume_and_area(level_m).0;
        cubic_metres((volume(protected_m) - volume(threshold.level_m)).abs())
    })
}
