//! Many scripts on one site, side by side, and what there is to report of each.

use super::trace::Told;
use super::{Coverage, Judged, Keep, Script, judge, play_telling, strip};
use crate::site::Site;
use crate::site::problem::Problems;
use crate::wire::EventForm;
use crate::wire::rehearsal::{AroundForm, ExpectationForm, RehearsedForm, ToldForm};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// How often a script that is played says how far it is, in its own time.
const TOLD_EVERY: Duration = Duration::from_secs(600);

/// A script that was played to its end.
#[derive(Clone, Debug)]
pub struct Rehearsed {
    pub script: PathBuf,
    pub seed: u64,
    pub last: Duration,
    /// How many commands were given.
    pub commands: usize,
    pub judged: Vec<Judged>,
    pub coverage: Coverage,
    pub events: Vec<Told>,
    /// Its picture as SVG, where that was asked for.
    pub strip: Option<String>,
}

/// How scripts are rehearsed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Manner {
    /// How many at once.
    pub jobs: usize,
    pub keep: Keep,
}

/// How far scripts have been played: it grows while they are.
#[derive(Debug, Default)]
pub struct Progress(AtomicU64);

impl Progress {
    /// Of all of them together, in their own time.
    pub fn played(&self) -> Duration {
        Duration::from_millis(self.0.load(Ordering::Relaxed))
    }

    fn add(&self, more: Duration) {
        let more = u64::try_from(more.as_millis()).unwrap_or(u64::MAX);
        self.0.fetch_add(more, Ordering::Relaxed);
    }
}

impl Manner {
    pub fn by(jobs: usize) -> Self {
        let keep = Keep::Named;
        Self { jobs, keep }
    }
}

impl Rehearsed {
    pub fn of(
        site: &Site,
        script: &Script,
        keep: Keep,
        progress: &Progress,
    ) -> Result<Self, Problems> {
        let mut told = Duration::ZERO;
        let trace = play_telling(site, script, keep, |up| {
            if up >= told + TOLD_EVERY {
                progress.add(up - told);
                told = up;
            }
        })?;
        progress.add(trace.last.saturating_sub(told));
        let judged = judge(site, script, &trace);
        Ok(Self {
            strip: (keep == Keep::Strips).then(|| strip(site, script, &trace, &judged)),
            script: script.path().to_owned(),
            seed: script.seed,
            last: trace.last,
            commands: trace.answers.len(),
            judged,
            coverage: trace.coverage,
            events: trace.events,
        })
    }

    pub fn is_met(&self) -> bool {
        self.judged.iter().all(|judged| judged.met)
    }

    /// `events`: with all that it told.
    pub fn form(&self, events: bool) -> RehearsedForm {
        let expectation = |judged: &Judged| ExpectationForm {
            line: judged.line,
            expected: judged.expected.clone(),
            met: judged.met,
            found: judged.found.clone(),
            at_s: judged.at.as_secs_f64(),
            around: judged
                .around
                .iter()
                .map(|(at, text)| AroundForm {
                    at_s: at.as_secs_f64(),
                    text: text.clone(),
                })
                .collect(),
        };
        RehearsedForm {
            script: self.script.display().to_string(),
            seed: self.seed,
            last_s: self.last.as_secs_f64(),
            met: self.is_met(),
            commands: self.commands,
            expectations: self.judged.iter().map(expectation).collect(),
            events: events.then(|| {
                let events = self.events.iter();
                events
                    .map(|told| ToldForm {
                        at_s: told.at.as_secs_f64(),
                        event: EventForm::new(&told.event),
                    })
                    .collect()
            }),
        }
    }
}

/// Plays scripts on a site; what comes is in their order, however many are played at once.
pub fn rehearse(
    site: &Site,
    scripts: &[Script],
    manner: Manner,
    progress: &Progress,
) -> Vec<Result<Rehearsed, Problems>> {
    let (next, done) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let work = || {
        while let Some((place, script)) = {
            let place = next.fetch_add(1, Ordering::Relaxed);
            scripts.get(place).map(|script| (place, script))
        } {
            let rehearsed = Rehearsed::of(site, script, manner.keep, progress);
            let mut done = done.lock().unwrap_or_else(PoisonError::into_inner);
            done.push((place, rehearsed));
        }
    };
    thread::scope(|scope| {
        for _ in 0..manner.jobs.clamp(1, scripts.len().max(1)) {
            scope.spawn(work);
        }
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|(place, _)| *place);
    done.into_iter().map(|(_, rehearsed)| rehearsed).collect()
}
