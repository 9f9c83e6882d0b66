//! The record of an acceptance test: what was rehearsed, by which files, with which outcome, for an engineer to
//! sign. As text and as HTML without scripts, to be printed.
//!
//! What always holds: a record in which anything is not met says FAILED; one in which nothing was expected does
//! not say that it passed.

mod html;
mod text;

use super::{Coverage, Outcome, Rehearsed, Script};
use crate::engine::plan::{AlarmPlan, Limit, Plan, Watch};
use crate::engine::words;
use crate::quantity::Timestamp;
use crate::site::Site;
use ring::digest::{SHA256, digest};
use std::path::Path;

/// The document.
#[derive(Clone, Debug)]
pub struct Record {
    site: String,
    program: String,
    drawn_up: Timestamp,
    /// The site file, and what it names.
    files: Vec<Fingerprint>,
    /// The site file's short fingerprint, as the running program's events have it.
    in_events: String,
    scripts: Vec<Played>,
    outcome: Outcome,
    alarms: Vec<Row>,
    never: Vec<String>,
}

/// A file, and the SHA-256 of its text (FIPS 180-4) in hexadecimal.
#[derive(Clone, Debug)]
struct Fingerprint {
    path: String,
    sha256: String,
}

#[derive(Clone, Debug)]
struct Played {
    file: Fingerprint,
    rehearsed: Rehearsed,
    outcome: Outcome,
}

/// An alarm, and how far the scripts have exercised it.
#[derive(Clone, Debug)]
struct Row {
    tank: String,
    code: String,
    setting: String,
    priority: &'static str,
    /// Activated, acknowledged, cleared, watched something bad.
    seen: [bool; 4],
}

const COLUMNS: [&str; 8] = [
    "tank",
    "alarm",
    "set to",
    "priority",
    "activated",
    "acknowledged",
    "cleared",
    "bad quality",
];
const TITLE: &str = "Acceptance test record: alarms rehearsed";
/// What is tested and what is not.
const ABOUT: &str = "Plant: SIMULATED. The alarm logic of the site file was played against a simulated plant in virtual \
    time, by the scripts named below. Transmitters, impulse lines, wiring, links, people and the ways by which they are \
    told were not tested: this replaces no test on the plant and no proof test of a safety function.";
const SAME: &str = "What runs is what was tested if `sha256sum` of its files gives the same numbers; events of kind start \
    and site-file name the short fingerprint.";
/// Who signs, and with what.
const SIGNED_BY: [&str; 2] = ["Tested by", "Witnessed by"];
const SIGNED: [&str; 3] = ["name", "signature", "date"];

impl Record {
    /// `text` and `path`: of the site file. `scripts` and `rehearsed` go side by side.
    pub fn of(
        site: &Site,
        (path, text): (&Path, &str),
        scripts: &[Script],
        rehearsed: &[Rehearsed],
        drawn_up: Timestamp,
    ) -> Self {
        let mut files = vec![Fingerprint::of(path, text)];
        let named = site.files.iter();
        files.extend(named.map(|file| Fingerprint::of(&file.path, &file.text)));
        let mut coverage = Coverage::new(&site.plan);
        rehearsed.iter().for_each(|one| coverage.add(&one.coverage));
        let alarms: Vec<Row> = rows(&site.plan, &coverage);
        let never = alarms.iter().filter(|row| !row.seen[0]);
        let both = scripts.iter().zip(rehearsed);
        Self {
            site: site.plan.site.to_string(),
            program: format!("Standpipe {}", env!("CARGO_PKG_VERSION")),
            drawn_up,
            files,
            in_events: site.plan.fingerprint.to_string(),
            outcome: Outcome::of(rehearsed.iter().flat_map(|one| &one.judged)),
            scripts: both
                .map(|(script, one)| Played {
                    file: Fingerprint::of(script.path(), script.text()),
                    outcome: Outcome::of(one.judged.iter()),
                    rehearsed: one.clone(),
                })
                .collect(),
            never: never
                .map(|row| format!("{} {}", row.tank, row.code))
                .collect(),
            alarms,
        }
    }

    pub fn html(&self) -> String {
        html::html(self)
    }

    fn coverage(&self) -> String {
        let (all, never) = (self.alarms.len(), self.never.len());
        match never {
            0 => format!("Each of the {all} alarms was activated."),
            _ => format!(
                "{} of {all} alarms were activated. Never activated, and so not tested: {}.",
                all - never,
                self.never.join(", ")
            ),
        }
    }
}

impl Fingerprint {
    fn of(path: &Path, text: &str) -> Self {
        let digest = digest(&SHA256, text.as_bytes());
        let hexadecimal = digest.as_ref().iter().map(|byte| format!("{byte:02x}"));
        Self {
            path: path.display().to_string(),
            sha256: hexadecimal.collect(),
        }
    }
}

/// Alarms in the order of the coverage, which is that of the plan.
fn rows(plan: &Plan, coverage: &Coverage) -> Vec<Row> {
    let of_tanks = plan.tanks.iter().flat_map(|tank| &tank.alarms);
    let plans = of_tanks.chain(&plan.system);
    let both = plans.zip(&coverage.alarms);
    both.map(|(alarm, exercised)| Row {
        tank: exercised.tank.clone(),
        code: exercised.code.clone(),
        setting: setting(plan, alarm),
        priority: alarm.priority.name(),
        seen: [
            exercised.activated,
            exercised.acknowledged,
            exercised.cleared,
            exercised.bad,
        ],
    })
    .collect()
}

fn setting(plan: &Plan, alarm: &AlarmPlan) -> String {
    match (alarm.limit, alarm.watch) {
        (Limit::Is(on), Watch::Contact(contact)) => {
            let tag = &plan.contacts[contact.index()].tag;
            format!("{tag} {}", if on { "on" } else { "off" })
        }
        (Limit::Overdue, _) => "overdue".to_owned(),
        (_, Watch::System(_)) => "trouble".to_owned(),
        (Limit::BadQuality, _) => "bad quality".to_owned(),
        _ => words::limit(alarm),
    }
}

fn mark(met: bool) -> &'static str {
    if met { "met" } else { "NOT MET" }
}

fn place(line: usize) -> String {
    format!("line {line}")
}

fn seen(seen: bool) -> &'static str {
    if seen { "yes" } else { "no" }
}

/// How a script was played.
fn played(one: &Rehearsed) -> String {
    let last = super::script::shown(one.last);
    let commands = match one.commands {
        1 => "1 command".to_owned(),
        count => format!("{count} commands"),
    };
    format!("{last} played, seed {}, {commands}", one.seed)
}
