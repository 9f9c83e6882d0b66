//! Any words in the registers: the engine never panics, and no reading ever holds a number that is none.

use proptest::prelude::*;
use standpipe::engine::snapshot::Snapshot;
use standpipe::engine::{Effect, Engine, Fault, Input, Now, Plan, Reading, Sample, TransmitterId};
use standpipe::field::registers;
use standpipe::site::settings::{NumberType, WordOrder};
use standpipe::wire::{SignalForm, TankForm};
use std::path::Path;
use std::sync::{Arc, LazyLock};
use std::time::Duration;

/// No limits anywhere, so that nothing is held back; temperatures and the gas's pressure are read too.
const SITE: &str = r#"
[site]
name    = "Alder Rise"
ambient = { temperature = "TT", pressure = "PB" }
[[link]]
name = "a"
tcp  = "127.0.0.1:1502"
[[transmitter]]
tag = "TT"
link = "a"
reads = "temperature"
register = "input 0"
type = "f64"
unit = "degC"
[[transmitter]]
tag = "PB"
link = "a"
register = "input 4"
type = "f64"
measures = "absolute"
unit = "hPa"
[[transmitter]]
tag = "L1"
link = "a"
register = "input 8"
type = "f64"
measures = "gauge"
unit = "kPa"
accuracy = "0.1 kPa"
temperature_effect = "0.01 kPa / 10 K"
[[transmitter]]
tag = "L2"
link = "a"
register = "input 12"
type = "f64"
measures = "gauge"
unit = "kPa"
scale = { raw = [4000, 20000], value = [0.0, 40.0], signal = "4-20 mA" }
[[transmitter]]
tag = "D1"
link = "a"
register = "input 16"
type = "f64"
measures = "differential"
unit = "kPa"
accuracy = "0.1 kPa"
[[transmitter]]
tag = "D2"
link = "a"
register = "input 20"
type = "f64"
measures = "differential"
unit = "bar"
[[transmitter]]
tag = "B"
link = "a"
register = "input 24"
type = "f64"
measures = "absolute"
unit = "kPa"
[[transmitter]]
tag = "H"
link = "a"
register = "input 28"
type = "f64"
measures = "gauge"
unit = "kPa"
[[tank]]
name   = "vented"
vessel = { shape = "horizontal-cylinder", diameter = "2 m", length = "4 m", heads = { head = "ellipsoid" } }
liquid = { kind = "water", temperature = "TT" }
hookup = { kind = "vented", transmitter = "L1", at = "0.1 m" }
alarm  = [{ code = "LAH", watch = "level", above = "1.8 m", deadband = "0.05 m" }, { code = "RATE", watch = "rate", below = "-1 m/h" }]
stream = [{ name = "in", direction = "in", at_most = "40 m3/h" }, { name = "out", direction = "out", at_most = "40 m3/h" }]
checks = { jump = {} }
[[tank]]
name   = "current"
vessel = { shape = "sphere", diameter = "3 m" }
marks  = { working_low = "0.5 m", working_high = "2.5 m" }
liquid = { kind = "expanding", density = "850 kg/m3", at = "15 degC", coefficient = "8e-4 /K" }
hookup = { kind = "vented", transmitter = "L2", at = "0.2 m", correction = { gain = 1.01, offset = "5 mm" } }
alarm  = [{ code = "FILL", watch = "fill", above = "90 %" }, { code = "MASS", watch = "mass", below = "2 t" }]
[[tank]]
name   = "dry"
vessel = { shape = "upright-cylinder", diameter = "2 m", height = "4 m" }
liquid = { kind = "table", rows = [["5 degC", "1192 kg/m3"], ["30 degC", "1178 kg/m3"]], temperature = "TT" }
gas    = { kind = "carbon-dioxide", pressure = "H", temperature = "TT" }
hookup = { kind = "differential", transmitter = "D1", at = "0.2 m", high = { tap = "0.2 m" }, low = { tap = "3.8 m", leg = "gas" } }
alarm  = [{ code = "LAL", watch = "level", below = "0.5 m" }]
stream = [{ name = "in", direction = "in", at_most = "40 m3/h" }, { name = "out", direction = "out", at_most = "40 m3/h" }]
checks = { jump = {} }
[[tank]]
name   = "wet"
vessel = { shape = "rectangular", length = "3 m", width = "2 m", height = "4 m" }
liquid = { kind = "water", temperature = ["TT"] }
gas    = { kind = "air", pressure = "PB" }
hookup = { kind = "differential", transmitter = "D2", at = "0 m", high = { tap = "0.2 m" }, low = { tap = "3.8 m", leg = { kind = "expanding", density = "1080 kg/m3", at = "15 degC", coefficient = "5e-4 /K", temperature = "TT" } } }
alarm  = [{ code = "FLOW", watch = "net_flow", above = "20 m3/h", on_bad = "annunciate" }]
[[tank]]
name   = "two"
vessel = { shape = "upright-cylinder", diameter = "2 m", height = "4 m", bottom = { head = "hemisphere" }, top = { head = "hemisphere" } }
marks  = { overflow = "5.9 m" }
liquid = { kind = "water" }
gas    = { kind = "nitrogen", pressure = "H" }
hookup = { kind = "two-transmitter", bottom = { transmitter = "B", at = "0.3 m" }, headspace = { transmitter = "H", at = "5.8 m" } }
alarm  = [{ code = "ULL", watch = "ullage", below = "1 m3", on_bad = "clear" }]
"#;

