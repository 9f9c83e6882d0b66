//! The rows of a recording through the engine, in the recording's own time.
//!
//! The engine starts with the first row. Between two rows time goes by as it does live: what is due is told
//! to the engine at its moment, so that a gap makes values stale.
//!
//! No link is said to be up: an empty cell may be a device that was silent or one that was not asked, so the alarms
//! of links and devices stay out of it, and a level that cannot be measured shows by itself.

use super::manual::{Comparison, Manual};
use super::tally::Tally;
use super::{RecordingError, Row, Rows};
use crate::engine::notice::NoticesPlan;
use crate::engine::{CommandId, Effect, Engine, Event, Input, Now, Plan, TankId};
use crate::quantity::Timestamp;
use crate::wire::ReplayForm;
use jiff::tz::TimeZone;
use std::io::{self, Read};
use std::sync::Arc;
use std::time::Duration;

/// The part of a recording that is replayed: from a time on, and before another.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Window {
    pub from: Option<Timestamp>,
    pub to: Option<Timestamp>,
}

/// What is told while a replay runs, in order.
#[derive(Clone, Copy, Debug)]
pub enum Told<'a> {
    /// A row has been read.
    Row(Row<'a>),
    /// A tank has a new reading; the engine has it.
    Reading(TankId, &'a Engine),
    Event(&'a Event),
    /// All of it has gone through.
    End(&'a Engine),
}

/// Whoever is told; what goes wrong there ends the replay.
pub type Onlooker<'a> = &'a mut dyn FnMut(Told<'_>) -> io::Result<()>;

/// Feeds all rows to an engine of that plan; the summary is all but how long it took.
pub fn replay<R: Read>(
    plan: &Plan,
    mut rows: Rows<R>,
    manual: Option<Manual>,
    window: Window,
    told: Onlooker<'_>,
) -> Result<ReplayForm, RecordingError> {
    let mut tally = Tally::new(plan);
    let mut manual = Comparison::new(manual);
    let mut run: Option<Run> = None;
    let patience = rows.patience();
    while let Some(row) = rows.next_row()? {
        told(Told::Row(row))?;
        if window.from.is_some_and(|from| row.time < from) {
            tally.left_out += 1;
            continue;
        }
        if window.to.is_some_and(|to| row.time >= to) {
            break;
        }
        let run = match &mut run {
            Some(run) => run,
            None => run.insert(Run::start(plan, row.time, &mut tally, told)?),
        };
        while let Some(entry) = manual.before(row.time)? {
            let is_early = entry.time < run.start;
            if !is_early {
                run.pass(entry.time, &mut tally, told)?;
            }
            let seen = entry.command(plan);
            manual.compare(entry, |tank| run.level_m(tank).filter(|_| !is_early));
            if !is_early {
                run.step(Input::Command(CommandId(0), seen), &mut tally, told)?;
            }
        }
        let gap = tally.last.map(|last| row.time.duration_since(last));
        if gap.is_some_and(|gap| gap > patience) {
            tally.after_a_gap += 1;
        }
        run.pass(row.time, &mut tally, told)?;
        run.step(Input::Read(row.samples, row.contacts), &mut tally, told)?;
        tally.rows += 1;
        tally.first.get_or_insert(row.time);
        tally.last = Some(row.time);
    }
    // Those of the last row's own moment; of later ones nothing is known.
    let last = tally.last;
    while let Some(entry) = manual.next()? {
        let in_time = run
            .as_ref()
            .filter(|_| last.is_some_and(|last| entry.time <= last));
        manual.compare(entry, |tank| in_time.and_then(|run| run.level_m(tank)));
    }
    if let Some(run) = &run {
        told(Told::End(&run.engine))?;
    }
    Ok(ReplayForm {
        columns_ignored: rows.ignored().to_vec(),
        tags_missing: rows.missing().to_vec(),
        manual: manual.forms(plan),
        last_line_cut: rows.is_cut(),
        ..tally.form(plan)
    })
}

/// The plan of a site whose recording holds a row only so often: nothing is stale before three of them are
/// missing.
pub fn polled_every(plan: &mut Plan, every: Duration) {
    for link in &mut plan.links {
        link.poll_every = link.poll_every.max(every);
    }
    for transmitter in &mut plan.transmitters {
        transmitter.poll_every = transmitter.poll_every.max(every);
        transmitter.uncertain_after = transmitter.uncertain_after.max(3 * every);
        transmitter.bad_after = transmitter.bad_after.max(3 * every);
    }
    for contact in &mut plan.contacts {
        contact.poll_every = contact.poll_every.max(every);
        contact.uncertain_after = contact.uncertain_after.max(3 * every);
        contact.bad_after = contact.bad_after.max(3 * every);
    }
}

/// An engine in the recording's time.
struct Run {
    engine: Engine,
    effects: Vec<Effect>,
    start: Timestamp,
    now: Now,
}

impl Run {
    fn start(
        plan: &Plan,
        start: Timestamp,
        tally: &mut Tally,
        told: Onlooker<'_>,
    ) -> Result<Self, RecordingError> {
        let mut plan = plan.clone();
        plan.age_on(TimeZone::UTC.to_datetime(start).date());
        // Nobody is told of what is past.
        plan.notices = NoticesPlan::default();
        let now = Now {
            up: Duration::ZERO,
            utc: start,
        };
        let mut effects = Vec::new();
        let engine = Engine::start(Arc::new(plan), None, now, &mut effects);
        let mut run = Self {
            engine,
            effects,
            start,
            now,
        };
        run.tell(tally, told)?;
        Ok(run)
    }

    /// Lets time go by up to a moment: what is due before it is told at its own moment.
    fn pass(
        &mut self,
        to: Timestamp,
        tally: &mut Tally,
        told: Onlooker<'_>,
    ) -> Result<(), RecordingError> {
        let since = to.duration_since(self.start);
        let up = Duration::try_from(since).expect("rows and entries come in the order of time");
        // Where a tick leaves something due that was due already, time alone cannot do it.
        let mut left_undone = None;
        while let Some(due) = self.engine.due().filter(|due| *due < up) {
            if left_undone == Some(due) {
                break;
            }
            let at = due.max(self.now.up);
            left_undone = (due <= self.now.up).then_some(due);
            self.now = Now {
                up: at,
                utc: self.start + at,
            };
            self.step(Input::Tick, tally, told)?;
        }
        self.now = Now { up, utc: to };
        Ok(())
    }

    fn step(
        &mut self,
        input: Input<'_>,
        tally: &mut Tally,
        told: Onlooker<'_>,
    ) -> Result<(), RecordingError> {
        self.engine.step(self.now, input, &mut self.effects);
        self.tell(tally, told)
    }

    fn tell(&mut self, tally: &mut Tally, told: Onlooker<'_>) -> Result<(), RecordingError> {
        for effect in self.effects.drain(..) {
            match effect {
                Effect::Event(event) => {
                    tally.event(&event);
                    told(Told::Event(&event))?;
                }
                Effect::Reading(tank) => {
                    let reading = self.engine.reading(tank);
                    tally.reading(tank, reading);
                    told(Told::Reading(tank, &self.engine))?;
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn level_m(&self, tank: TankId) -> Option<f64> {
        let reading = self.engine.reading(tank);
        reading.level.map(|level| level.value)
    }
}
