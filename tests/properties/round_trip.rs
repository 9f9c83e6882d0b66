//! Level → pressures by the simulated plant → level by the engine's working, over random hookups.

use proptest::prelude::*;
use standpipe::engine::TransmitterId;
use standpipe::engine::tank::{Stated, Working};
use standpipe::plant::Plant;
use standpipe::rehearsal::{Script, scenario};
use std::fmt::Write;
use std::path::Path;

/// Both keep one density in a column; the plant takes the gas's at the opening, the engine at the
/// barometer or at the gas's tag, some metres apart: 12 Pa/m of air change a density of 2 kg/m³ by
/// 1e-4 of itself a metre, and the level by some 10 µm.
const TOLERANCE_M: f64 = 1e-4;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Vented,
    VentedSealed,
    Dry,
    Wet,
    Reversed,
    Seals,
    /// Bottom and headspace, each absolute or gauge.
    Two([bool; 2]),
}

#[derive(Clone, Debug)]
struct Case {
    kind: Kind,
    liquid: f64,
    seal: f64,
    high_tap: f64,
    span: f64,
    /// Of the span between the taps.
    level: f64,
    /// The diaphragm below the low tap; the headspace's one below its own.
    below: [f64; 2],
    gas_kpa: f64,
    air_kpa: f64,
    /// The gas pressure by the headspace's transmitter rather than as stated.
    gas_tag: bool,
    zero_pa: f64,
}

fn kinds() -> impl Strategy<Value = Kind> {
    prop_oneof![
        Just(Kind::Vented),
        Just(Kind::VentedSealed),
        Just(Kind::Dry),
        Just(Kind::Wet),
        Just(Kind::Reversed),
        Just(Kind::Seals),
        prop::array::uniform2(any::<bool>()).prop_map(Kind::Two),
    ]
}

prop_compose! {
    fn cases()(
        kind in kinds(),
        (liquid, seal) in (600.0..1900.0, 700.0..1950.0),
        (high_tap, span, level) in (0.1..1.5, 0.5..6.0, 0.03..0.97),
        below in [-0.09..4.0, -0.09..4.0],
        (gas_kpa, air_kpa) in (90.0..190.0, 90.0..105.0),
        gas_tag in any::<bool>(),
        zero_pa in -300.0..300.0,
    ) -> Case {
        Case { kind, liquid, seal, high_tap, span, level, below, gas_kpa, air_kpa, gas_tag, zero_pa }
    }
}

impl Case {
    fn upper_tap(&self) -> f64 {
        self.high_tap + self.span
    }

    fn level_m(&self) -> f64 {
        self.high_tap + self.level * self.span
    }

    fn is_vented(&self) -> bool {
        matches!(self.kind, Kind::Vented | Kind::VentedSealed)
    }

    fn measures(&self) -> [&'static str; 2] {
        let of = |absolute| if absolute { "absolute" } else { "gauge" };
        match self.kind {
            Kind::Vented => ["gauge", "gauge"],
            Kind::VentedSealed => ["sealed-gauge", "gauge"],
            Kind::Two([bottom, headspace]) => [of(bottom), of(headspace)],
            _ => ["differential", "gauge"],
        }
    }

    fn hookup(&self) -> String {
        let (at, tap, upper) = (
            self.high_tap - self.below[0],
            self.high_tap,
            self.upper_tap(),
        );
        let seal = format!(
            "{{ kind = \"constant\", density = \"{:.6} kg/m3\" }}",
            self.seal
        );
        let differential = |high: &str, low: &str, more: &str| {
            format!(
                "{{ kind = \"differential\", transmitter = \"P1\", at = \"{at:.6} m\", high = {{ tap = \"{tap:.6} m\"{high} }}, low = {{ tap = \"{upper:.6} m\", leg = {low} }}{more} }}"
            )
        };
        match self.kind {
            Kind::Vented | Kind::VentedSealed => format!(
                "{{ kind = \"vented\", transmitter = \"P1\", at = \"{at:.6} m\", high = {{ tap = \"{tap:.6} m\" }} }}"
            ),
            Kind::Dry => differential("", "\"gas\"", ""),
            Kind::Wet => differential("", &seal, ""),
            Kind::Reversed => differential("", &seal, ", reversed = true"),
            Kind::Seals => differential(&format!(", leg = {seal}"), &seal, ""),
            Kind::Two(_) => format!(
                "{{ kind = \"two-transmitter\", bottom = {{ transmitter = \"P1\", at = \"{at:.6} m\", tap = \"{tap:.6} m\" }}, headspace = {{ transmitter = \"P2\", at = \"{:.6} m\", tap = \"{upper:.6} m\", leg = \"gas\" }} }}",
                upper - self.below[1]
            ),
        }
    }