static PLAN: LazyLock<Arc<Plan>> = LazyLock::new(|| {
    let site = standpipe::site::parse(SITE, Path::new("alder-rise.toml"));
    Arc::new(site.unwrap_or_else(|problems| panic!("{problems}")).plan)
});

const TYPES: [NumberType; 6] = [
    NumberType::I16,
    NumberType::U16,
    NumberType::I32,
    NumberType::U32,
    NumberType::F32,
    NumberType::F64,
];
const ORDERS: [WordOrder; 4] = [
    WordOrder::Abcd,
    WordOrder::Cdab,
    WordOrder::Badc,
    WordOrder::Dcba,
];

/// Words as they come, and words of numbers of every class, plausible ones among them.
fn answers() -> impl Strategy<Value = Result<f64, Fault>> {
    let any_words = (
        prop::array::uniform4(any::<u16>()),
        prop::sample::select(&TYPES[..]),
        prop::sample::select(&ORDERS[..]),
    )
        .prop_map(|(words, number, order)| {
            let words = &words[..usize::from(number.words())];
            registers::decode(words, number, order).expect("as many words as it takes")
        });
    let numbers = prop_oneof![
        proptest::num::f64::ANY,
        proptest::num::f64::SUBNORMAL,
        -400.0..400.0,
        3000.0..22_000.0,
        prop::sample::select(&[0.0, -0.0, f64::MAX, f64::MIN, f64::INFINITY, -273.15, 1e300][..]),
    ]
    .prop_map(|number| {
        let words = registers::encode(number, NumberType::F64, WordOrder::Cdab);
        let words = words.expect("64 bits hold any number");
        registers::decode(&words, NumberType::F64, WordOrder::Cdab).expect("they were four words")
    });
    prop_oneof![
        4 => any_words.prop_map(Ok),
        8 => numbers.prop_map(Ok),
        1 => Just(Err(Fault::NoAnswer)),
        1 => any::<u8>().prop_map(|code| Err(Fault::Exception(code))),
    ]
}

/// The seconds before a read, and the answer of each transmitter that was asked in it.
type Round = (f64, Vec<Option<Result<f64, Fault>>>);

fn rounds() -> impl Strategy<Value = Vec<Round>> {
    let one = prop::option::weighted(0.9, answers());
    prop::collection::vec((0.0..8.0, prop::collection::vec(one, 8)), 1..24)
}

