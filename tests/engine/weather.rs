//! Tanks that go with the barometer: one alone is a transmitter, several are what they share.

use crate::normal::{Chance, Damped};
use crate::rig::Rig;
use standpipe::engine::{ContactId, ContactSample, Input};

/// Open tanks at rest, read once a minute.
fn site(tanks: &[&str]) -> String {
    let mut site = String::from(
        r#"
[site]
name = "Alder Rise"
ambient = { temperature = "TT", pressure = "PT" }

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"
poll_every = "60 s"

[[transmitter]]
tag = "PT"
link = "skid-a"
register = "input 0"
type = "f64"
measures = "absolute"
unit = "Pa"

[[transmitter]]
tag = "TT"
link = "skid-a"
reads = "temperature"
register = "input 4"
type = "f64"
unit = "degC"

[[contact]]
tag = "P"
link = "skid-a"
bit = "discrete 0"
"#,
    );
    for (place, name) in tanks.iter().enumerate() {
        site += &format!(
            r#"
[[transmitter]]
tag = "LT-{name}"
link = "skid-a"
register = "input {}"
type = "f64"
measures = "gauge"
unit = "Pa"

[[tank]]
name = "{name}"
vessel = {{ shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }}
liquid = {{ kind = "constant", density = "1000 kg/m3" }}
hookup = {{ kind = "vented", transmitter = "LT-{name}", at = "0 m" }}

[tank.checks]
idle = {{ when = "P off" }}
"#,
            8 + 4 * place
        );
    }
    site
}

/// Two and a half days; of each tank whether it is sealed.
fn run(tanks: &[(&str, bool)]) -> Rig {
    let names: Vec<&str> = tanks.iter().map(|(name, _)| *name).collect();
    let mut rig = Rig::start(&site(&names));
    let (mut chance, mut weather) = (Chance::new(4), Damped::new(0.998));
    let tags: Vec<String> = names.iter().map(|name| format!("LT-{name}")).collect();
    let off = [ContactSample {
        contact: ContactId(0),
        bit: Ok(false),
    }];
    for _ in 0..3600 {
        rig.pass(60.0);
        let barometer_pa = 100_000.0 + 800.0 * weather.next(&mut chance);
        let mut values = vec![("PT", barometer_pa), ("TT", 12.0 + 0.1 * chance.normal())];
        for (tag, (_, sealed)) in tags.iter().zip(tanks) {
            let shown = if *sealed {
                barometer_pa - 100_000.0
            } else {
                0.0
            };
            values.push((tag, 20_000.0 + shown + 10.0 * chance.normal()));
        }
        rig.step(Input::Read(&[], &off));
        rig.read(&values);
    }
    rig
}

fn found(rig: &Rig, tank: &str) -> Vec<String> {
    let findings = rig.tank(tank).findings;
    let each = findings.iter().map(|open| open.finding.sentence());
    each.filter(|text| text.contains("barometer")).collect()
}

#[test]
fn one_that_goes_with_the_weather_is_a_transmitter_and_several_are_what_they_share() {
    let rig = run(&[("north", true), ("south", false)]);
    let north = found(&rig, "north");
    assert_eq!(north.len(), 1, "{north:?}");
    assert!(
        north[0].starts_with("possible follows the barometer (vented), maintenance required"),
        "{north:?}"
    );
    assert!(found(&rig, "south").is_empty());
    let rig = run(&[("north", true), ("south", true), ("east", false)]);
    for (tank, other) in [("north", "south"), ("south", "north")] {
        let found = found(&rig, tank);
        assert!(
            found[0].starts_with("probable follows the barometer"),
            "{found:?}"
        );
        assert!(
            found[0].contains(&format!("so do {other}: look for what they share")),
            "{found:?}"
        );
    }
    assert!(found(&rig, "east").is_empty());
}