    fn site(&self) -> String {
        let mut text = format!(
            "[site]\nname = \"Alder Rise\"\ngravity = \"9.81 m/s2\"\nambient = {{ temperature = \"12 degC\", pressure = \"{:.6} kPa(a)\", at = \"1.5 m\" }}\n[[link]]\nname = \"a\"\ntcp = \"127.0.0.1:1502\"\n",
            self.air_kpa
        );
        for (place, measures) in self.measures().into_iter().enumerate() {
            let sealed = if measures == "sealed-gauge" {
                "sealed_at = \"98 kPa(a)\"\n"
            } else {
                ""
            };
            write!(
                text,
                "[[transmitter]]\ntag = \"P{}\"\nlink = \"a\"\nregister = \"input {}\"\ntype = \"f64\"\nmeasures = \"{measures}\"\n{sealed}unit = \"Pa\"\naccuracy = \"1 Pa\"\nzero = \"{:.6} Pa\"\n",
                place + 1,
                place * 4,
                self.zero_pa
            )
            .expect("text takes what is written to it");
        }
        let gas = match self.is_vented() {
            true => String::new(),
            // P2 is where the hookup has it, or at the top of the vessel.
            false if self.gas_tag => "pressure = \"P2\"".to_owned(),
            false => format!("pressure = \"{:.6} kPa(a)\"", self.gas_kpa),
        };
        write!(
            text,
            "[[tank]]\nname = \"day\"\nvessel = {{ shape = \"upright-cylinder\", diameter = \"2.2 m\", height = \"{:.6} m\", bottom = {{ head = \"cone\", depth = \"0.4 m\" }} }}\nmarks = {{ zero = \"0.2 m\" }}\nliquid = {{ kind = \"constant\", density = \"{:.6} kg/m3\" }}\n{}hookup = {}\n",
            self.upper_tap() + 0.5,
            self.liquid,
            if gas.is_empty() { String::new() } else { format!("gas = {{ kind = \"nitrogen\", {gas} }}\n") },
            self.hookup()
        )
        .expect("text takes what is written to it");
        text
    }

    fn script(&self) -> String {
        let headspace = match self.is_vented() {
            true => String::new(),
            false => format!("headspace = \"{:.6} kPa(a)\"\n", self.gas_kpa),
        };
        format!(
            "site = \"alder-rise.toml\"\nseed = 1\n[[tank]]\nname = \"day\"\nlevel = \"{:.9} m\"\n{headspace}",
            self.level_m()
        )
    }
}

proptest! {
    #[test]
    fn the_engine_finds_the_plants_level(case in cases()) {
        let path = Path::new("alder-rise.toml");
        let site = standpipe::site::parse(&case.site(), path)
            .map_err(|problems| TestCaseError::fail(format!("{problems}")))?;
        let script = Script::parse(&case.script(), path)
            .map_err(|problems| TestCaseError::fail(format!("{problems}")))?;
        let scene = scenario::plant(&site, &script)
            .map_err(|problems| TestCaseError::fail(format!("{problems}")))?;
        let plant = Plant::new(scene.plant, script.seed);
        let mut stated = Stated::new(&site.plan);
        for place in 0..site.plan.transmitters.len() {
            stated.set(&site.plan, TransmitterId(place as u32), plant.value(place));
        }
        let tank = &site.plan.tanks[0];
        let working = Working::of(&site.plan, tank, &tank.hookups[0], &stated, None);
        let Some(level) = working.level else {
            return Err(TestCaseError::fail(format!("no level: {:?}", working.reasons)));
        };
        let truth = plant.level(0);
        prop_assert!(
            (level - truth).value.abs() < TOLERANCE_M,
            "{} m, truly {} m", level.value, truth.value
        );
        // And the columns add up to the difference that was taken.
        let difference = working.difference.expect("a level has one").0.value;
        let sum = working.terms.expect("a level has them").sum().0.value;
        prop_assert!((sum - difference).abs() < 1e-6 * (1.0 + difference.abs()));
    }
}
