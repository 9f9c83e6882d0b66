//! Where the recordings lie.

use serde_json::Value;
use std::path::{Path, PathBuf};

/// The folder of one recording, or none: then the skip has been told.
#[expect(clippy::print_stdout, reason = "a skipped check must say so")]
pub fn recording(name: &str) -> Option<PathBuf> {
    match std::env::var_os("STANDPIPE_RECORDINGS") {
        Some(folder) => Some(PathBuf::from(folder).join(name)),
        None => {
            println!("skipped: STANDPIPE_RECORDINGS is not set, {name} was not read");
            None
        }
    }
}

pub fn expected(folder: &Path) -> Value {
    let text =
        std::fs::read_to_string(folder.join("expected.json")).expect("the reference results");
    serde_json::from_str(&text).expect("JSON")
}

/// A number of the reference results, by the keys on the way to it.
pub fn number(reference: &Value, keys: &[&str]) -> f64 {
    let found = keys.iter().fold(reference, |value, key| &value[*key]);
    found
        .as_f64()
        .unwrap_or_else(|| panic!("{keys:?} is no number"))
}
