//! What came of a script against what is expected of it.
//!
//! What always holds: an expectation about a time in which nothing was seen is not met. A command that was
//! refused, or done though it should be refused, counts as an expectation that is not met.

use super::script::expect::{Mode, Subject};
use super::script::{Expectation, Script, shown};
use super::trace::{Answered, Found, Moment, Trace};
use crate::engine::alarm::AlarmState;
use crate::engine::checks::finding::{Confidence, Fault};
use crate::engine::{Done, EventKind};
use crate::site::Site;
use std::time::Duration;

/// One expectation, and whether it is met.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Of the script.
    pub line: usize,
    pub expected: String,
    pub met: bool,
    /// What there is to see instead, or to prove it.
    pub found: String,
    /// Where to look.
    pub at: Duration,
    /// The moments around it; empty where it is met.
    pub around: Vec<(Duration, String)>,
}

/// What was found, where, and whether that is as expected.
struct Verdict {
    met: bool,
    at: Duration,
    found: String,
}

pub fn judge(site: &Site, script: &Script, trace: &Trace) -> Vec<Judged> {
    let expectations = script.expectations.iter();
    let judged = expectations.map(|expectation| {
        let view = View {
            site,
            trace,
            expectation,
            from: expectation.from,
            to: expectation.to.unwrap_or(trace.last),
        };
        let verdict = view.verdict();
        Judged {
            line: script.line(&expectation.place),
            expected: expectation.to_string(),
            around: match verdict.met {
                true => Vec::new(),
                false => around(site, trace, expectation.subject.tank(), verdict.at),
            },
            met: verdict.met,
            found: verdict.found,
            at: verdict.at,
        }
    });
    let answers = trace.answers.iter();
    let unlike = answers.filter(|one| one.answer.is_err() != one.asked.refused);
    let unlike = unlike.map(|one| of_answer(site, script, trace, one));
    judged.chain(unlike).collect()
}

fn of_answer(site: &Site, script: &Script, trace: &Trace, answered: &Answered) -> Judged {
    let (expected, found) = match &answered.answer {
        Ok(Done(text)) => ("refused", format!("it was done: {text}")),
        Err(refusal) => ("done", format!("it was refused: {refusal}")),
    };
    let said = &answered.asked.said;
    Judged {
        line: script.line(&answered.asked.place),
        expected: format!("command {said} is {expected} at {}", shown(answered.at)),
        met: false,
        found,
        at: answered.at,
        around: around(site, trace, None, answered.at),
    }
}

/// One expectation beside what came.
struct View<'a> {
    site: &'a Site,
    trace: &'a Trace,
    expectation: &'a Expectation,
    from: Duration,
    to: Duration,
}

