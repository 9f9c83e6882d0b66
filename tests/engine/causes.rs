//! Verdicts on a jump by the rest of the evidence: other tanks, the manifold, the legs, the unit, the pumps.

use crate::rig::Rig;
use crate::sites::{JUMP, WET, closed};
use standpipe::engine::{EventKind, Reason};

fn noise_m(count: usize) -> f64 {
    [0.001, -0.0004, 0.0007, -0.001, 0.0002][count % 5]
}

/// Polls at a level of the tank on a wet leg, then at pressures.
fn wet_leg(level_m: f64, pressures: impl Fn(f64) -> f64) -> Rig {
    let mut rig = Rig::start(&closed(WET, JUMP));
    let level_pa = |rig: &Rig, count: usize| rig.pressure_pa("day", level_m + noise_m(count));
    for count in 0..30 {
        let pa = level_pa(&rig, count);
        rig.poll(1, &[("LT", pa)]);
    }
    for count in 0..30 {
        let pa = pressures(level_pa(&rig, count)) + 3.0 * noise_m(count);
        rig.poll(1, &[("LT", pa)]);
    }
    rig
}

fn told(rig: &Rig) -> String {
    let kinds = [EventKind::Jump, EventKind::Diagnosis];
    let told = kinds.into_iter().flat_map(|kind| rig.of_kind(kind));
    told.map(|event| event.text.clone())
        .collect::<Vec<_>>()
        .join("\n")
}

/// What is found on a tank now, with how sure that is.
fn found(rig: &Rig, tank: &str) -> Vec<String> {
    let findings = rig.tank(tank).findings;
    let names = findings.iter().map(|open| {
        let finding = &open.finding;
        format!("{} {}", finding.confidence.name(), finding.fault.name())
    });
    names.collect()
}

/// 3.6 m of 1080 kg/m³ are 38.1 kPa: 0 kPa stands for a level of 3.89 m, above the upper tap at 3.6 m.
#[test]
fn a_difference_of_zero_is_an_open_equaliser_inside_and_outside_of_what_lines_give() {
    let rig = wet_leg(2.0, |_| 0.0);
    assert!(rig.has("day", Reason::OutsideIntactLines));
    assert_eq!(
        found(&rig, "day"),
        ["possible equaliser open"],
        "{}",
        told(&rig)
    );
    assert!(
        told(&rig).contains("equaliser open, function check"),
        "{}",
        told(&rig)
    );
    // On a dry leg zero is a level at the tap: inside.
    let dry = crate::sites::DRY;
    let mut rig = Rig::start(&closed(dry, JUMP));
    for count in 0..60 {
        let pa = if count < 30 {
            rig.pressure_pa("day", 2.0 + noise_m(count))
        } else {
            noise_m(count)
        };
        rig.poll(1, &[("LT", pa)]);
    }
    assert_eq!(
        found(&rig, "day"),
        ["probable equaliser open"],
        "{}",
        told(&rig)
    );
}

#[test]
fn a_step_of_the_whole_wet_leg_is_a_lost_leg() {
    // g·(1080 − 1.2)·3.6
    let rig = wet_leg(0.5, |pa| pa + 9.81 * 1078.8 * 3.6);
    assert_eq!(
        found(&rig, "day"),
        ["possible wet leg lost"],
        "{}",
        told(&rig)
    );
}

#[test]
fn a_number_off_by_ten_is_a_unit_and_one_off_by_two_is_not() {
    let rig = wet_leg(2.0, |pa| pa / 9.807);
    assert!(told(&rig).contains("unit or word order"), "{}", told(&rig));
    let rig = wet_leg(2.0, |pa| pa / 1.3);
    assert_eq!(
        found(&rig, "day"),
        ["possible unexplained jump"],
        "{}",
        told(&rig)
    );
}

