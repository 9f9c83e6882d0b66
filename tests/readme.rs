//! The README's site file is a real one: it is read as it stands there, and with what is added to it later on.

use standpipe::site::counsel::advise;
use standpipe::site::{Site, parse};
use std::path::Path;

const README: &str = include_str!("../README.md");

/// The first block of TOML under a heading.
fn toml_under(heading: &str) -> &'static str {
    let under = README.split_once(heading).expect("the heading").1;
    let block = under.split_once("```toml\n").expect("a block").1;
    block.split_once("```").expect("its end").0
}

fn first() -> &'static str {
    toml_under("## A first site")
}

fn right(text: &str) -> Site {
    parse(text, Path::new("site.toml")).unwrap_or_else(|problems| panic!("{problems}"))
}

#[test]
fn the_first_site_is_right() {
    assert_eq!(right(first()).plan.tanks.len(), 1);
}

#[test]
fn counsel_has_nothing_to_say_of_the_first_site() {
    let found = advise(&right(first()), first(), Path::new("site.toml"), None);
    assert!(found.is_empty(), "{}", found.render(false));
}

#[test]
fn what_is_added_to_its_alarms_is_right_too() {
    let more = toml_under("## Alarms: states, shelves, contacts");
    assert_eq!(right(&format!("{}{more}", first())).plan.contacts.len(), 2);
}

#[test]
fn products_can_take_the_place_of_its_liquid() {
    let lines = first().lines().filter(|line| !line.starts_with("liquid"));
    let text = lines.collect::<Vec<_>>().join("\n");
    let more = toml_under("## What is in the tank");
    let site = right(&format!("{text}\n{more}"));
    assert_eq!(site.plan.tanks[0].products.len(), 2);
}

#[test]
fn those_who_are_told_can_be_added() {
    let more = toml_under("## Who is told");
    let site = right(&format!("{}{more}", first()));
    assert_eq!(site.plan.notices.routes.len(), 2);
}

/// Documents show the same cautions.
#[test]
fn its_cautions_are_those_of_the_documents() {
    let under = README.split_once("## Cautions\n").expect("the heading").1;
    let under = under.split_once("\n## ").expect("the next one").0;
    let items = under.split("\n* ").skip(1);
    let items: Vec<String> = items
        .map(|item| item.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(items, standpipe::report::cautions::CAUTIONS);
}