impl View<'_> {
    fn verdict(&self) -> Verdict {
        match &self.expectation.subject {
            Subject::Alarm { tank, code, state } => self.alarm(&tank.name, code, *state),
            Subject::Level { tank, within } => self.moments(&tank.name, |moment| {
                let level_m = moment.level_m?;
                Some((level_m - moment.true_m).abs() <= within.value)
            }),
            Subject::Interface { tank, within } => self.moments(&tank.name, |moment| {
                let (shown_m, true_m) = moment.interface_m?;
                Some((shown_m? - true_m).abs() <= within.value)
            }),
            Subject::LevelOff { tank, least, most } => self.moments(&tank.name, |moment| {
                let off_m = moment.level_m? - moment.true_m;
                Some((least.value..=most.value).contains(&off_m))
            }),
            Subject::Quality { tank, quality } => {
                self.moments(&tank.name, |moment| Some(moment.quality == *quality))
            }
            Subject::Reason { tank, reason } => {
                self.moments(&tank.name, |moment| Some(moment.reasons.has(*reason)))
            }
            Subject::Event { kind, tank, text } => {
                let tank = tank.as_ref().map(|tank| tank.name.as_str());
                self.event(*kind, tank, text.as_deref())
            }
            Subject::Finding {
                tank,
                fault,
                confidence,
            } => self.finding(&tank.name, *fault, *confidence),
        }
    }

    fn is_within(&self, at: Duration) -> bool {
        (self.from..=self.to).contains(&at)
    }

    /// Spans in which something is so, in their order: met or not, and where that shows.
    fn spans(&self, spans: &[(Duration, Duration)]) -> (bool, Duration) {
        match self.expectation.mode {
            Mode::Comes => {
                let came = spans.iter().find(|(from, _)| self.is_within(*from));
                (came.is_some(), came.map_or(self.to, |(from, _)| *from))
            }
            Mode::Holds => {
                let held =
                    |(from, to): &&(Duration, Duration)| *from <= self.from && self.from < *to;
                match spans.iter().find(held) {
                    None => (false, self.from),
                    Some((_, to)) => (*to >= self.to, (*to).min(self.to)),
                }
            }
            Mode::Never => {
                let overlaps =
                    |(from, to): &&(Duration, Duration)| *from <= self.to && *to > self.from;
                let was = spans.iter().find(overlaps);
                (
                    was.is_none(),
                    was.map_or(self.to, |(from, _)| (*from).max(self.from)),
                )
            }
        }
    }

    /// Since when what was to come was so already when its time began.
    fn was_so_before(&self, spans: &[(Duration, Duration)]) -> Option<Duration> {
        let at_begin = |(from, to): &&(Duration, Duration)| *from < self.from && self.from < *to;
        let already = spans.iter().find(at_begin).map(|(from, _)| *from);
        already.filter(|_| self.expectation.mode == Mode::Comes)
    }

    fn alarm(&self, tank: &str, code: &str, state: AlarmState) -> Verdict {
        let mut spans = Vec::new();
        let (mut since, mut now) = (Duration::ZERO, AlarmState::Normal);
        for change in self.trace.changes(tank, code) {
            if now == state {
                spans.push((since, change.at));
            }
            (since, now) = (change.at, change.to);
        }
        if now == state {
            spans.push((since, Duration::MAX));
        }
        if state == AlarmState::Normal && self.expectation.mode == Mode::Comes {
            // What it was from the start on did not come.
            spans.retain(|(from, _)| !from.is_zero());
        }
        let (met, at) = self.spans(&spans);
        let history: Vec<String> = self
            .trace
            .changes(tank, code)
            .map(|change| format!("{} at {}", change.to.code(), shown(change.at)))
            .collect();
        let mut found = match history.is_empty() {
            true => "it stays NORM".to_owned(),
            false => format!("it comes to {}", history.join(", ")),
        };
        if !met && let Some(since) = self.was_so_before(&spans) {
            found += &so_already(since);
        }
        Verdict { met, at, found }
    }

    /// Readings of a tank; a test that has no answer for one fails.
    fn moments(&self, tank: &str, test: impl Fn(&Moment) -> Option<bool>) -> Verdict {
        let place = self.tank(tank);
        let all = &self.trace.moments[place];
        let within = || all.iter().filter(|moment| self.is_within(moment.at));
        let so = |moment: &Moment| test(moment) == Some(true);
        let Some(first) = within().next() else {
            return Verdict {
                met: false,
                at: self.from,
                found: "there is no reading in that time".to_owned(),
            };
        };
        let shown_at = match self.expectation.mode {
            Mode::Comes => {
                let pairs = all.iter().zip(all.iter().skip(1));
                let comes = pairs
                    .filter(|(before, now)| !so(before) && so(now) && self.is_within(now.at))
                    .map(|(_, now)| now);
                let comes = comes.chain(
                    all.first()
                        .filter(|first| self.is_within(first.at) && so(first)),
                );
                comes
                    .min_by_key(|moment| moment.at)
                    .map(|moment| (true, moment))
            }
            Mode::Holds => within()
                .find(|moment| !so(moment))
                .map(|moment| (false, moment)),
            Mode::Never => within()
                .find(|moment| so(moment))
                .map(|moment| (false, moment)),
        };
        let otherwise = (self.expectation.mode != Mode::Comes, first);
        let (met, moment) = shown_at.unwrap_or(otherwise);
        let count = within().count();
        let found = match (shown_at.is_some(), met) {
            (true, _) => format!(
                "at {} it is {}{}",
                shown(moment.at),
                told(moment),
                self.off(moment)
            ),
            (false, true) => format!("so in {count} readings"),
            (false, false) if so(first) => {
                let before = all.iter().rev().skip_while(|moment| moment.at > first.at);
                let since = before.take_while(|moment| so(moment)).last();
                let since = since.map_or(first.at, |moment| moment.at);
                format!("it does not come in that time{}", so_already(since))
            }
            (false, false) => format!("in none of {count} readings"),
        };
        Verdict {
            met,
            at: moment.at,
            found,
        }
    }

    /// How far the shown is from the true, where that is what is judged.
    fn off(&self, moment: &Moment) -> String {
        let off_m = match &self.expectation.subject {
            Subject::Level { .. } | Subject::LevelOff { .. } => {
                moment.level_m.map(|level_m| level_m - moment.true_m)
            }
            Subject::Interface { .. } => moment
                .interface_m
                .and_then(|(shown_m, true_m)| Some(shown_m? - true_m)),
            _ => None,
        };
        off_m.map_or(String::new(), |off_m| {
            format!(": {:+.2} mm off", off_m * 1e3)
        })
    }

    fn event(&self, kind: EventKind, tank: Option<&str>, text: Option<&str>) -> Verdict {
        let mut came = self.trace.events.iter().filter(|told| {
            let event = &told.event;
            self.is_within(told.at)
                && event.kind == kind
                && tank.is_none_or(|tank| event.tank.as_deref() == Some(tank))
                && text.is_none_or(|text| event.text.contains(text))
        });
        let wanted = self.expectation.mode != Mode::Never;
        match came.next() {
            Some(told) => Verdict {
                met: wanted,
                at: told.at,
                found: format!("at {}: {}", shown(told.at), told.event.text),
            },
            None => Verdict {
                met: !wanted,
                at: self.to,
                found: "there is none".to_owned(),
            },
        }
    }

    fn finding(&self, tank: &str, fault: Fault, confidence: Confidence) -> Verdict {
        let place = self.tank(tank);
        let is_it = |found: &&Found| {
            found.tank == place && found.fault == fault && found.confidence >= confidence
        };
        // One that only grew surer, or less sure, goes on.
        let mut spans: Vec<(Duration, Duration)> = Vec::new();
        for found in self.trace.found.iter().filter(is_it) {
            let to = found.to.unwrap_or(Duration::MAX);
            match spans.last_mut() {
                Some(last) if last.1 == found.from => last.1 = to,
                _ => spans.push((found.from, to)),
            }
        }
        let (met, at) = self.spans(&spans);
        let all = self.trace.found.iter().filter(|found| found.tank == place);
        let all: Vec<String> = all
            .map(|found| {
                let (name, sure) = (found.fault.name(), found.confidence.name());
                let to = found
                    .to
                    .map_or(String::new(), |to| format!(" to {}", shown(to)));
                format!("{sure} \"{name}\" from {}{to}", shown(found.from))
            })
            .collect();
        let mut found = match all.is_empty() {
            true => "nothing is found of this tank".to_owned(),
            false => all.join(", "),
        };
        if !met && let Some(since) = self.was_so_before(&spans) {
            found += &so_already(since);
        }
        Verdict { met, at, found }
    }

    fn tank(&self, name: &str) -> usize {
        let tanks = &self.site.plan.tanks;
        let place = tanks.iter().position(|tank| *tank.name == *name);
        place.expect("every tank of a script was checked against the site")
    }
}

