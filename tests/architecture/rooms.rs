//! Which room may use what, and what the pure rooms and the clock's readers must never name.

use crate::source::Source;
use crate::tree::sources;
use std::collections::{BTreeMap, BTreeSet};

/// What a room may use; nothing else. A finer row than a room's own, such as `site::settings`, goes
/// first for the files that it names. Every room may use itself.
const MAY_USE: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    ("physics", &["quantity"]),
    ("engine", &["physics", "quantity"]),
    ("site", &["engine", "physics", "quantity"]),
    ("site::settings", &["engine::ids", "quantity"]),
    ("field", &["site::settings", "quantity"]),
    (
        "wire",
        &[
            "engine::event",
            "engine::snapshot",
            "engine::command",
            "quantity",
        ],
    ),
    (
        "journal",
        &[
            "wire",
            "site::settings",
            "engine::event",
            "engine::snapshot",
            "engine::memory",
            "quantity",
        ],
    ),
    (
        "people",
        &["wire", "site::settings", "engine::command", "quantity"],
    ),
    (
        "report",
        &["site", "engine", "physics", "journal", "wire", "quantity"],
    ),
    ("outlet", OUTWARD),
    ("page", OUTWARD),
    ("plant", &["physics::vessel", "physics::liquid", "quantity"]),
    (
        "rehearsal",
        &[
            "engine",
            "physics::line",
            "physics::liquid",
            "plant",
            "quantity",
            "site",
            "field::registers",
            "journal",
            "wire",
            "report",
        ],
    ),
    ("daemon", ALL_BUT_CLI),
    ("cli", ALL),
    ("main", &["cli"]),
];

/// `outlet` and `page` never use each other.
const OUTWARD: &[&str] = &[
    "journal",
    "people",
    "wire",
    "report",
    "site::settings",
    "engine::event",
    "engine::snapshot",
    "physics::vessel",
    "quantity",
];
const ALL_BUT_CLI: &[&str] = &[
    "quantity",
    "physics",
    "engine",
    "site",
    "field",
    "wire",
    "journal",
    "people",
    "report",
    "outlet",
    "page",
    "plant",
    "rehearsal",
];
const ALL: &[&str] = &[
    "quantity",
    "physics",
    "engine",
    "site",
    "field",
    "wire",
    "journal",
    "people",
    "report",
    "outlet",
    "page",
    "plant",
    "rehearsal",
    "daemon",
];

/// What events and snapshots are made of: who may use those may name these.
const PARTS_OF_AN_EVENT: &[&str] = &[
    "engine::quality",
    "engine::reading",
    "engine::forecast",
    "engine::alarm",
    "engine::ids",
    "engine::notice",
];

/// Rooms that know nothing of files, sockets, tasks and clocks, and keep everything in a stated order.
const PURE: &[&str] = &["quantity", "physics", "engine"];

/// Words and paths that no pure room may name.
const IMPURE_WORDS: &[&str] = &[
    "tokio",
    "tracing",
    "HashMap",
    "HashSet",
    "Instant",
    "SystemTime",
    "println",
    "eprintln",
    "dbg",
];
const IMPURE_PATHS: &[&str] = &[
    "std::fs",
    "std::net",
    "std::io",
    "std::env",
    "std::process",
    "std::thread",
];

/// What must survive a restart: the only file of the pure rooms that may be stored.
pub const STORED: &str = "src/engine/memory.rs";

/// The only file that reads a clock.
pub const CLOCK: &str = "src/daemon/clock.rs";

#[test]
fn rooms_use_only_what_they_may() {
    let sources = sources();
    let passed_on = sources.iter().flat_map(Source::passed_on).collect();
    no_breaches(
        sources
            .iter()
            .flat_map(|source| forbidden_uses(source, &passed_on)),
    );
}

#[test]
fn pure_rooms_name_nothing_impure() {
    no_breaches(sources().iter().flat_map(impurities));
}

#[test]
fn the_clock_is_read_in_one_file() {
    no_breaches(sources().iter().flat_map(clock_reads));
}

fn no_breaches(breaches: impl Iterator<Item = String>) {
    let breaches: BTreeSet<String> = breaches.collect();
    assert!(
        breaches.is_empty(),
        "\n{}",
        breaches.into_iter().collect::<Vec<_>>().join("\n")
    );
}

/// Paths to rooms that the file's room may not use, neither as written nor by what is behind a name
/// that is passed on.
pub fn forbidden_uses(source: &Source, passed_on: &BTreeMap<String, String>) -> Vec<String> {
    let module = source.module();
    if module.is_empty() {
        return Vec::new(); // lib.rs, which declares the rooms
    }
    let Some((own, allowed)) = row(&module) else {
        return vec![format!(
            "{}: the table of rooms has no row for {module}",
            source.path
        )];
    };
    let allows = |path: &str| {
        let parts = if allowed
            .iter()
            .any(|room| matches!(*room, "engine::event" | "engine::snapshot"))
        {
            PARTS_OF_AN_EVENT
        } else {
            &[]
        };
        std::iter::once(&own)
            .chain(allowed)
            .chain(parts)
            .any(|room| is_within(path, room))
    };
    let behind = |path: &str| passed_on.get(path).map(String::as_str);
    let found = source.paths_within().into_iter();
    found
        .filter(|found| {
            let mut steps =
                std::iter::successors(Some(found.path.as_str()), |path| behind(path)).take(9);
            !steps.any(allows)
        })
        .map(|found| {
            format!(
                "{}:{}: {own} may not use {}",
                source.path, found.line, found.path
            )
        })
        .collect()
}

/// The finest row that the module is in.
fn row(module: &str) -> Option<(&'static str, &'static [&'static str])> {
    let rows = MAY_USE.iter().filter(|(room, _)| is_within(module, room));
    rows.max_by_key(|(room, _)| room.len()).copied()
}

fn is_within(path: &str, room: &str) -> bool {
    path.strip_prefix(room)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with("::"))
}

pub fn impurities(source: &Source) -> Vec<String> {
    if !PURE.iter().any(|room| is_within(&source.module(), room)) {
        return Vec::new();
    }
    let stored = (source.path != STORED).then_some("serde");
    let words = IMPURE_WORDS.iter().copied().chain(stored);
    let by_word = words.flat_map(|word| {
        source
            .lines_with(word)
            .into_iter()
            .map(move |line| (line, word.to_owned()))
    });
    let by_path = source
        .paths_of("std")
        .into_iter()
        .filter(|found| IMPURE_PATHS.iter().any(|path| is_within(&found.path, path)))
        .map(|found| (found.line, found.path));
    by_word
        .chain(by_path)
        .map(|(line, what)| format!("{}:{line}: a pure room names {what}", source.path))
        .collect()
}

pub fn clock_reads(source: &Source) -> Vec<String> {
    let lines = if source.path == CLOCK {
        Vec::new()
    } else {
        source.lines_with_associated("now")
    };
    lines
        .iter()
        .map(|line| format!("{}:{line}: only {CLOCK} reads a clock", source.path))
        .collect()
}
