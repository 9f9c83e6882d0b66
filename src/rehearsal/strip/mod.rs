//! A rehearsal as one picture: each tank's level, true and shown, its limits, the states of its alarms, what was
//! found and done, and what was expected. SVG, readable in light and dark, without scripts.

mod columns;
mod lanes;
mod panel;
mod pen;
mod scale;

pub use columns::Columns;

use super::script::{Script, shown};
use super::trace::Trace;
use super::{Expectation, Judged, Outcome};
use crate::engine::EventKind;
use crate::engine::alarm::AlarmState;
use crate::engine::event::SYSTEM;
use crate::engine::plan::AlarmPlan;
use crate::site::Site;
use lanes::{Bar, EXPECTED, LANE, expected, lane};
use pen::{Anchor, Pen};
use scale::{Along, RIGHT};
use std::time::Duration;

const WIDTH: f64 = RIGHT + 190.0;
/// Where the first panel begins.
const HEAD: f64 = 118.0;
const BETWEEN: f64 = 30.0;
/// What is less is noise, or a tank at rest, m.
const MOVES: f64 = 0.002;

/// The picture of a script that was played with its strips kept.
pub fn strip(site: &Site, script: &Script, trace: &Trace, judged: &[Judged]) -> String {
    let mut drawing = Drawing {
        site,
        script,
        trace,
        judged,
        along: Along { last: trace.last },
        pen: Pen::default(),
        top: HEAD,
    };
    drawing.head();
    let (lively, still): (Vec<usize>, Vec<usize>) =
        (0..site.plan.tanks.len()).partition(|place| drawing.is_lively(*place));
    for place in lively {
        drawing.tank(place);
    }
    drawing.system();
    drawing.foot(&still);
    let outcome = Outcome::of(judged.iter());
    let size = (WIDTH, drawing.top + 16.0);
    drawing.pen.finish(
        size,
        &format!("{}: {}", site.plan.site, script.path().display()),
        &format!("Levels, true and shown, limits, alarm states of a rehearsal on the SIMULATED plant. {outcome}"),
    )
}

struct Drawing<'a> {
    site: &'a Site,
    script: &'a Script,
    trace: &'a Trace,
    judged: &'a [Judged],
    along: Along,
    pen: Pen,
    /// Where the next thing begins.
    top: f64,
}