fn numbers(reading: &Reading) -> Vec<(&'static str, Option<f64>)> {
    let mut numbers = vec![
        ("level", reading.level.map(|x| x.value)),
        ("at least", reading.level_at_least.map(|x| x.value)),
        ("at most", reading.level_at_most.map(|x| x.value)),
        ("fill", reading.fill),
        ("volume", reading.volume.map(|x| x.value)),
        ("usable", reading.usable.map(|x| x.value)),
        ("ullage", reading.ullage.map(|x| x.value)),
        ("mass", reading.mass.map(|x| x.value)),
        ("density", reading.density.map(|x| x.value)),
        ("temperature", reading.temperature.map(|x| x.value)),
        ("rate", reading.rate.map(|x| x.value)),
        ("net flow", reading.net_flow.map(|x| x.value)),
        (
            "difference",
            reading.differential_pressure.map(|x| x.0.value),
        ),
        ("U(level)", reading.level_uncertainty.map(|x| x.value)),
        ("U(volume)", reading.volume_uncertainty.map(|x| x.value)),
    ];
    let terms = reading.terms;
    numbers.extend([
        (
            "liquid column",
            terms.map(|terms| terms.liquid_column.0.value),
        ),
        ("gas column", terms.map(|terms| terms.gas_column.0.value)),
        ("high leg", terms.map(|terms| terms.high_leg.0.value)),
        ("low leg", terms.map(|terms| terms.low_leg.0.value)),
    ]);
    numbers
}

fn sound(snapshot: &Snapshot, plan: &Plan) -> Result<(), TestCaseError> {
    for (tank, plan) in snapshot.tanks.iter().zip(&plan.tanks) {
        let expanded = tank.budget.expanded();
        let budget = [
            ("U(level) by its budget", Some(expanded.level.value)),
            ("U(volume) by its budget", Some(expanded.volume.value)),
            ("U(mass) by its budget", Some(expanded.mass.value)),
        ];
        for (name, number) in numbers(&tank.reading).into_iter().chain(budget) {
            let finite = number.is_none_or(f64::is_finite);
            prop_assert!(finite, "{} of {} is {number:?}", name, tank.name);
        }
        let (bottom, top) = (
            plan.vessel.bottom() - plan.zero,
            plan.vessel.top() - plan.zero,
        );
        // Where the uncertainty is large, a level may be shown as far outside as half the height.
        let most = (top - bottom).value * 0.51;
        let within = |level: f64| level > bottom.value - most && level < top.value + most;
        for bound in [
            tank.reading.level,
            tank.reading.level_at_least,
            tank.reading.level_at_most,
        ] {
            let level = bound.map(|level| level.value);
            prop_assert!(level.is_none_or(within), "{} at {level:?}", tank.name);
        }
        parses(serde_json::to_string(&TankForm::new(tank)))?;
    }
    for signal in &snapshot.transmitters {
        let finite = signal.value.is_none_or(f64::is_finite);
        prop_assert!(finite, "{} says {:?}", signal.tag, signal.value);
        parses(serde_json::to_string(&SignalForm::new(signal)))?;
    }
    Ok(())
}

fn parses(json: serde_json::Result<String>) -> Result<(), TestCaseError> {
    let json = json.map_err(|error| TestCaseError::fail(error.to_string()))?;
    let value: serde_json::Value =
        serde_json::from_str(&json).map_err(|error| TestCaseError::fail(error.to_string()))?;
    prop_assert!(value.is_object());
    Ok(())
}

proptest! {
    #[test]
    fn no_register_makes_a_number_that_is_none(rounds in rounds()) {
        let plan = Arc::clone(&PLAN);
        let utc = "2026-03-04T05:06:07Z".parse().expect("a time");
        let mut now = Now { up: Duration::ZERO, utc };
        let mut effects = Vec::new();
        let mut engine = Engine::start(Arc::clone(&plan), None, now, &mut effects);
        for (seconds, answers) in rounds {
            let by = Duration::from_secs_f64(seconds);
            now.up += by;
            now.utc += by;
            let samples: Vec<Sample> = (0..)
                .map(TransmitterId)
                .zip(answers)
                .filter_map(|(transmitter, raw)| Some(Sample { transmitter, raw: raw? }))
                .collect();
            effects.clear();
            engine.step(now, Input::Samples(&samples), &mut effects);
            sound(&engine.snapshot(), &plan)?;
            let numberless = |text: &str| text.contains("NaN") || text.contains("inf ");
            for effect in &effects {
                if let Effect::Event(event) = effect {
                    prop_assert!(!numberless(&event.text), "{}", event.text);
                }
            }
            prop_assert!(engine.due().is_none_or(|due| due > now.up));
        }
    }
}
