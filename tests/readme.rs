//! The README's site file is a real one: it is read as it stands there.

use std::path::Path;

/// The first block of TOML in a text.
fn toml_block(text: &str) -> Option<&str> {
    let (_, after) = text.split_once("```toml\n")?;
    Some(after.split_once("```")?.0)
}

#[test]
fn the_first_site_is_right() {
    let text = toml_block(include_str!("../README.md")).expect("a site file in the README");
    if let Err(problems) = standpipe::site::parse(text, Path::new("site.toml")) {
        panic!("{problems}");
    }
}
