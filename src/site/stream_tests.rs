//! Streams, and how it is known what they carry; products.

use super::parse;
use crate::engine::plan::{Condition, StreamFlow};
use crate::engine::{ContactId, TransmitterId};
use crate::quantity::cubic_metres_per_second;
use std::path::Path;

/// A tank with a stream of each form.
pub(super) const SITE: &str = r#"
[site]
name = "Alder Rise"
[[link]]
name = "a"
tcp = "127.0.0.1:1502"
[[transmitter]]
tag = "LT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
[[transmitter]]
tag = "FT-1"
link = "a"
reads = "flow"
register = "input 2"
type = "f32"
unit = "m3/h"
[[contact]]
tag = "P-1"
link = "a"
bit = "coil 1"
[[tank]]
name = "day"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "6 m" }
liquid = { kind = "water" }
hookup = { kind = "vented", transmitter = "LT-1", at = "0 m" }
stream = [
    { name = "main", direction = "in", flow = "FT-1", at_most = "40 m3/h" },
    { name = "pump", direction = "out", running = ["P-1 on"], rate = "36 m3/h" },
    { name = "drain", direction = "out" },
]
"#;

/// What is said of the alarms of the system itself.
pub(super) const SYSTEM: &str = r#"
[system]
link = { priority = "high", on_delay = "20 s", off_delay = "5 s", response = "Look at the gateway", shelve = { at_most = "8 h" } }
device = { priority = "medium" }
journal = { priority = "low" }
clock = { priority = "low" }
notice = { priority = "highest" }
site_file = { priority = "low" }
"#;

/// The same with a choice of what is in it.
pub(super) fn with_products() -> String {
    SITE.replace(
        "liquid = { kind = \"water\" }",
        "product = [{ name = \"raw\", liquid = { kind = \"water\" } }, { name = \"brine\", liquid = { kind = \"constant\", density = \"1100 kg/m3\" } }]\ntransfer = { priority = \"high\" }",
    )
}

#[test]
fn the_first_product_is_the_liquid_until_another_is_taken() {
    let site = parse(&with_products(), Path::new("day.toml")).expect("right");
    let tank = &site.plan.tanks[0];
    let names: Vec<&str> = tank.products.iter().map(|product| &*product.name).collect();
    assert_eq!(names, ["raw", "brine"]);
    assert_eq!(tank.product().map(|product| &*product.name), Some("raw"));
    assert_eq!(tank.liquid.liquid.name(), "water");
}

#[test]
fn each_stream_says_how_it_is_known() {
    let site = parse(SITE, Path::new("day.toml")).expect("right");
    let streams = &site.plan.tanks[0].streams;
    let known: Vec<&StreamFlow> = streams.iter().map(|stream| &stream.flow).collect();
    let pump = StreamFlow::Running {
        when: vec![Condition {
            contact: ContactId(0),
            on: true,
        }],
        rate: cubic_metres_per_second(0.01),
    };
    assert_eq!(
        known,
        [
            &StreamFlow::Metered(TransmitterId(1)),
            &pump,
            &StreamFlow::Unknown
        ]
    );
}
