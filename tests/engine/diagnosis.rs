//! What diagnosis finds on a running tank, and what it says that it can't find.

use crate::rig::Rig;
use standpipe::engine::{ContactId, ContactSample, EventKind, Input, Sample, TransmitterId};

/// An open tank of 10 m² that one metered stream fills, and that a pump draws from.
const SITE: &str = r#"
[site]
name = "Alder Rise"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-101"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"

[[transmitter]]
tag = "FT-101"
link = "skid-a"
reads = "flow"
register = "input 2"
type = "f32"
unit = "m3/h"

[[contact]]
tag = "P-101"
link = "skid-a"
bit = "discrete 0"

[[tank]]
name = "clearwell"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "vented", transmitter = "LT-101", at = "0 m" }

[[tank.stream]]
name = "inlet"
direction = "in"
flow = "FT-101"

[[tank.stream]]
name = "draw"
direction = "out"
running = "P-101 on"
rate = "30 m3/h"
"#;

/// One read a second: a level in m of water column, a flow in m³/h, the pump.
fn watch(rig: &mut Rig, seconds: u32, level_m: impl Fn(u32) -> f64, flow_m3_h: f64, pump: bool) {
    for second in 0..seconds {
        rig.pass(1.0);
        let samples = [
            Sample {
                transmitter: TransmitterId(0),
                raw: Ok(level_m(second) * 9.80665),
            },
            Sample {
                transmitter: TransmitterId(1),
                raw: Ok(flow_m3_h),
            },
        ];
        let contacts = [ContactSample {
            contact: ContactId(0),
            bit: Ok(pump),
        }];
        rig.step(Input::Read(&samples, &contacts));
    }
}

fn verdicts(rig: &Rig) -> Vec<String> {
    let told = rig.events.iter();
    let told = told.filter(|event| event.kind == EventKind::Diagnosis);
    told.map(|event| event.text.clone()).collect()
}

#[test]
fn a_level_that_stands_while_liquid_flows_is_told_and_gone_once_it_moves() {
    let mut rig = Rig::start(SITE);
    // 36 m³/h into 10 m²: 1 mm/s.
    watch(&mut rig, 120, |_| 2.0, 36.0, false);
    let told = verdicts(&rig);
    assert!(
        told[0].starts_with("possible level stands still though liquid flows, failure"),
        "{told:?}"
    );
    assert!(
        told[1].starts_with("probable level stands still"),
        "{told:?}"
    );
    assert_eq!(rig.tank("clearwell").findings.len(), 1);
    watch(
        &mut rig,
        60,
        |second| 2.0 + 0.001 * f64::from(second),
        36.0,
        false,
    );
    assert_eq!(
        verdicts(&rig)[2..],
        ["level stands still though liquid flows: no longer found"]
    );
    assert!(rig.tank("clearwell").findings.is_empty());
}

#[test]
fn inflow_and_draw_that_cancel_leave_the_level_standing_rightly() {
    let mut rig = Rig::start(SITE);
    watch(&mut rig, 600, |_| 2.0, 30.0, true);
    assert_eq!(verdicts(&rig), [""; 0]);
}

#[test]
fn what_cannot_be_told_is_said() {
    let mut rig = Rig::start(&SITE.replace("flow = \"FT-101\"\n", ""));
    watch(&mut rig, 120, |_| 2.0, 36.0, false);
    assert_eq!(verdicts(&rig), [""; 0]);
    let ability = &rig.tank("clearwell").abilities[0];
    assert!(!ability.diagnosable);
    assert_eq!(
        ability.text,
        "not diagnosable here: what flows in is not known"
    );
}
