//! A program that a test needs: found, or the test fails with what to do.

use std::path::PathBuf;

/// In the path or where Debian keeps daemons.
pub fn find(name: &str) -> PathBuf {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let places = std::env::split_paths(&path).chain(["/usr/sbin".into(), "/usr/bin".into()]);
    places
        .map(|place| place.join(name))
        .find(|program| program.is_file())
        .unwrap_or_else(|| {
            panic!("{name} is not installed: run `bash tests/run`, which installs it")
        })
}
