//! Wrong site files and the problems that are told of them.

use crate::compare;
use standpipe::site;
use std::path::{Path, PathBuf};

/// The wrong site files, relative to the package.
fn files() -> Vec<PathBuf> {
    let directory = Path::new("tests/golden/sites");
    let entries = std::fs::read_dir(directory).expect("the directory of wrong site files is there");
    let mut files: Vec<PathBuf> = entries
        .map(|entry| entry.expect("an entry can be read").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "toml")
        })
        .collect();
    files.sort();
    files
}

#[test]
fn every_wrong_site_is_refused_in_good_words() {
    let files = files();
    assert!(files.len() >= 15, "only {} wrong site files", files.len());
    for file in files {
        let problems = site::read(&file).expect_err(&format!("{} is wrong", file.display()));
        for problem in problems.iter() {
            assert!(
                !problem.cure.is_empty(),
                "{}: no cure for: {}",
                file.display(),
                problem.message
            );
        }
        compare(&file.with_extension("txt"), &format!("{problems}\n"));
    }
}

#[test]
fn the_site_of_the_water_works_is_right() {
    for file in ["config/alder-rise.toml", "config/alder-rise-hookups.toml"] {
        if let Err(problems) = site::read(Path::new(file)) {
            panic!("{problems}");
        }
    }
}
