//! Which alarms go to whom, and tests of the way.

use crate::rig::Rig;
use standpipe::engine::{Command, EventKind};

#[test]
fn each_is_told_of_the_priorities_that_were_named() {
    let notices = r#"
[[notice]]
name = "urgent"
webhook = "http://127.0.0.1:9/hook"
priorities = ["highest", "high"]

[[notice]]
name = "all"
to = ["ada@alder-rise.example"]
at_least = "low"
tanks = ["clearwell"]
"#;
    let mut rig = Rig::new(&["low", "medium", "high", "highest"], notices);
    rig.contacts = vec![true; 4];
    rig.go(1);
    let of = |rig: &Rig, route: &str| {
        let notices = rig.notices.iter().filter(|(_, one)| &*one.route == route);
        notices.count()
    };
    assert_eq!((of(&rig, "urgent"), of(&rig, "all")), (2, 4));
    let ids: Vec<u64> = rig.notices.iter().map(|(_, one)| one.id.0).collect();
    let mut sorted = ids.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(sorted, [1, 2, 3, 4, 5, 6], "each number once");
}

#[test]
fn the_way_is_tested_daily_by_the_sites_clocks() {
    let notices = "[[notice]]\nname = \"on-call\"\nto = [\"Ada <ada@alder-rise.example>\"]\nat_least = \"high\"\ndaily_test = \"08:00\"\n";
    // The night of 2026-03-29 is an hour short.
    let mut rig = Rig::start(&["high"], notices, "2026-03-28T07:59:00Z", None);
    rig.go(60 + 23 * 3600);
    let told: Vec<(u64, &str)> = rig
        .notices
        .iter()
        .map(|(at, one)| (*at, one.kind.name()))
        .collect();
    assert_eq!(told, [(60, "test"), (60 + 23 * 3600, "test")]);
    let (_, test) = &rig.notices[0];
    assert!(
        test.test && test.subject.contains("TEST: "),
        "{}",
        test.subject
    );
    assert!(test.text.contains("Nothing is wrong"), "{}", test.text);
}

#[test]
fn a_person_tries_the_way() {
    let mut rig = Rig::new(&["high"], crate::rig::CHAIN);
    let mut ask = |name: &str| {
        rig.ask(Command::TestNotice {
            name: name.into(),
            by: "Dan".into(),
        })
    };
    assert!(ask("second").is_ok_and(|answer| answer.contains("goes to Ben")));
    assert_eq!(
        ask("secnd"),
        Err("the site file has no notice \"secnd\"".into())
    );
    assert_eq!(rig.notices.len(), 1);
    assert!(rig.notices[0].1.text.contains("Dan has asked for it"));
    let events = rig.of_kind(EventKind::Notice);
    assert_eq!(events.len(), 2, "asked for, and what became of it");
    assert_eq!(events[0].person.as_deref(), Some("Dan"));
}

#[test]
fn a_site_without_notices_tells_nobody() {
    let mut rig = Rig::new(&["high"], "");
    rig.set(0, true);
    rig.go(3600);
    assert_eq!((rig.told().len(), rig.remembered()), (0, 0));
}
