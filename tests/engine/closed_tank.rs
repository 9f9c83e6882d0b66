//! A closed tank on the running engine: what its lines tell, and what the site file must name for it.

use crate::normal::Chance;
use crate::rig::Rig;
use crate::sites::METERED;
use standpipe::engine::EventKind;
use standpipe::engine::snapshot::Ability;

const CLOSED: &str = r#"
[site]
name    = "Alder Rise"
gravity = "9.81 m/s2"

[[link]]
name       = "skid-a"
tcp        = "127.0.0.1:1502"
poll_every = "5 s"

[[transmitter]]
tag      = "PDT-201"
link     = "skid-a"
register = "input 0"
type     = "f64"
unit     = "Pa"
accuracy = "20 Pa"
span     = ["-10 kPa", "60 kPa"]
temperature_effect = "0.05 % / 10 K"

[[transmitter]]
tag      = "PT-201"
link     = "skid-a"
register = "input 4"
type     = "f64"
measures = "gauge"
unit     = "kPa(g)"

[[tank]]
name   = "day"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
gas    = { kind = "nitrogen", pressure = "PT-201", temperature = "15 degC" }
hookup = { kind = "differential", transmitter = "PDT-201", at = "0.20 m", high = { tap = "0.20 m" }, low = { tap = "3.60 m", leg = "gas" } }
"#;

fn site() -> String {
    CLOSED.to_owned() + METERED
}

/// Hours of filling, drawing and rest with the gas let in and off; the high side plugged after two of them.
fn run(site: &str, seed: u64, hours: u32, plugged: bool) -> Rig {
    let (mut rig, mut chance) = (Rig::start(site), Chance::new(seed));
    let (mut level_m, mut gas_kpa, mut flows, mut trapped) = (2.0, 20.0, (0.0, 0.0), None);
    for poll in 0..hours * 720 {
        if poll % 120 == 0 {
            let rests = poll % 600 == 0;
            let flow = |chance: &mut Chance| {
                if rests {
                    0.0
                } else {
                    chance.uniform(0.0, 18.0).round()
                }
            };
            flows = (flow(&mut chance), flow(&mut chance));
        }
        if chance.uniform(0.0, 1.0) < 0.01 {
            gas_kpa = chance.uniform(10.0, 40.0);
        }
        // m³/h into 10 m² for 5 s; at its ends the valves shut.
        let moved_m = (flows.0 - flows.1) / 10.0 / 720.0;
        if !(0.6..3.2).contains(&(level_m + moved_m)) {
            flows = (0.0, 0.0);
        } else {
            level_m += moved_m;
        }
        let healthy_pa = rig.pressure_pa("day", level_m);
        let high_pa = healthy_pa + 1e3 * gas_kpa;
        if plugged && poll == 1440 {
            trapped = Some(high_pa);
        }
        let difference_pa = trapped.unwrap_or(high_pa) - 1e3 * gas_kpa + 15.0 * chance.normal();
        let gas = gas_kpa + 0.015 * chance.normal();
        rig.pass(5.0);
        rig.read(&[
            ("FT-201", flows.0),
            ("FT-202", flows.1),
            ("PT-201", gas),
            ("PDT-201", difference_pa),
        ]);
    }
    rig
}

fn told(rig: &Rig) -> Vec<String> {
    let told = rig.of_kind(EventKind::Diagnosis).into_iter();
    told.map(|event| event.text.clone()).collect()
}

fn ability(rig: &Rig, check: &str) -> Ability {
    let abilities = rig.tank("day").abilities;
    abilities
        .iter()
        .find(|ability| ability.check == check)
        .expect(check)
        .clone()
}

#[test]
fn a_plugged_high_side_is_told_by_name_with_and_without_known_flow() {
    for seed in 0..4 {
        let rig = run(&site(), seed, 8, true);
        let told_of_it = told(&rig);
        let found = |text: &str| told_of_it.iter().any(|told| told.starts_with(text));
        assert!(
            found("probable high side plugged (differential), failure"),
            "seed {seed}: {told_of_it:#?}"
        );
        let blind = site()
            .replace("flow = \"FT-201\"", "at_most = \"18 m3/h\"")
            .replace("flow = \"FT-202\"", "at_most = \"18 m3/h\"");
        let told_of_it = told(&run(&blind, seed, 8, true));
        let found = |text: &str| told_of_it.iter().any(|told| told.starts_with(text));
        assert!(
            found("probable high side plugged (differential), failure"),
            "seed {seed}: {told_of_it:#?}"
        );
    }
}

#[test]
fn a_healthy_tank_is_left_alone_and_says_what_it_could_find() {
    for seed in 0..4 {
        let rig = run(&site(), seed, 12, false);
        assert_eq!(told(&rig), [""; 0], "seed {seed}");
        assert!(rig.tank("day").findings.is_empty());
        let lines = ability(&rig, "impulse lines");
        assert!(
            lines.diagnosable && lines.text.contains("kPa of headspace pressure"),
            "{}",
            lines.text
        );
        assert!(ability(&rig, "frozen number").diagnosable);
        for (check, why) in [
            (
                "movement at rest",
                "it has not been at rest for long enough",
            ),
            ("noise of the line", "plugging"),
            (
                "ambient temperature",
                "no transmitter is named for the ambient temperature",
            ),
            ("weather", "it is not counted from the air outside"),
            ("redundant levels", "no two hookups"),
        ] {
            let ability = ability(&rig, check);
            assert!(
                !ability.diagnosable && ability.text.contains(why),
                "{}",
                ability.text
            );
        }
    }
}

#[test]
fn without_a_headspace_transmitter_the_lines_say_why_not() {
    let blind = site()
        .replace("pressure = \"PT-201\"", "pressure = \"20 kPa(g)\"")
        .replace("flow = \"FT-201\"\n", "");
    let rig = run(&blind, 1, 1, false);
    let lines = ability(&rig, "impulse lines");
    assert_eq!(
        lines.text,
        "not diagnosable here: differential: no transmitter of its own reads the headspace; what flows in is not known"
    );
}
