//! From a site file to a level: liquids whose density hangs on a pressure or on a register.

use super::{Site, parse};
use crate::engine::TransmitterId;
use crate::engine::quality::{Quality, Reason};
use crate::engine::signal::SignalValue;
use crate::engine::tank::{Signals, Working};
use crate::quantity::ZERO_CELSIUS_K;
use approx::assert_abs_diff_eq;
use std::path::Path;

/// What each transmitter says now, and what it said last, by their places in the file.
struct Says(Vec<(SignalValue, Option<f64>)>);

impl Says {
    fn good(values: &[f64]) -> Self {
        let stated = values
            .iter()
            .map(|value| (SignalValue::stated(*value), Some(*value)));
        Self(stated.collect())
    }

    fn bad(mut self, place: usize, reason: Reason, last: Option<f64>) -> Self {
        let nothing = SignalValue {
            reasons: reason.into(),
            ..SignalValue::default()
        };
        self.0[place] = (nothing, last);
        self
    }
}

impl Signals for Says {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        self.0[transmitter.index()].0
    }
    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        self.0[transmitter.index()].1
    }
}

fn site(text: &str) -> Site {
    parse(text, Path::new("site.toml")).unwrap_or_else(|problems| panic!("{problems}"))
}

fn text(transmitters: &str, tank: &str) -> String {
    format!(
        r#"
[site]
name = "Alder Rise"
ambient = {{ temperature = "40 degC", pressure = "101325 Pa" }}

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"
{transmitters}
[[tank]]
name = "drum"
vessel = {{ shape = "upright-cylinder", diameter = "1.2 m", height = "1.0 m" }}
{tank}
"#
    )
}

fn transmitter(tag: &str, place: usize, rest: &str) -> String {
    format!(
        "[[transmitter]]\ntag = \"{tag}\"\nlink = \"skid-a\"\nregister = \"input {}\"\ntype = \"f32\"\n{rest}\n",
        2 * place
    )
}

fn working(text: &str, says: &Says) -> Working {
    let plan = site(text).plan;
    let tank = &plan.tanks[0];
    Working::of(&plan, tank, &tank.hookups[0], says, None)
}

const PDT: &str = "measures = \"differential\"\nunit = \"Pa\"";

fn drum(pressure: &str, gas: &str) -> String {
    let transmitters = [
        transmitter("PDT-1", 0, PDT),
        transmitter("PT-1", 1, "unit = \"Pa(g)\""),
    ];
    text(
        &transmitters.concat(),
        &format!(
            r#"
liquid = {{ kind = "saturated-water", pressure = "{pressure}" }}
gas = {{ {gas} }}
[tank.hookup]
kind = "differential"
transmitter = "PDT-1"
at = "0 m"
high = {{ tap = "0 m" }}
low = {{ tap = "0.8 m", leg = {{ kind = "compressed-water", temperature = "ambient" }} }}
"#
        ),
    )
}

/// A row of `tests/published/data/boiler-drum.csv`: 0.2 MPa(a), leg at 40 °C, taps 0.8 m apart, level 0.4 m.
#[test]
fn a_drum_is_worked_out_at_its_own_pressure() {
    for (pressure, gas) in [
        ("PT-1", "kind = \"from-liquid\""),
        ("0.098675 MPa(g)", "kind = \"from-liquid\""),
        ("0.2 MPa(a)", "kind = \"steam\""),
        ("PT-1", "kind = \"steam\", pressure = \"0.2 MPa(a)\""),
    ] {
        let working = working(
            &drum(pressure, gas),
            &Says::good(&[-4_081.413_12, 98_675.0]),
        );
        assert_eq!(
            working.reasons.quality(),
            Quality::Good,
            "{pressure}, {gas}"
        );
        let level = working.level.expect("it is between the taps");
        assert_abs_diff_eq!(level.value, 0.4, epsilon = 1e-4);
        let around = working.surroundings;
        assert_abs_diff_eq!(around.gas.value.value, 1.129_005_8, epsilon = 1e-6);
        assert_abs_diff_eq!(working.low_leg.value.value, 992.267_43, epsilon = 1e-4);
        let boiling_c = around.liquid_temperature.value - ZERO_CELSIUS_K;
        assert_abs_diff_eq!(boiling_c, 120.211_5, epsilon = 1e-3);
    }
}

#[test]
fn a_drum_without_its_pressure_says_that_a_stand_in_is_taken() {
    let says = Says::good(&[-4081.4, 0.0]).bad(1, Reason::NoAnswer, Some(98_675.0));
    let working = working(&drum("PT-1", "kind = \"from-liquid\""), &says);
    assert!(working.reasons.has(Reason::ConditionAssumed));
    assert_abs_diff_eq!(working.level.expect("kept").value, 0.4, epsilon = 1e-3);
}

