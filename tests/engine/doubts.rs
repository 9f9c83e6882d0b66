//! What is doubtful of a temperature or of the gas is doubtful of the level: the worst input wins.

use crate::rig::Rig;
use standpipe::engine::Reason;
use standpipe::engine::quality::Quality;

const SITE: &str = r#"
[site]
name = "Alder Rise"
[[link]]
name = "a"
tcp = "127.0.0.1:1502"
[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
[[transmitter]]
tag = "TT-1"
link = "a"
register = "input 2"
type = "f32"
unit = "degC"
reads = "temperature"
span = ["0 degC", "50 degC"]
[[transmitter]]
tag = "AI-1"
link = "a"
register = "input 4"
type = "u16"
unit = "kPa(g)"
scale = { raw = [4000, 20000], value = [0, 100], signal = "4-20 mA" }
[[tank]]
name = "day"
vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "water", temperature = "TT-1" }
gas = { kind = "nitrogen", pressure = "AI-1" }
[tank.hookup]
kind = "differential"
transmitter = "PT-1"
at = "0 m"
high = { tap = "0 m" }
low = { tap = "6 m", leg = "gas" }
"#;

fn rig() -> Rig {
    let mut rig = Rig::start(SITE);
    rig.poll(3, &[("PT-1", 30.0), ("TT-1", 20.0), ("AI-1", 12_000.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Good);
    rig
}

#[test]
fn a_temperature_outside_its_span() {
    let mut rig = rig();
    rig.poll(1, &[("PT-1", 30.0), ("TT-1", 58.0), ("AI-1", 12_000.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
    assert!(rig.has("day", Reason::OutsideSpan));
    assert!(rig.level_m("day").is_some(), "uncertain, not lost");
}

#[test]
fn a_temperature_that_is_only_kept() {
    let mut rig = rig();
    rig.poll(5, &[("PT-1", 30.0), ("AI-1", 12_000.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
    assert!(rig.has("day", Reason::LastValueKept));
    rig.poll(1, &[("PT-1", 30.0), ("TT-1", 20.0), ("AI-1", 12_000.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Good);
}

/// The current of the gas's transmitter bounds the gas only: the level stays a level, but a doubtful one.
#[test]
fn a_gas_pressure_between_the_bands() {
    let mut rig = rig();
    rig.poll(1, &[("PT-1", 30.0), ("TT-1", 20.0), ("AI-1", 20_700.0)]);
    assert_eq!(rig.reading("day").quality, Quality::Uncertain);
    assert!(rig.has("day", Reason::CurrentOutOfBand));
    assert!(rig.level_m("day").is_some());
}
