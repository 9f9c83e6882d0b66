//! What every file of the tree keeps to: size, opening lines, words, sources of vectors, dependencies.

use crate::source::Source;
use std::fs;
use std::path::{Path, PathBuf};

/// A file of src is looked at twice above the first number of lines, and split above the second.
const LONG: usize = 350;
const TOO_LONG: usize = 500;

/// Words of unfinished work. Pieced together, so that this file does not hold them itself.
const UNFINISHED: &[&str] = &[
    concat!("TO", "DO"),
    concat!("FIX", "ME"),
    concat!("unimple", "mented!"),
    concat!("to", "do!("),
    concat!("(to ", "come)"),
];

/// Folders of the package that hold no file of its own making.
const NOT_OURS: &[&str] = &["target", ".git", ".cache", "node_modules"];

/// All of src, in the order of their paths.
pub fn sources() -> Vec<Source> {
    let mut sources = Vec::new();
    for path in files("src") {
        if path.extension().is_some_and(|extension| extension == "rs") {
            sources.push(Source::new(&shown(&path), &read(&path)));
        }
    }
    assert!(sources.len() > 10, "src was not found");
    sources
}

#[test]
fn files_stay_small() {
    for source in sources() {
        let lines = source.text.lines().count();
        if lines > LONG {
            println!("look twice: {} has {lines} lines", source.path);
        }
        assert_eq!(
            too_long(&source.text),
            None,
            "{} has too many lines: split it",
            source.path
        );
    }
}

#[test]
fn files_open_with_what_they_are_for() {
    for source in sources() {
        assert!(
            opens_with_purpose(&source.text),
            "{} does not open with //!",
            source.path
        );
    }
}

#[test]
fn no_word_of_unfinished_work_stands_in_the_tree() {
    let found: Vec<String> = files(".")
        .iter()
        .filter_map(|path| {
            let text = String::from_utf8(fs::read(path).expect("a file that was listed")).ok()?;
            unfinished(&text).map(|word| format!("{}: {word}", shown(path)))
        })
        .collect();
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn published_vectors_name_their_source() {
    let vectors: Vec<PathBuf> = files("tests/published")
        .into_iter()
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "csv" || extension == "json")
        })
        .collect();
    assert!(!vectors.is_empty(), "there are no vectors");
    for path in vectors {
        assert!(
            names_a_source(&read(&path)),
            "{} names no source",
            shown(&path)
        );
    }
}

#[test]
fn no_banned_crate_is_locked() {
    let found = banned_and_locked(
        &read(&root().join("deny.toml")),
        &read(&root().join("Cargo.lock")),
    );
    assert!(
        found.is_empty(),
        "banned by deny.toml: {}",
        found.join(", ")
    );
}

fn too_long(text: &str) -> Option<usize> {
    let lines = text.lines().count();
    (lines > TOO_LONG).then_some(lines)
}

fn opens_with_purpose(text: &str) -> bool {
    text.strip_prefix("//! ")
        .is_some_and(|rest| !rest.lines().next().unwrap_or_default().trim().is_empty())
}

fn unfinished(text: &str) -> Option<&'static str> {
    UNFINISHED.iter().copied().find(|word| text.contains(word))
}

/// A column or key `source`, filled in every row of a CSV table.
fn names_a_source(text: &str) -> bool {
    if text.trim_start().starts_with(['{', '[']) {
        return text.contains("\"source\"");
    }
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let column = reader.headers().ok().and_then(|header| {
        header
            .iter()
            .position(|name| name.trim().starts_with("source"))
    });
    column.is_some_and(|column| {
        reader.records().all(|row| {
            row.is_ok_and(|row| {
                row.get(column)
                    .is_some_and(|source| !source.trim().is_empty())
            })
        })
    })
}

fn banned_and_locked(deny: &str, lock: &str) -> Vec<String> {
    let deny: toml::Table = deny.parse().expect("deny.toml is TOML");
    let lock: toml::Table = lock.parse().expect("Cargo.lock is TOML");
    let banned = deny["bans"]["deny"]
        .as_array()
        .expect("a list of banned crates");
    assert!(!banned.is_empty(), "nothing is banned");
    let banned: Vec<&str> = banned
        .iter()
        .map(|entry| entry["crate"].as_str().expect("a crate's name"))
        .collect();
    let locked = lock["package"]
        .as_array()
        .expect("a list of packages")
        .iter();
    locked
        .filter_map(|package| package["name"].as_str())
        .filter(|name| banned.contains(name))
        .map(str::to_owned)
        .collect()
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn shown(path: &Path) -> String {
    path.strip_prefix(root())
        .unwrap_or(path)
        .display()
        .to_string()
}

/// Every file under a folder of the package, sorted.
fn files(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![root().join(folder)];
    while let Some(folder) = open.pop() {
        for entry in
            fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        {
            let entry = entry.expect("an entry of a folder");
            let kind = entry.file_type().expect("its kind");
            if kind.is_file() {
                found.push(entry.path());
            } else if kind.is_dir() && !NOT_OURS.iter().any(|name| entry.file_name() == *name) {
                open.push(entry.path());
            }
        }
    }
    found.sort();
    found
}

/// Made-up files that break the rules, and some that keep them.
mod breaches {
    use super::*;

    #[test]
    fn a_long_file_is_found() {
        assert_eq!(too_long(&"//\n".repeat(TOO_LONG + 1)), Some(TOO_LONG + 1));
        assert_eq!(too_long(&"//\n".repeat(TOO_LONG)), None);
    }

    #[test]
    fn a_file_without_purpose_is_found() {
        assert!(!opens_with_purpose("use std::fmt;"));
        assert!(!opens_with_purpose("//!\nuse std::fmt;"));
        assert!(opens_with_purpose("//! One tank.\n"));
    }

    #[test]
    fn unfinished_work_is_found() {
        assert!(unfinished(concat!("// TO", "DO: later")).is_some());
        assert!(unfinished(concat!("fn f() { unimple", "mented!() }")).is_some());
        assert!(unfinished("a list of tasks for people").is_none());
    }

    #[test]
    fn a_table_without_sources_is_found() {
        assert!(!names_a_source("level,volume\n1,2\n"));
        assert!(!names_a_source("level,source\n1,\n"));
        assert!(names_a_source("level,source\n1,\"ISO 2533, table 5\"\n"));
        assert!(!names_a_source("{ \"rows\": [] }"));
    }

    #[test]
    fn a_banned_crate_is_found() {
        let deny = "[bans]\ndeny = [{ crate = \"openssl\" }]";
        let lock = "[[package]]\nname = \"openssl\"\n[[package]]\nname = \"ring\"";
        assert_eq!(banned_and_locked(deny, lock), ["openssl"]);
    }
}
