//! Products chosen in any order, at any time: the reading is that of an engine which never knew another.

use proptest::prelude::*;
use standpipe::engine::{
    Command, CommandId, Effect, Engine, Input, Now, Plan, Reading, Sample, TransmitterId,
};
use standpipe::quantity::Timestamp;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// One way to measure, with what can be in its tank.
#[derive(Clone, Copy, Debug)]
struct Kind {
    transmitters: &'static [&'static str],
    /// What the transmitters show of an empty and of a full tank, about.
    shows: [(f64, f64); 3],
    hookup: &'static str,
    liquids: &'static [&'static str],
}

const LIQUIDS: &[&str] = &[
    r#"{ kind = "constant", density = "1000 kg/m3", uncertainty = "2 kg/m3" }"#,
    r#"{ kind = "constant", density = "790 kg/m3" }"#,
    r#"{ kind = "petroleum", group = "refined", density = "845 kg/m3", at = "15 degC", temperature = "31 degC" }"#,
    r#"{ kind = "expanding", density = "1190 kg/m3", at = "20 degC", coefficient = "4e-4 /K", temperature = "ambient" }"#,
];

const KINDS: [Kind; 5] = [
    Kind {
        transmitters: &[r#"unit = "kPa""#],
        shows: [(0.0, 85.0); 3],
        // 2.3 m of the tank's own liquid stand in its high leg.
        hookup: r#"hookup = { kind = "vented", transmitter = "PT-0", at = "-2 m", high = { tap = "0.3 m" } }"#,
        liquids: LIQUIDS,
    },
    Kind {
        transmitters: &[r#"unit = "kPa""#],
        shows: [(-60.0, 20.0); 3],
        hookup: r#"hookup = { kind = "differential", transmitter = "PT-0", at = "-1 m", high = { tap = "0.3 m" }, low = { tap = "5.8 m", leg = { kind = "constant", density = "1060 kg/m3" } } }"#,
        liquids: LIQUIDS,
    },
    Kind {
        transmitters: &[
            r#"unit = "kPa(a)""#,
            r#"unit = "kPa(a)""#,
            r#"unit = "kPa(a)""#,
        ],
        // Often with the level below the middle: then the density is held, or as stated.
        shows: [(101.0, 150.0), (101.0, 130.0), (101.0, 101.5)],
        hookup: r#"hookup = { kind = "three-transmitter", bottom = { transmitter = "PT-0", at = "0.2 m" }, middle = { transmitter = "PT-1", at = "2.2 m" }, headspace = { transmitter = "PT-2", at = "5.9 m" } }"#,
        liquids: LIQUIDS,
    },
    Kind {
        transmitters: &["unit = \"m\"\nreads = \"level\""],
        shows: [(0.0, 6.0); 3],
        hookup: r#"hookup = { kind = "level", transmitter = "PT-0", zero = "0.2 m", full = "5.8 m", ranged_for = { density = "1000 kg/m3" } }"#,
        liquids: LIQUIDS,
    },
    Kind {
        transmitters: &[r#"unit = "kPa""#],
        shows: [(-45.0, 10.0); 3],
        hookup: r#"gas = { kind = "from-liquid" }
hookup = { kind = "differential", transmitter = "PT-0", at = "0 m", high = { tap = "0.3 m" }, low = { tap = "5.8 m", leg = { kind = "constant", density = "800 kg/m3" } } }"#,
        liquids: &[
            r#"{ kind = "saturated-table", rows = [["0 degC", "528 kg/m3", "10 kg/m3"], ["30 degC", "485 kg/m3", "24 kg/m3"]], temperature = "12 degC" }"#,
            r#"{ kind = "saturated-table", rows = [["0 degC", "600 kg/m3", "3 kg/m3"], ["30 degC", "560 kg/m3", "8 kg/m3"]], temperature = "12 degC" }"#,
            r#"{ kind = "saturated-table", rows = [["0 degC", "638 kg/m3", "3.5 kg/m3"], ["30 degC", "595 kg/m3", "9 kg/m3"]], temperature = "12 degC" }"#,
        ],
    },
];

impl Kind {
    fn plan(&self, contents: &str) -> Arc<Plan> {
        let mut text = "[site]\nname = \"Alder Rise\"\n[[link]]\nname = \"skid-a\"\ntcp = \"127.0.0.1:1502\"\n".to_owned();
        for (place, unit) in self.transmitters.iter().enumerate() {
            text += &format!(
                "[[transmitter]]\ntag = \"PT-{place}\"\nlink = \"skid-a\"\nregister = \"input {}\"\ntype = \"f32\"\naccuracy = \"0.1 %\"\nspan = [{}]\n{unit}\n",
                2 * place,
                match unit {
                    unit if unit.contains("(a)") => "\"90 kPa(a)\", \"200 kPa(a)\"",
                    unit if unit.contains("reads") => "\"0 m\", \"6 m\"",
                    _ => "\"-65 kPa\", \"90 kPa\"",
                }
            );
        }
        text += &format!(
            "[[tank]]\nname = \"store\"\nvessel = {{ shape = \"upright-cylinder\", diameter = \"4.2 m\", height = \"6.0 m\", bottom = {{ head = \"cone\", depth = \"0.4 m\" }} }}\n{contents}\n{}\n",
            self.hookup
        );
        let site = standpipe::site::parse(&text, Path::new("alder-rise.toml"));
        Arc::new(site.unwrap_or_else(|problems| panic!("{problems}")).plan)
    }

    fn with_products(&self) -> Arc<Plan> {
        let products = self.liquids.iter().enumerate();
        let products: Vec<String> = products
            .map(|(place, liquid)| format!("{{ name = \"p{place}\", liquid = {liquid} }}"))
            .collect();
        self.plan(&format!("product = [{}]", products.join(", ")))
    }

    fn with_one(&self, place: usize) -> Arc<Plan> {
        self.plan(&format!("liquid = {}", self.liquids[place]))
    }
}

#[derive(Clone, Debug)]
enum Doing {
    /// A product, by its place among however many there are.
    Choose(usize),
    /// What each transmitter shows, as a share of its range.
    Read([f64; 3]),
}

fn doings() -> impl Strategy<Value = Vec<Doing>> {
    let one = prop_oneof![
        1 => (0_usize..12).prop_map(Doing::Choose),
        3 => prop::array::uniform3(0.0..1.0_f64).prop_map(Doing::Read),
    ];
    prop::collection::vec(one, 1..40)
}

struct Run {
    engine: Engine,
    effects: Vec<Effect>,
}

impl Run {
    fn of(plan: Arc<Plan>, now: Now) -> Self {
        let mut effects = Vec::new();
        let engine = Engine::start(plan, None, now, &mut effects);
        Self { engine, effects }
    }

    fn read(&mut self, now: Now, raw: &[f64]) {
        let sample = |(place, raw): (usize, &f64)| Sample {
            transmitter: TransmitterId(place as u32),
            raw: Ok(*raw),
        };
        let samples: Vec<Sample> = raw.iter().enumerate().map(sample).collect();
        self.engine
            .step(now, Input::Samples(&samples), &mut self.effects);
        self.effects.clear();
    }

    /// Whether that changed anything.
    fn choose(&mut self, now: Now, place: usize) -> bool {
        let command = Command::ChooseProduct {
            tank: "store".into(),
            product: format!("p{place}"),
            by: "Ada".into(),
        };
        let input = Input::Command(CommandId(0), command);
        self.engine.step(now, input, &mut self.effects);
        let mut effects = self.effects.drain(..);
        effects.any(|effect| matches!(effect, Effect::Answer(_, Ok(_))))
    }

    /// The reading by then: the last values may be old.
    fn reading(&mut self, now: Now) -> Reading {
        self.engine.step(now, Input::Tick, &mut self.effects);
        self.engine.snapshot().tanks[0].reading
    }
}

/// What a fresh engine that is shown these reads makes of them by the end.
fn fresh(plan: &Arc<Plan>, reads: &[(Now, Vec<f64>)], (start, end): (Now, Now)) -> Reading {
    let mut run = Run::of(Arc::clone(plan), start);
    for (now, raw) in reads {
        run.read(*now, raw);
    }
    run.reading(end)
}

proptest! {
    #[test]
    fn what_was_in_the_tank_before_leaves_no_trace(kind in 0_usize..KINDS.len(), doings in doings()) {
        let kind = KINDS[kind];
        let start = Now { up: Duration::ZERO, utc: Timestamp::UNIX_EPOCH };
        let mut run = Run::of(kind.with_products(), start);
        let (mut now, mut product) = (start, 0);
        // Since the product was chosen; and the last read before that, which the choice is worked out from.
        let (mut reads, mut held) = (Vec::new(), None);
        for doing in doings {
            now.up += Duration::from_secs(1);
            now.utc += Duration::from_secs(1);
            match doing {
                Doing::Choose(place) => {
                    let place = place % kind.liquids.len();
                    prop_assert_eq!(run.choose(now, place), place != product);
                    if place != product {
                        product = place;
                        held = reads.pop().or(held);
                        reads.clear();
                    }
                }
                Doing::Read(shares) => {
                    let raw = shares.iter().zip(kind.shows).take(kind.transmitters.len());
                    let raw: Vec<f64> = raw.map(|(share, (low, high))| low + share * (high - low)).collect();
                    run.read(now, &raw);
                    reads.push((now, raw));
                }
            }
        }
        let is = run.reading(now);
        let plan = kind.with_one(product);
        let all: Vec<_> = held.iter().chain(&reads).cloned().collect();
        // A tank that was never read has no reading to compare; choosing its product works one out all the same.
        prop_assume!(!all.is_empty());
        let should = fresh(&plan, &all, (start, now));
        prop_assert_eq!(is.reasons, should.reasons);
        prop_assert_eq!(
            (is.level, is.level_at_least, is.level_at_most),
            (should.level, should.level_at_least, should.level_at_most)
        );
        prop_assert_eq!((is.volume, is.mass, is.density), (should.volume, should.mass, should.density));
        prop_assert_eq!(is.standard_volume, should.standard_volume);
        // Slopes by differences, rounded at some 1e-9 of themselves, may be kept from another reading.
        for (is, should) in [
            (is.level_uncertainty.map(|it| it.value), should.level_uncertainty.map(|it| it.value)),
            (is.mass_uncertainty.map(|it| it.value), should.mass_uncertainty.map(|it| it.value)),
        ] {
            let near = is.zip(should).is_none_or(|(is, should)| (is - should).abs() <= 1e-7 * should.abs());
            prop_assert!(is.is_some() == should.is_some() && near, "{:?} {:?}", is, should);
        }
        // The rate knows nothing of levels from before the choice. Where a density that was read before it was in force
        // for a while, levels after it are others than without.
        let should = fresh(&plan, &reads, (start, now));
        let by_density = |reads: &[(Now, Vec<f64>)]| {
            let is = fresh(&plan, reads, (start, reads.last().map_or(now, |(at, _)| *at)));
            (is.reasons, is.density)
        };
        let before = all.len() - reads.len();
        let mut each = 1..=reads.len();
        if each.all(|count| by_density(&all[..before + count]) == by_density(&reads[..count])) {
            prop_assert_eq!((is.rate, is.rate_standard_error), (should.rate, should.rate_standard_error));
        }
    }
}