fn measured(otherwise: &str) -> String {
    let transmitters = [
        transmitter("LT-1", 0, "measures = \"gauge\"\nunit = \"Pa\""),
        transmitter(
            "DT-1",
            1,
            "reads = \"density\"\nunit = \"kg/m3\"\naccuracy = \"1 kg/m3\"",
        ),
    ];
    text(
        &transmitters.concat(),
        &format!(
            "liquid = {{ kind = \"measured\", density = \"DT-1\"{otherwise} }}\nhookup = {{ kind = \"vented\", transmitter = \"LT-1\", at = \"0 m\" }}"
        ),
    )
}

#[test]
fn a_measured_density_makes_the_level() {
    // 0.5 m of 1200 kg/m³ less the air that it displaces: 9.80665 · 0.5 · (1200 − 1.13) Pa
    let head_pa = 9.806_65 * 0.5 * (1200.0 - 1.127);
    let good = working(&measured(""), &Says::good(&[head_pa, 1200.0]));
    assert_eq!(good.reasons.quality(), Quality::Good);
    assert_abs_diff_eq!(good.level.expect("level").value, 0.5, epsilon = 1e-5);
    // a half-width of 1 kg/m³, rectangular, k = 2
    let uncertainty = good.surroundings.liquid.uncertainty.value;
    assert_abs_diff_eq!(uncertainty, 2.0 / 3.0f64.sqrt(), epsilon = 1e-12);
}

#[test]
fn a_bad_density_register_is_told_and_stood_in_for() {
    let head_pa = 5880.0;
    let of = |otherwise: &str, says: Says| {
        let working = working(&measured(otherwise), &says);
        (working.surroundings.liquid.value.value, working.reasons)
    };
    let says = |last| Says::good(&[head_pa, 0.0]).bad(1, Reason::NoAnswer, last);
    let (kept, reasons) = of("", says(Some(1190.0)));
    assert_eq!((kept, reasons), (1190.0, Reason::DensityKept.into()));
    // A register that is alive and tells no liquid's density is as bad.
    let mut absurd = Says::good(&[head_pa, 3.0]);
    absurd.0[1].1 = Some(3.0);
    let (_, reasons) = of("", absurd);
    assert!(reasons.has(Reason::DensityUnknown));
    assert_eq!(reasons.quality(), Quality::Bad);
    let (assumed, reasons) = of(STATED, says(None));
    assert_eq!((assumed, reasons), (1150.0, Reason::DensityAssumed.into()));
    let waiting = Says::good(&[head_pa, 0.0]).bad(1, Reason::WaitingForData, None);
    assert!(of("", waiting).1.has(Reason::WaitingForData));
}

/// A liquid of each form, and the densities that it lies between at 40 °C or its own temperature.
const FORMS: [(&str, f64, f64); 7] = [
    (
        r#"kind = "petroleum", group = "refined", density = "745 kg/m3", at = "15 degC", temperature = "30 degC""#,
        728.0,
        735.0,
    ),
    (
        r#"kind = "petroleum", group = "crude", density = "35 degAPI", at = "60 degF""#,
        825.0,
        840.0,
    ),
    (
        r#"kind = "ethylene-glycol", share = "50 %""#,
        1050.0,
        1056.0,
    ),
    (
        r#"kind = "propylene-glycol", share = "30 %", temperature = "10 degC""#,
        1026.0,
        1030.0,
    ),
    (
        r#"kind = "sea-water", salinity = "35 g/kg""#,
        1017.5,
        1018.2,
    ),
    (
        r#"kind = "compressed-water", temperature = "40 degC", pressure = "7 MPa(a)""#,
        995.2,
        995.3,
    ),
    (
        r#"kind = "saturated-table", rows = [["0 degC", "528 kg/m3", "10 kg/m3"], ["50 degC", "448 kg/m3", "38 kg/m3"]]"#,
        463.9,
        464.1,
    ),
];

const STATED: &str = ", otherwise = { kind = \"constant\", density = \"1150 kg/m3\" }";

fn closed(liquid: &str) -> String {
    let tank = format!(
        "liquid = {{ {liquid} }}\ngas = {{ density = \"2 kg/m3\" }}\nhookup = {{ kind = \"differential\", transmitter = \"PDT-1\", at = \"0 m\", high = {{ tap = \"0 m\" }}, low = {{ tap = \"0.9 m\", leg = \"gas\" }} }}"
    );
    text(&transmitter("PDT-1", 0, PDT), &tank)
}

/// Sites with every key that a liquid can have.
pub(super) fn texts() -> Vec<String> {
    let mut texts: Vec<String> = FORMS.iter().map(|(liquid, _, _)| closed(liquid)).collect();
    texts.push(drum("PT-1", "kind = \"from-liquid\""));
    texts.push(measured(STATED));
    texts
}

#[test]
fn every_liquid_is_read_from_its_form() {
    for (liquid, low_kg_m3, high_kg_m3) in FORMS {
        let working = working(&closed(liquid), &Says::good(&[2000.0]));
        let density = working.surroundings.liquid.value.value;
        assert!(
            (low_kg_m3..high_kg_m3).contains(&density),
            "{liquid}: {density}"
        );
        assert_eq!(working.reasons.quality(), Quality::Good, "{liquid}");
    }
}