/// Two open tanks, each on its transmitter, with a metered inflow.
fn two_tanks() -> String {
    let mut site = String::from(
        r#"
[site]
name = "Alder Rise"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "FT"
link = "skid-a"
reads = "flow"
register = "input 20"
type = "f32"
unit = "m3/h"
"#,
    );
    for (place, name) in ["north", "south"].iter().enumerate() {
        site += &format!(
            r#"
[[transmitter]]
tag = "LT-{name}"
link = "skid-a"
register = "input {}"
type = "f64"
unit = "Pa"

[[tank]]
name = "{name}"
vessel = {{ shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }}
liquid = {{ kind = "constant", density = "1000 kg/m3" }}
hookup = {{ kind = "vented", transmitter = "LT-{name}", at = "0 m" }}

[[tank.stream]]
name = "inlet"
direction = "in"
at_most = "36 m3/h"
flow = "FT"

[[tank.stream]]
name = "outlet"
direction = "out"
at_most = "36 m3/h"
flow = "FT"

[tank.checks]
jump = {{}}
"#,
            4 * place
        );
    }
    site
}

fn both(rig: &mut Rig, flow_m3_h: f64, levels: impl Fn(f64) -> (f64, f64), polls: usize) {
    for count in 0..polls {
        let (north, south) = levels(count as f64);
        let noise = noise_m(count);
        rig.poll(
            1,
            &[
                ("FT", flow_m3_h),
                ("LT-north", 9806.65 * (north + noise)),
                ("LT-south", 9806.65 * (south - noise)),
            ],
        );
    }
}

#[test]
fn tanks_that_jump_together_have_a_common_cause() {
    let mut rig = Rig::start(&two_tanks());
    both(&mut rig, 0.0, |_| (2.0, 1.5), 30);
    both(&mut rig, 0.0, |_| (2.4, 1.9), 30);
    for tank in ["north", "south"] {
        assert_eq!(
            found(&rig, tank),
            ["probable several tanks jumped at once"],
            "{}",
            told(&rig)
        );
    }
    // What one loses and the other gains went over.
    let mut rig = Rig::start(&two_tanks());
    both(&mut rig, 0.0, |_| (2.0, 1.5), 30);
    both(&mut rig, 0.0, |_| (1.6, 1.9), 30);
    assert_eq!(found(&rig, "north"), ["possible unexplained jump"]);
    // One after the other they are two jumps.
    let mut rig = Rig::start(&two_tanks());
    both(&mut rig, 0.0, |_| (2.0, 1.5), 30);
    both(&mut rig, 0.0, |_| (2.4, 1.5), 60);
    both(&mut rig, 0.0, |_| (2.4, 1.9), 30);
    for tank in ["north", "south"] {
        assert_eq!(
            found(&rig, tank),
            ["possible unexplained jump"],
            "{}",
            told(&rig)
        );
    }
}

#[test]
fn a_movement_that_the_meter_knows_is_real() {
    let site = two_tanks().replace(
        "direction = \"out\"\nat_most = \"36 m3/h\"\nflow = \"FT\"",
        "direction = \"out\"\nat_most = \"36 m3/h\"\nrunning = \"P on\"\nrate = \"36 m3/h\"",
    );
    let contact = "\n[[contact]]\ntag = \"P\"\nlink = \"skid-a\"\nbit = \"discrete 0\"\n";
    let mut rig = Rig::start(&(site + contact));
    let off = [standpipe::engine::ContactSample {
        contact: standpipe::engine::ContactId(0),
        bit: Ok(false),
    }];
    let run = |rig: &mut Rig, flow: f64, level: &dyn Fn(f64) -> f64, polls: usize| {
        for count in 0..polls {
            rig.step(standpipe::engine::Input::Read(&[], &off));
            both(rig, flow, |_| (level(count as f64), 1.5), 1);
        }
    };
    run(&mut rig, 0.0, &|_| 1.0, 30);
    // 360 m³/h into 10 m²: 10 mm/s, ten times what the site file allows.
    run(&mut rig, 360.0, &|second| 1.0 + 0.01 * second, 60);
    assert_eq!(
        found(&rig, "north"),
        ["possible movement beyond the stated flow"],
        "{}",
        told(&rig)
    );
}
