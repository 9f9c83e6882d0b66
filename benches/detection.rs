//! What diagnosis finds, how surely and how soon, over many seeds; and what it finds in healthy tanks.
//!
//! Every script of `tests/detection` expects one verdict between the beginning of its fault and its end; those named
//! `healthy-…` have no fault. Prints a table in Markdown; with `STANDPIPE_TABLE=write` it also goes into
//! `deploy/handbook/detection.md`. It judges nothing.
//!
//! `STANDPIPE_SEEDS` (200) runs a fault; `STANDPIPE_TANK_YEARS` (30) of healthy tanks, all scripts together. Arguments
//! (`cargo bench --bench detection -- NAME…`) play only the trials whose name contains one of them. What a trial found is
//! printed to stderr as it comes, a healthy tank's findings with their evidence.
//!
//! Bounds are two-sided or upper ones of 95 %: of a share by Wilson's score interval (NIST/SEMATECH e-Handbook of
//! Statistical Methods, 7.2.4.1), of a count by the χ² quantile of the Poisson distribution (same, 8.1.6.1 as MTBF
//! bound), for no event −ln 0.05 = 2.996.

#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a benchmark prints its result, and how far it is"
)]

use standpipe::engine::checks::finding::{Confidence, Fault};
use standpipe::quantity::span;
use standpipe::rehearsal::script::Expectation;
use standpipe::rehearsal::script::expect::Subject;
use standpipe::rehearsal::trace::Found;
use standpipe::rehearsal::{Keep, Script, Trace, play, play_until};
use standpipe::site::{self, Site};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;
use std::time::Duration;

const TABLE: &str = "deploy/handbook/detection.md";
const YEAR_S: f64 = 365.25 * 86_400.0;

fn main() {
    let seeds = number("STANDPIPE_SEEDS", 200);
    let tank_years = number("STANDPIPE_TANK_YEARS", 30) as f64;
    let mut text = "| fault | found | 95 % of such shares | median delay | 95 % of delays |\n| --- | --- | --- | --- | --- |\n".to_owned();
    // Cargo passes options of its own.
    let asked: Vec<String> = std::env::args()
        .skip(1)
        .filter(|it| !it.starts_with('-'))
        .collect();
    let is_asked = |path: &PathBuf| {
        asked.is_empty() || asked.iter().any(|part| name(path).contains(part.as_str()))
    };
    let (healthy, faulty): (Vec<_>, Vec<_>) = scripts()
        .into_iter()
        .filter(is_asked)
        .partition(|path| name(path).starts_with("healthy"));
    for path in &faulty {
        let row = row(path, seeds);
        println!("{row}");
        writeln!(text, "{row}").expect("to a text");
    }
    text.push_str(
        "\n| healthy | tank-years | probable | a year, at most (95 %) | possible | which |\n| --- | --- | --- | --- | --- | --- |\n",
    );
    // Each of them is played equally often.
    let once: f64 = healthy.iter().map(|path| years_of(&read(path))).sum();
    let runs = (tank_years / once).ceil() as u64;
    let mut all = Quiet::default();
    for path in &healthy {
        let quiet = quiet(path, runs);
        let row = quiet.row(name(path));
        println!("{row}");
        writeln!(text, "{row}").expect("to a text");
        all.add(&quiet);
    }
    if healthy.len() > 1 {
        let row = all.row("all together");
        println!("{row}");
        writeln!(text, "{row}").expect("to a text");
    }
    // A part of the trials is no table.
    if asked.is_empty() && std::env::var("STANDPIPE_TABLE").is_ok_and(|it| it == "write") {
        write_table(&text);
    }
}

fn number(name: &str, usual: u64) -> u64 {
    let said = std::env::var(name).ok();
    said.and_then(|text| text.parse().ok()).unwrap_or(usual)
}

fn root(relative: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(relative)
}

