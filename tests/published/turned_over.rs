//! Pressures that `convert` is told against another zero than the transmitter's: turned over by the air at
//! its own height.
//!
//! Sources: hydrostatics, p(z) = p + ρ·g·(z₀ − z); dry air as ideal gas, ρ = pM/RT with 8.314 462 6 J/(mol K)
//! and 28.965 46 g/mol (CIPM-2007).

use crate::arrangements::{site, transmitter};
use crate::program::{SiteFile, number};

const AIR_PA: f64 = 99_000.0;
/// How far the transmitter hangs below the barometer, m.
const DEEP_M: f64 = 40.0;

/// A deep well of water in air of 20 °C, the barometer at its rim.
fn well(measures: &str) -> SiteFile {
    let tank = format!(
        r#"[tank.liquid]
kind = "constant"
density = "1000 kg/m3"

[tank.hookup]
kind = "vented"
transmitter = "LT-1"
at = "-{DEEP_M} m"

[tank.marks]
zero = "{DEEP_M} m"
"#
    );
    let text = site(9.80665, &transmitter("LT-1", 0, measures), 45.0, &tank);
    SiteFile::new(&text.replace("100977.6 Pa", &format!("{AIR_PA} Pa")))
}

fn level_m(file: &SiteFile, setting: &str) -> f64 {
    number(&file.reading("vessel", &[setting]), "level_m")
}

/// The air 40 m down: 466 Pa more than at the barometer, 48 mm of water.
fn deep_air_pa() -> f64 {
    let air_kg_m3 = AIR_PA * 28.965_46e-3 / (8.314_462_6 * 293.15);
    AIR_PA + air_kg_m3 * 9.80665 * DEEP_M
}

#[test]
fn above_vacuum_on_a_gauge_transmitter() {
    let file = well("measures = \"gauge\"");
    let gauge = level_m(&file, "LT-1=60 kPa(g)");
    let setting = format!("LT-1={} Pa(a)", 60_000.0 + deep_air_pa());
    let off = level_m(&file, &setting) - gauge;
    assert!(off.abs() < 1e-6, "{off}");
}

#[test]
fn above_the_air_on_a_sealed_gauge() {
    let file = well("measures = \"sealed-gauge\"\nsealed_at = \"101.325 kPa(a)\"");
    let plain = level_m(&file, "LT-1=60 kPa");
    // Shown 60 kPa above 101.325 kPa: above vacuum, and above the air.
    let absolute_pa = 60_000.0 + 101_325.0;
    let absolute = level_m(&file, &format!("LT-1={absolute_pa} Pa(a)"));
    let gauge = level_m(
        &file,
        &format!("LT-1={} Pa(g)", absolute_pa - deep_air_pa()),
    );
    for (what, level) in [("absolute", absolute), ("gauge", gauge)] {
        assert!((level - plain).abs() < 1e-6, "{what}: {level}, {plain}");
    }
}
