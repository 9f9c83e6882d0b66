//! The README's site file is a real one: it is read as it stands there.

use std::path::Path;

/// The first block of TOML in a text, and what comes after it.
fn toml_block(text: &str) -> Option<(&str, &str)> {
    let (_, after) = text.split_once("```toml\n")?;
    after.split_once("```")
}

#[test]
fn the_first_site_is_right() {
    let (text, _) = toml_block(include_str!("../README.md")).expect("a site file in the README");
    if let Err(problems) = standpipe::site::parse(text, Path::new("site.toml")) {
        panic!("{problems}");
    }
}

#[test]
fn what_is_added_to_it_is_right_too() {
    let (first, rest) = toml_block(include_str!("../README.md")).expect("a site file");
    let (more, _) = toml_block(rest).expect("what is added to it");
    let text = format!("{first}{more}");
    match standpipe::site::parse(&text, Path::new("site.toml")) {
        Ok(site) => assert_eq!(site.plan.contacts.len(), 2),
        Err(problems) => panic!("{problems}"),
    }
}
