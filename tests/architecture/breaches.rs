//! Made-up files that break the rules of the rooms, and some that keep them.

use crate::rooms::{CLOCK, STORED, clock_reads, forbidden_uses, impurities};
use crate::source::Source;

fn uses(path: &str, text: &str) -> Vec<String> {
    let engine = "pub use event::Event; pub use plan::Plan; pub use ids::LinkId;";
    let settings = "pub use crate::engine::LinkId;";
    let passed_on = [
        ("src/engine/mod.rs", engine),
        ("src/site/settings.rs", settings),
    ]
    .iter()
    .flat_map(|(path, text)| Source::new(path, text).passed_on())
    .collect();
    forbidden_uses(&Source::new(path, text), &passed_on)
}

#[test]
fn a_forbidden_room_is_found_however_it_is_written() {
    for text in [
        "use crate::page::Page;",
        "use crate::{quantity::Length, page};",
        "use super::super::page::Page;",
        "fn f() { crate::page::serve() }",
        "mod tests { use standpipe::page::Page; }",
    ] {
        assert_eq!(uses("src/outlet/mqtt.rs", text).len(), 1, "{text}");
    }
    assert_eq!(
        uses("src/page/tank.rs", "use crate::outlet::mqtt::Mqtt;").len(),
        1
    );
    assert_eq!(
        uses("src/physics/balance.rs", "use crate::engine::Plan;").len(),
        1
    );
    assert_eq!(uses("src/daemon/mod.rs", "use crate::cli;").len(), 1);
}

#[test]
fn a_part_of_a_room_does_not_open_the_whole() {
    assert_eq!(uses("src/field/link.rs", "use crate::site::Site;").len(), 1);
    assert_eq!(
        uses("src/field/link.rs", "use crate::site::file::Document;").len(),
        1
    );
    assert_eq!(
        uses("src/field/link.rs", "use crate::engine::LinkId;").len(),
        1
    );
    assert_eq!(
        uses("src/wire/event.rs", "use crate::engine::Plan;").len(),
        1
    );
    assert_eq!(uses("src/wire/event.rs", "use crate::engine;").len(), 1);
    assert_eq!(
        uses("src/plant/tank.rs", "use crate::physics::balance::solve;").len(),
        1
    );
    assert_eq!(
        uses("src/site/settings.rs", "use crate::site::file::Document;").len(),
        1
    );
}

#[test]
fn a_room_without_a_row_is_found() {
    assert_eq!(uses("src/attic/mod.rs", "").len(), 1);
}

#[test]
fn lawful_uses_pass() {
    for (path, text) in [
        (
            "src/wire/event.rs",
            "use crate::engine::{Event, quality::Quality, snapshot::Snapshot};",
        ),
        (
            "src/field/link.rs",
            "use crate::site::settings::{LinkId, LinkSettings};",
        ),
        (
            "src/site/settings.rs",
            "use crate::engine::LinkId; mod tests { use super::*; }",
        ),
        (
            "src/outlet/mqtt.rs",
            "use super::metrics::Metrics; use crate::wire;",
        ),
        ("src/cli/mod.rs", "use crate::daemon::run;"),
        ("src/lib.rs", "pub mod page;"),
    ] {
        assert!(uses(path, text).is_empty(), "{path}: {text}");
    }
}

#[test]
fn an_impure_word_or_path_is_found_in_pure_rooms_alone() {
    for text in [
        "use std::collections::HashMap;",
        "use std::{fs, sync::Arc};",
        "fn f() { std::net::lookup() }",
        "async fn f() { tokio::task::yield_now().await }",
        "#[derive(serde::Serialize)] struct A;",
    ] {
        assert_eq!(
            impurities(&Source::new("src/engine/tank.rs", text)).len(),
            1,
            "{text}"
        );
        assert!(impurities(&Source::new("src/outlet/mqtt.rs", text)).is_empty());
    }
    let stored = Source::new(STORED, "#[derive(serde::Serialize)] struct A;");
    assert!(impurities(&stored).is_empty());
}

#[test]
fn a_clock_read_is_found() {
    for text in [
        "fn f() { Instant::now(); }",
        "fn f() { jiff::ZonedDateTime::now() }",
        "let f = SystemTime::now;",
    ] {
        assert_eq!(
            clock_reads(&Source::new("src/outlet/mqtt.rs", text)).len(),
            1,
            "{text}"
        );
        assert!(clock_reads(&Source::new(CLOCK, text)).is_empty());
    }
    assert!(clock_reads(&Source::new("src/outlet/mqtt.rs", "let now = clock.now();")).is_empty());
}