/// Why something that is there does not count.
fn so_already(since: Duration) -> String {
    let since = shown(since);
    format!(
        "; it was so before already, from {since} on, and `between` and `before` ask when it comes: `while` asks whether it holds"
    )
}

fn told(moment: &Moment) -> String {
    let reasons: Vec<&str> = moment.reasons.iter().map(|reason| reason.text()).collect();
    match reasons.is_empty() {
        true => moment.words(),
        false => format!("{} ({})", moment.words(), reasons.join(", ")),
    }
}

/// How far around a moment is shown, and how many events of it at most.
const AROUND: Duration = Duration::from_secs(60);
const MOST_EVENTS: usize = 8;

/// Events near a moment, and the level shown beside the true one.
fn around(site: &Site, trace: &Trace, tank: Option<&str>, at: Duration) -> Vec<(Duration, String)> {
    let near = |other: Duration| other.abs_diff(at);
    let events = trace.events.iter().filter(|told| {
        let owner = told.event.tank.as_deref();
        near(told.at) <= AROUND && (tank.is_none() || owner.is_none() || owner == tank)
    });
    let mut events: Vec<_> = events.collect();
    events.sort_by_key(|told| near(told.at));
    events.truncate(MOST_EVENTS);
    let events = events.into_iter().map(|told| (told.at, told.words()));
    let place = tank.and_then(|tank| site.plan.tanks.iter().position(|plan| *plan.name == *tank));
    let moments = place.map_or(&[][..], |place| &trace.moments[place]);
    let offsets = [-10_i64, -2, 0, 2, 10];
    let mut places: Vec<usize> = offsets
        .into_iter()
        .filter_map(|offset| {
            let wanted = at.as_millis() as i64 + offset * 1000;
            let after = moments.partition_point(|moment| (moment.at.as_millis() as i64) < wanted);
            (after < moments.len()).then_some(after)
        })
        .collect();
    places.dedup();
    let readings = places
        .into_iter()
        .map(|place| (moments[place].at, told(&moments[place])));
    let mut all: Vec<(Duration, String)> = events.chain(readings).collect();
    all.sort_by_key(|(at, _)| *at);
    all
}
