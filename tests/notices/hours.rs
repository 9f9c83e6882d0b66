//! Day and night, by the clocks of the site, also when they change.

use crate::rig::Rig;

const NIGHT: &str = r#"
[[notice]]
name = "day"
to = ["Ada <ada@alder-rise.example>"]
at_least = "low"
hours = { from = "06:00", to = "22:00" }

[[notice]]
name = "night"
to = ["Ben <ben@alder-rise.example>"]
at_least = "low"
hours = { from = "22:00", to = "06:00" }
"#;

fn told_at(utc: &str) -> (Rig, Vec<String>) {
    let mut rig = Rig::start(&["high"], NIGHT, utc, None);
    rig.set(0, true);
    let told = rig.told().into_iter().map(|(_, to, _)| to).collect();
    (rig, told)
}

/// Clocks in London go forward on 2026-03-29 at 01:00 UTC and back on 2026-10-25 at 01:00 UTC (last Sundays of
/// March and October: Summer Time Order 2002).
#[test]
fn the_night_goes_by_the_clocks_of_the_site() {
    for (utc, who) in [
        ("2026-03-28T05:59:00Z", "Ben"),
        ("2026-03-28T06:00:00Z", "Ada"),
        ("2026-03-28T21:59:00Z", "Ada"),
        ("2026-03-28T22:00:00Z", "Ben"),
        ("2026-03-29T04:59:00Z", "Ben"),
        ("2026-03-29T05:00:00Z", "Ada"),
        ("2026-10-24T20:59:00Z", "Ada"),
        ("2026-10-24T21:00:00Z", "Ben"),
        ("2026-10-25T05:59:00Z", "Ben"),
        ("2026-10-25T06:00:00Z", "Ada"),
    ] {
        assert_eq!(told_at(utc).1, [who], "{utc}");
    }
}

#[test]
fn who_comes_on_duty_is_told_what_is_still_open() {
    let (mut rig, told) = told_at("2026-03-29T04:30:00Z");
    assert_eq!(told, ["Ben"]);
    rig.go(1799);
    assert_eq!(
        rig.told(),
        [(1800, "Ada".to_owned(), "alarm")],
        "at 06:00 of summer time"
    );
    let (mut rig, _) = told_at("2026-03-29T04:30:00Z");
    rig.acknowledge(0);
    rig.go(3600);
    assert_eq!(rig.told(), []);
}

#[test]
fn a_step_of_the_clock_into_the_hours_is_noticed() {
    let (mut rig, _) = told_at("2026-03-29T04:30:00Z");
    rig.now.utc += std::time::Duration::from_secs(1800);
    rig.go(2);
    let told: Vec<String> = rig.told().into_iter().map(|(_, to, _)| to).collect();
    assert_eq!(told, ["Ada"]);
}

#[test]
fn an_escalation_goes_to_whoever_is_on_duty() {
    let chain = r#"
[[notice]]
name = "on-call"
to = ["Ada <ada@alder-rise.example>"]
at_least = "low"
hours = { from = "22:00", to = "06:00" }
escalate = { after = "5 min", to = "office" }

[[notice]]
name = "office"
to = ["Ben <ben@alder-rise.example>"]
hours = { from = "08:00", to = "17:00", days = ["mon", "tue", "wed", "thu", "fri"] }
escalate = { after = "5 min", to = "owner" }

[[notice]]
name = "owner"
to = ["Cleo <cleo@alder-rise.example>"]
"#;
    let told = |utc: &str| {
        let mut rig = Rig::start(&["high"], chain, utc, None);
        rig.set(0, true);
        rig.go(600);
        rig.told()
            .into_iter()
            .map(|(at, to, _)| format!("{to} {at}"))
            .collect::<Vec<_>>()
    };
    // A Wednesday night; nobody is in the office.
    assert_eq!(told("2026-03-04T03:00:00Z"), ["Ada 1", "Cleo 301"]);
    // The same day at noon: the night's on-call is asleep, so the office is told when nobody has answered.
    assert_eq!(told("2026-03-04T12:00:00Z"), ["Ben 301", "Cleo 601"]);
}