fn scripts() -> Vec<PathBuf> {
    let folder = std::fs::read_dir(root("tests/detection")).expect("it is there");
    let paths = folder.map(|entry| entry.expect("readable").path());
    let mut paths: Vec<_> = paths
        .filter(|path| path.extension().is_some_and(|it| it == "toml"))
        .filter(|path| !name(path).starts_with("site"))
        .collect();
    paths.sort();
    paths
}

fn name(path: &Path) -> &str {
    let stem = path.file_stem().and_then(|stem| stem.to_str());
    stem.expect("a name in UTF-8")
}

fn read(path: &Path) -> (Site, Script) {
    let script = Script::read(path).unwrap_or_else(|problems| panic!("{problems}"));
    let site = site::read(&script.site).unwrap_or_else(|problems| panic!("{problems}"));
    (site, script)
}

/// Does something for each seed from 1 on, on all cores.
fn each_seed(count: u64, what: impl Fn(u64) + Sync) {
    let next = AtomicU64::new(1);
    let cores = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed > count {
                        return;
                    }
                    what(seed);
                }
            });
        }
    });
}

fn row(path: &Path, seeds: u64) -> String {
    let (site, script) = read(path);
    let verdicts: Vec<&Expectation> = script
        .expectations
        .iter()
        .filter(|one| matches!(one.subject, Subject::Finding { .. }))
        .collect();
    let [wanted] = verdicts[..] else {
        panic!("{}: one verdict, not {}", path.display(), verdicts.len());
    };
    let Subject::Finding {
        tank,
        fault,
        confidence,
    } = &wanted.subject
    else {
        unreachable!("it was chosen by that");
    };
    let tanks = &site.plan.tanks;
    let tank = tanks.iter().position(|plan| *plan.name == *tank.name);
    let tank = tank.expect("the script was checked");
    let delays = Mutex::new(Vec::new());
    each_seed(seeds, |seed| {
        let mut script = script.clone();
        script.seed = seed;
        let is_it = |found: &&Found| {
            found.tank == tank
                && found.fault == *fault
                && found.confidence >= *confidence
                && found.from >= wanted.from
                && wanted.to.is_none_or(|to| found.from <= to)
        };
        // What comes after the verdict is of no interest.
        let is_enough = |trace: &Trace| trace.found.iter().any(|found| is_it(&found));
        let trace = play_until(&site, &script, Keep::Named, is_enough);
        let trace = trace.unwrap_or_else(|problems| panic!("{problems}"));
        let found = trace.found.iter().find(is_it);
        eprintln!(
            "{} {seed}: {}",
            name(path),
            found.map_or("not found".to_owned(), |found| span(
                found.from - wanted.from
            ))
        );
        if let Some(found) = found {
            let mut delays = delays.lock().expect("no panic while it is held");
            delays.push(found.from - wanted.from);
        }
    });
    let mut delays = delays.into_inner().expect("no panic while it is held");
    delays.sort();
    let share = delays.len() as f64 / seeds as f64;
    let (low, high) = wilson(share, seeds as f64);
    let quantile = |share: f64| {
        // Of all runs: one that finds nothing is later than any.
        let place = (share * seeds as f64).ceil() as usize;
        delays
            .get(place.saturating_sub(1))
            .map_or("more than was waited".to_owned(), |delay| in_words(*delay))
    };
    format!(
        "| {}: {} {} | {:.0} % of {seeds} | {:.0} % to {:.0} % | {} | {} |",
        name(path),
        confidence.name(),
        fault.name(),
        100.0 * share,
        100.0 * low,
        100.0 * high,
        quantile(0.5),
        quantile(0.95)
    )
}

