//! A tank at rest whose wet leg goes with the warmth of the day: the difference follows it by more than any
//! transmitter may, and nothing is wrong as long as the leg is as warm as the site file says.

use crate::normal::Chance;
use crate::rig::Rig;
use crate::sites::METERED;
use standpipe::engine::checks::finding::Fault;
use std::f64::consts::TAU;

const WARM: &str = r#"
[site]
name    = "Alder Rise"
gravity = "9.81 m/s2"
ambient = { temperature = "TT-001" }

[[link]]
name       = "skid-a"
tcp        = "127.0.0.1:1502"
poll_every = "60 s"

[[transmitter]]
tag      = "TT-001"
link     = "skid-a"
reads    = "temperature"
register = "input 0"
type     = "f64"
unit     = "degC"

[[transmitter]]
tag      = "PDT-201"
link     = "skid-a"
register = "input 4"
type     = "f64"
unit     = "Pa"
accuracy = "20 Pa"
span     = ["-60 kPa", "10 kPa"]
temperature_effect = "0.05 % / 10 K"

[[tank]]
name   = "surge"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
gas    = { kind = "nitrogen", pressure = "20 kPa(g)", temperature = "15 degC" }

[tank.hookup]
kind        = "differential"
transmitter = "PDT-201"
at          = "0.20 m"
high        = { tap = "0.20 m" }
low         = { tap = "3.60 m", leg = { kind = "expanding", density = "1080 kg/m3", at = "15 degC", coefficient = "5e-4 /K" } }
"#;

/// ρ·g·H of 3.4 m of a fill that is so warm: ρ = ρ₀/(1 + β·(t − t₀)).
fn leg_pa(celsius: f64) -> f64 {
    1080.0 / (1.0 + 5e-4 * (celsius - 15.0)) * 9.81 * 3.4
}

/// Three days at rest with 6 K of day and night. `leg`: how warm the leg is at which warmth of the air.
fn followed(seed: u64, leg: impl Fn(f64) -> f64) -> Vec<(Fault, String)> {
    let mut rig = Rig::start(&format!("{WARM}{METERED}"));
    let mut chance = Chance::new(seed);
    let phase = chance.uniform(0.0, TAU);
    for minute in 0..3 * 1440 {
        let celsius = 12.0 + 6.0 * (TAU * f64::from(minute) / 1440.0 + phase).sin();
        let difference_pa = 18_000.0 - leg_pa(leg(celsius)) + 10.0 * chance.normal();
        rig.pass(60.0);
        rig.read(&[
            ("FT-201", 0.0),
            ("FT-202", 0.0),
            ("TT-001", celsius),
            ("PDT-201", difference_pa),
        ]);
    }
    let findings = rig.tank("surge").findings;
    let found = findings.iter().map(|open| &open.finding);
    found
        .map(|finding| (finding.fault, finding.evidence.clone()))
        .collect()
}

#[test]
fn a_leg_as_warm_as_the_air_is_no_fault() {
    for seed in 0..20 {
        assert_eq!(followed(seed, |air| air), [], "seed {seed}");
    }
}

/// In the ground, or lagged: what is taken off for its expansion is wrong, by dρ/dt·g·H = 18.0 Pa/K.
#[test]
fn a_leg_that_is_not_is_told() {
    for seed in 0..20 {
        let found = followed(seed, |_| 15.0);
        let [(Fault::FollowsTemperature, text)] = &found[..] else {
            panic!("seed {seed}: {found:?}");
        };
        let slope = text.split("went by ").nth(1);
        let slope = slope.and_then(|rest| rest.split(' ').next()?.parse::<f64>().ok());
        let slope = slope.unwrap_or_else(|| panic!("{text}"));
        assert!((-18.4..=-17.8).contains(&slope), "seed {seed}: {text}");
    }
}