impl Drawing<'_> {
    fn head(&mut self) {
        let name = self.script.path().file_name().unwrap_or_default();
        let title = format!("{} · {}", self.site.plan.site, name.to_string_lossy());
        let pen = &mut self.pen;
        pen.text("title", (20.0, 32.0), Anchor::Start, &title);
        let outcome = Outcome::of(self.judged.iter());
        let class = if outcome.is_failed() { "failed" } else { "" };
        pen.text(
            class,
            (WIDTH - 20.0, 32.0),
            Anchor::End,
            &outcome.to_string(),
        );
        let about = format!(
            "Rehearsal on the SIMULATED plant: no test of real transmitters, lines or people. \
             Begins {}, lasts {}, seed {}.",
            self.script.begins,
            shown(self.trace.last),
            self.script.seed
        );
        pen.text("quiet", (20.0, 52.0), Anchor::Start, &about);
        self.legend(76.0);
    }

    fn legend(&mut self, y: f64) {
        let pen = &mut self.pen;
        let mut x = 20.0;
        let mut entry = |pen: &mut Pen, class: &str, path: String, text: &str| {
            pen.path(class, &path);
            pen.text("small", (x + 32.0, y + 4.0), Anchor::Start, text);
            x += 46.0 + pen::width(text, 11.0);
            x
        };
        let box_at = |x: f64| format!("M{x} {}h26v12h-26Z", y - 6.0);
        let line_at = |x: f64| format!("M{x} {y}h26");
        let mut next = entry(pen, "water", box_at(20.0), "true level");
        for (class, text) in [
            ("pen", "shown, good"),
            ("pen doubted", "shown, uncertain"),
            ("bound", "known from one side only"),
            ("limit", "limit"),
        ] {
            next = entry(pen, class, line_at(next), text);
        }
        for (class, text) in [
            ("band", "deadband"),
            ("doubt", "uncertain"),
            ("bad", "bad: no level is shown"),
        ] {
            next = entry(pen, class, box_at(next), text);
        }
    }

    /// Whether anything happened to a tank, or was expected of it.
    fn is_lively(&self, place: usize) -> bool {
        let name = &*self.site.plan.tanks[place].name;
        let named = self
            .script
            .tanks
            .iter()
            .any(|start| start.tank.name == name);
        let mut events = self.trace.events.iter();
        let alarmed = events.any(|told| {
            told.event.kind == EventKind::Alarm && told.event.tank.as_deref() == Some(name)
        });
        let found = self.trace.found.iter().any(|found| found.tank == place);
        let moved = self.trace.strips[place].moved() > MOVES;
        named || alarmed || found || moved || self.expected_of(Some(name)).next().is_some()
    }

    /// What is judged of a tank; with none, of everything else.
    fn expected_of(
        &self,
        tank: Option<&str>,
    ) -> impl Iterator<Item = (&Judged, Option<&Expectation>)> {
        let expectations = self.script.expectations.iter().map(Some);
        let both = self
            .judged
            .iter()
            .zip(expectations.chain(std::iter::repeat(None)));
        let is_tank = |name: &str| (self.site.plan.tanks.iter()).any(|plan| *plan.name == *name);
        both.filter(move |(_, expectation)| {
            let about = expectation.and_then(|one| one.subject.tank());
            about.filter(|name| is_tank(name)) == tank
        })
    }

    fn tank(&mut self, place: usize) {
        let plan = &self.site.plan.tanks[place];
        let (name, title) = (plan.name.to_string(), &plan.title);
        let heading = match **title == *name {
            true => name.clone(),
            false => format!("{title} ({name})"),
        };
        self.heading(&heading);
        let columns = &self.trace.strips[place];
        let unit = self.site.show.level;
        let outside = panel::level(&mut self.pen, self.along, self.top, plan, columns, unit);
        self.top += panel::HEIGHT;
        if let Some(outside) = outside {
            let at = (RIGHT, self.top + 13.0);
            self.pen.text("small quiet", at, Anchor::End, &outside);
            self.top += 17.0;
        }
        self.top += 4.0;
        let qualities = columns.qualities().into_iter();
        let bars: Vec<Bar> = qualities
            .filter_map(|(from, to, quality)| Bar::of_quality(from, to, quality))
            .collect();
        self.lane("quality", &bars);
        self.alarms(&name, &plan.alarms);
        let found = self.trace.found.iter().filter(|found| found.tank == place);
        let bars: Vec<Bar> = found
            .map(|found| {
                let to = found.to.unwrap_or(self.trace.last);
                let what = found.confidence.name();
                Bar::new(found.from, to, "found", found.fault.name(), what)
            })
            .collect();
        if !bars.is_empty() {
            self.lane("found", &bars);
        }
        self.happened(Some(&name));
        self.judgements(Some(&name));
        self.time();
    }

    /// What belongs to no tank, where there is any.
    fn system(&mut self) {
        let before = (self.pen.clone(), self.top);
        self.heading("System, and the whole site");
        let begun = self.top;
        let alarms: Vec<AlarmPlan> = self.site.plan.system.clone();
        self.links();
        self.alarms(SYSTEM, &alarms);
        self.happened(None);
        self.judgements(None);
        if self.top > begun {
            self.time();
        } else {
            (self.pen, self.top) = before;
        }
    }

    fn heading(&mut self, text: &str) {
        self.pen.text("tank", (20.0, self.top), Anchor::Start, text);
        self.top += 12.0;
    }

    fn lane(&mut self, name: &str, bars: &[Bar]) {
        lane(&mut self.pen, self.along, self.top, name, bars);
        self.top += LANE;
    }

    /// The states of those alarms that had another than normal.
    fn alarms(&mut self, tank: &str, alarms: &[AlarmPlan]) {
        for alarm in alarms {
            let mut bars = Vec::new();
            let (mut since, mut state) = (Duration::ZERO, AlarmState::Normal);
            for change in self.trace.changes(tank, &alarm.code) {
                bars.extend(Bar::of_state(since, change.at, state));
                (since, state) = (change.at, change.to);
            }
            bars.extend(Bar::of_state(since, self.trace.last, state));
            if !bars.is_empty() {
                self.lane(&alarm.code, &bars);
            }
        }
    }

    /// When a link was down.
    fn links(&mut self) {
        for link in &self.site.plan.links {
            let events = self.trace.events.iter().filter(|told| {
                told.event.kind == EventKind::Link && told.event.code.as_deref() == Some(&link.name)
            });
            let (mut bars, mut down) = (Vec::new(), None);
            for told in events {
                match (told.event.text.starts_with("link is down"), down) {
                    (true, None) => down = Some(told.at),
                    (false, Some(since)) => {
                        bars.push(Bar::new(since, told.at, "bad", "down", "no answer"));
                        down = None;
                    }
                    _ => {}
                }
            }
            let last = self.trace.last;
            bars.extend(down.map(|since| Bar::new(since, last, "bad", "down", "no answer")));
            if !bars.is_empty() {
                self.lane(&link.name, &bars);
            }
        }
    }

    /// What people did, and what else there is to tell; of a tank, or of no tank.
    fn happened(&mut self, tank: Option<&str>) {
        let events = self.trace.events.iter().map(|told| (told.at, &told.event));
        let events: Vec<_> = events
            .filter(|(_, event)| {
                let own = event.tank.as_deref();
                let is_tank =
                    |name: &&str| (self.site.plan.tanks.iter()).any(|plan| *plan.name == **name);
                own.filter(is_tank) == tank
            })
            .collect();
        let by_people = events.iter().filter_map(|(at, event)| {
            let person = event.person.as_deref()?;
            let what = event.code.as_deref().unwrap_or(event.kind.name());
            let to = event
                .to
                .map_or(String::new(), |to| format!(" {}", to.code()));
            Some(Bar::new(
                *at,
                *at,
                "solid",
                &format!("{person}: {what}{to}"),
                &event.text,
            ))
        });
        let mut people: Vec<Bar> = by_people.collect();
        let answers = self.trace.answers.iter().filter(|_| tank.is_none());
        people.extend(answers.filter_map(|one| {
            let refusal = one.answer.as_ref().err()?;
            Some(Bar::new(
                one.at,
                one.at,
                "solid",
                "refused",
                &refusal.to_string(),
            ))
        }));
        people.sort_by_key(|bar| bar.from);
        let told = events.iter().filter(|(_, event)| {
            let silent = [
                EventKind::Alarm,
                EventKind::Quality,
                EventKind::Link,
                EventKind::Start,
                EventKind::Notice,
                EventKind::Diagnosis,
            ];
            event.person.is_none() && !silent.contains(&event.kind)
        });
        let told: Vec<Bar> = told
            .map(|(at, event)| Bar::new(*at, *at, "solid", event.kind.name(), &event.text))
            .collect();
        for (name, bars) in [("people", people), ("events", told)] {
            if !bars.is_empty() {
                self.lane(name, &bars);
            }
        }
    }

    fn judgements(&mut self, tank: Option<&str>) {
        let all: Vec<(Judged, Option<Expectation>)> = self
            .expected_of(tank)
            .map(|(judged, expectation)| (judged.clone(), expectation.cloned()))
            .collect();
        self.top += if all.is_empty() { 0.0 } else { 4.0 };
        for (judged, expectation) in &all {
            expected(
                &mut self.pen,
                self.along,
                self.top,
                judged,
                expectation.as_ref(),
            );
            self.top += EXPECTED;
        }
    }

    fn time(&mut self) {
        self.top += 6.0;
        panel::time(&mut self.pen, self.along, self.top, shown);
        self.top += BETWEEN + 22.0;
    }

    fn foot(&mut self, still: &[usize]) {
        let names: Vec<&str> = still
            .iter()
            .map(|place| &*self.site.plan.tanks[*place].name)
            .collect();
        if !names.is_empty() {
            let text = format!(
                "Not drawn, since nothing happens to them: {}.",
                names.join(", ")
            );
            self.pen
                .text("small quiet", (20.0, self.top), Anchor::Start, &text);
            self.top += 16.0;
        }
        let caution = "Not a safety instrumented system; local codes and licensed practice decide. \
             A rehearsal replaces no test on the plant.";
        self.pen
            .text("small quiet", (20.0, self.top), Anchor::Start, caution);
    }
}