/// To the minute, where that is exact enough.
fn in_words(delay: Duration) -> String {
    let minutes = delay.as_secs() / 60;
    match (minutes / 60, minutes % 60) {
        (0, 0..10) => span(Duration::from_secs(delay.as_secs())),
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// Wilson's score interval of a share, 95 %.
fn wilson(share: f64, n: f64) -> (f64, f64) {
    const Z: f64 = 1.959_964;
    let centre = share + Z * Z / (2.0 * n);
    let half = Z * (share * (1.0 - share) / n + Z * Z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + Z * Z / n;
    ((centre - half) / scale, (centre + half) / scale)
}

/// What was told of healthy tanks: how often possible, and probable.
#[derive(Default)]
struct Quiet {
    years: f64,
    told: BTreeMap<Fault, [u64; 2]>,
}

impl Quiet {
    fn add(&mut self, other: &Quiet) {
        self.years += other.years;
        for (fault, counts) in &other.told {
            let sum = self.told.entry(*fault).or_default();
            *sum = [sum[0] + counts[0], sum[1] + counts[1]];
        }
    }

    fn row(&self, name: &str) -> String {
        let told = self.told.values();
        let [possible, probable] = told.fold([0, 0], |sum, one| [sum[0] + one[0], sum[1] + one[1]]);
        let told = self.told.iter().map(|(fault, [possible, probable])| {
            let name = fault.name();
            format!("{name} ({possible} possible, {probable} probable)")
        });
        let which: Vec<String> = told.collect();
        let which = match which.is_empty() {
            true => "none".to_owned(),
            false => which.join(", "),
        };
        format!(
            "| {name} | {:.1} | {probable} | {:.2} | {possible} | {which} |",
            self.years,
            poisson_at_most(probable) / self.years,
        )
    }
}

/// Tank-years of one run.
fn years_of((site, script): &(Site, Script)) -> f64 {
    let last = script.last.expect("a script that ends");
    site.plan.tanks.len() as f64 * last.as_secs_f64() / YEAR_S
}

fn quiet(path: &Path, runs: u64) -> Quiet {
    let trial = read(path);
    let one = years_of(&trial);
    let (site, script) = trial;
    let told = Mutex::new(BTreeMap::<Fault, [u64; 2]>::new());
    each_seed(runs, |seed| {
        let mut script = script.clone();
        script.seed = seed;
        let trace = play(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
        eprintln!("{} {seed} of {runs}", name(path));
        for found in &trace.found {
            eprintln!("{}", said(&site, &trace, found));
        }
        for found in trace.found {
            let mut told = told.lock().expect("no panic while it is held");
            let counts = told.entry(found.fault).or_default();
            counts[usize::from(found.confidence == Confidence::Probable)] += 1;
        }
    });
    let told = told.into_inner().expect("no panic while it is held");
    Quiet {
        years: one * runs as f64,
        told,
    }
}

/// A finding in a healthy tank, with the evidence that its event told.
fn said(site: &Site, trace: &Trace, found: &Found) -> String {
    let tank = &site.plan.tanks[found.tank].name;
    let words = found.fault.name();
    let events = trace.events.iter().filter(|told| told.at == found.from);
    let text = events
        .map(|told| &told.event)
        .find(|event| event.tank.as_ref() == Some(tank) && event.text.contains(words))
        .map_or("", |event| event.text.as_str());
    let to = found.to.map_or("the end".to_owned(), span);
    format!(
        "    {tank}: {} {words} from {} to {to}: {text}",
        found.confidence.name(),
        span(found.from),
    )
}

/// The upper 95 % bound of a Poisson mean of which that many events were counted: where as few are as rare as 5 %.
fn poisson_at_most(count: u64) -> f64 {
    let as_few = |mean: f64| {
        let mut term = (-mean).exp();
        let mut sum = term;
        for k in 1..=count {
            term *= mean / k as f64;
            sum += term;
        }
        sum
    };
    let (mut low, mut high) = (0.0, 10.0 + 3.0 * count as f64);
    for _ in 0..80 {
        let middle = (low + high) / 2.0;
        if as_few(middle) > 0.05 {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// Between the two marks of the handbook's page.
fn write_table(table: &str) {
    let path = root(TABLE);
    let page = std::fs::read_to_string(&path).expect("the handbook's page");
    let (before, rest) = page.split_once("<!-- table -->\n").expect("its mark");
    let (_, after) = rest.split_once("<!-- end -->\n").expect("its other mark");
    let page = format!("{before}<!-- table -->\n{table}<!-- end -->\n{after}");
    std::fs::write(&path, page).expect("written");
}
