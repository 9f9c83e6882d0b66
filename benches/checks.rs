//! What the checks cost: nanoseconds a sample, each by itself over some days of noise read once a second, slow work
//! included; and what share that is of all that the engine does with such a sample in the same run.
//!
//! Prints and judges nothing. Of several runs the least counts: what else the machine does only makes them longer.

#![expect(clippy::print_stdout, reason = "a benchmark prints its result")]
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg32;
use standpipe::engine::checks::flat::FlatWatch;
use standpipe::engine::checks::follows::{OutsideBlock, OutsideWatch};
use standpipe::engine::checks::idle::{IdleWatch, RestBlock};
use standpipe::engine::checks::jump::{JumpSample, JumpWatch};
use standpipe::engine::checks::lines::{LineBlock, LinesWatch};
use standpipe::engine::checks::monitor::NoiseMonitor;
use standpipe::engine::checks::redundant::PairWatch;
use standpipe::engine::checks::seen::{Flows, Seen};
use standpipe::engine::checks::signal::SignalWatch;
use standpipe::engine::checks::spike::SpikeWatch;
use standpipe::engine::checks::verdict::Felt;
use standpipe::engine::rate::RateWindow;
use standpipe::engine::rounds::held::{Held, HeldReadings};
use standpipe::engine::signal::SignalValue;
use standpipe::engine::trend::Trend;
use standpipe::engine::{Engine, Input, Now, Quality, Reasons, Sample, TransmitterId};
use standpipe::quantity::{Timestamp, metres};
use standpipe::site::Site;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

const POLL: Duration = Duration::from_secs(1);
const POLLS: usize = 200_000;
const RUNS: usize = 5;
/// Of the means that slow checks see.
const PERIOD: usize = 5;
const PASCALS_PER_METRE: f64 = 9800.0;
/// Of a number in pascals.
const RESOLUTION_M: f64 = 1.0 / PASCALS_PER_METRE;

/// A tank that every check has something to do with, but for one: its two levels.
const SITE: &str = r#"
[site]
name    = "Alder Rise"
ambient = { temperature = "TT-001", pressure = "PT-001" }

[[link]]
name = "skid-a"
tcp  = "127.0.0.1:1502"

[[transmitter]]
tag      = "LT-1"
link     = "skid-a"
register = "input 0"
type     = "f64"
unit     = "Pa"
accuracy = "20 Pa"
temperature_effect = "0.05 % / 10 K"
span     = ["0 kPa", "60 kPa"]

[[transmitter]]
tag      = "LT-2"
link     = "skid-a"
register = "input 4"
type     = "f64"
unit     = "Pa"
accuracy = "20 Pa"
temperature_effect = "0.05 % / 10 K"
span     = ["0 kPa", "60 kPa"]

[[transmitter]]
tag      = "TT-001"
link     = "skid-a"
reads    = "temperature"
register = "input 8"
type     = "f64"
unit     = "degC"

[[transmitter]]
tag      = "PT-001"
link     = "skid-a"
measures = "absolute"
register = "input 12"
type     = "f64"
unit     = "Pa"

[[tank]]
name   = "clearwell"
vessel = { shape = "upright-cylinder", diameter = "4.2 m", height = "6.0 m" }
liquid = { kind = "water", temperature = "12 degC" }
hookup = [
  { name = "first", kind = "vented", transmitter = "LT-1", at = "0.10 m" },
  { name = "second", kind = "vented", transmitter = "LT-2", at = "0.10 m" },
]
choose = { level = "first", disagree = { by = "200 mm", for = "60 s" } }

[tank.checks]
jump     = {}
spike    = {}
plugging = {}

[[tank.stream]]
name      = "inlet"
direction = "in"
at_most   = "40 m3/h"

[[tank.stream]]
name      = "draw"
direction = "out"
at_most   = "40 m3/h"

[[tank.alarm]]
code     = "LAH"
watch    = "level"
above    = "5.4 m"
deadband = "0.05 m"
"#;

fn main() {
    let (site, noise) = (site(), noise());
    println!("ns a sample of a tank read once a second:");
    let line = |name: &str, each: f64| println!("  {name:28} {each:6.1}");
    let measured = |(name, run): Check| {
        let each = least(|| run(&site, &noise));
        line(name, each);
        each
    };
    let checks: f64 = checks().into_iter().map(measured).sum();
    line("all checks", checks);
    let rate = measured(("rate of the last minute", rate));
    let diagnosis = checks + measured(("that rate, and the forecast", trend)) - rate;
    line("all checks and the forecast", diagnosis);
    let all = measured(("the engine with all of it", engine));
    println!(
        "  checks and forecast are {:.2} of that, the rate that is shown {:.2}",
        diagnosis / all,
        rate / all
    );
}

/// When, and what.
type Polled = (Now, f64);

type Check = (&'static str, fn(&Site, &[Polled]));

fn checks() -> Vec<Check> {
    vec![
        ("signal: frozen, recurring", signal),
        ("jump", jump),
        ("single wild sample", spike),
        ("flat while it should move", flat),
        ("noise of the line", monitor),
        ("impulse lines", lines),
        ("movement at rest", idle),
        ("follows the air", outside),
        ("redundant levels", pair),
        ("readings kept for entries", held),
    ]
}

fn signal(site: &Site, noise: &[Polled]) {
    let mut watch = SignalWatch::default();
    for &(now, value) in noise {
        let said = SignalValue::stated(value);
        watch.take(&site.plan.transmitters[0], now, Ok(value), said);
    }
    black_box(watch);
}

fn jump(site: &Site, noise: &[Polled]) {
    let (mut watch, tank) = (JumpWatch::default(), &site.plan.tanks[0]);
    let check = tank.jump.as_ref().expect("the site has it");
    for &(now, value) in noise {
        let sample = JumpSample {
            up: now.up,
            level: metres(value / PASCALS_PER_METRE),
            headspace_pa: None,
            pascals_per_metre: PASCALS_PER_METRE,
            felt: Felt {
                ports_pa: None,
                value: Some(value),
                leg_pa: None,
            },
        };
        black_box(watch.take(check, tank.vessel.at(None), tank.zero, sample));
    }
}

fn spike(_: &Site, noise: &[Polled]) {
    let mut watch = SpikeWatch::default();
    for &(now, value) in noise {
        watch.take(now.up, value, |time| 7.0 * time.as_secs_f64());
    }
    black_box(watch);
}

fn flat(_: &Site, noise: &[Polled]) {
    let mut watch = FlatWatch::default();
    for &(now, value) in noise {
        let seen = Seen {
            now,
            quality: Quality::Good,
            reasons: Reasons::NONE,
            level_m: Some(value / PASCALS_PER_METRE),
            level_sigma_m: Some(0.005),
            volume_m3: Some(42.0),
            mass_kg: Some(42_000.0),
            area_m2: Some(13.85),
            difference_pa: Some(value),
            headspace_pa: None,
            pascals_per_metre: PASCALS_PER_METRE,
            flows: Flows {
                in_m3_s: Some(0.001),
                out_m3_s: Some(0.001),
                ..Flows::default()
            },
            ambient_k: None,
            barometer_pa: None,
            at_rest: Some(false),
        };
        watch.take(&seen, RESOLUTION_M);
    }
    black_box(watch);
}

fn rate(_: &Site, noise: &[Polled]) {
    let mut window = RateWindow::new(POLL);
    for &(now, value) in noise {
        window.add(now.up, value);
    }
    black_box(window);
}

fn trend(_: &Site, noise: &[Polled]) {
    let mut trend = Trend::new(POLL);
    for &(now, value) in noise {
        trend.add(now.up, value);
    }
    black_box(trend);
}

fn monitor(_: &Site, noise: &[Polled]) {
    let mut watch = NoiseMonitor::default();
    for &(now, value) in noise {
        watch.take(now, Some(value), 1);
    }
    black_box(watch);
}

fn lines(_: &Site, noise: &[Polled]) {
    let mut watch = LinesWatch::default();
    for &(now, value) in periods(noise) {
        watch.take(LineBlock {
            up: now.up,
            difference_pa: value,
            // Moves by 10 σ in some minutes.
            headspace_pa: Some(now.up.as_secs_f64()),
            head_pa: Some(value),
            source: 1,
            fastest_pa_s: None,
        });
    }
    black_box(watch);
}

fn idle(_: &Site, noise: &[Polled]) {
    let mut watch = IdleWatch::default();
    for &(now, value) in periods(noise) {
        watch.take(Some(RestBlock {
            up: now.up,
            hour: (now.up.as_secs() / 3600 % 24) as u8,
            mass_kg: value,
            ambient_k: Some(285.0),
        }));
    }
    black_box(watch);
}

fn outside(_: &Site, noise: &[Polled]) {
    let mut watch = OutsideWatch::default();
    for &(now, value) in periods(noise) {
        watch.take(Some(OutsideBlock {
            up: now.up,
            head_pa: value,
            ambient_k: Some(285.0 + 1e-5 * value),
            barometer_pa: Some(100_000.0 + 0.1 * value),
        }));
    }
    black_box(watch);
}

fn pair(_: &Site, noise: &[Polled]) {
    let mut watch = PairWatch::default();
    for &(now, value) in periods(noise) {
        watch.take(now.up, 1e-4 * (value - 30_000.0), 0.005);
    }
    black_box(watch);
}

fn held(_: &Site, noise: &[Polled]) {
    let mut readings = HeldReadings::default();
    for &(now, value) in noise {
        let (level_m, sigma_m) = (value / PASCALS_PER_METRE, 0.005);
        readings.take(now.up, Held { level_m, sigma_m });
    }
    black_box(readings);
}

/// All of it, with balance, budget and alarm.
fn engine(site: &Site, noise: &[Polled]) {
    let mut effects = Vec::new();
    let mut engine = Engine::start(Arc::new(site.plan.clone()), None, moment(0), &mut effects);
    for &(now, value) in noise {
        let said = [value, value + 3.0, 12.0, 100_000.0 + 0.1 * value];
        let samples = [0, 1, 2, 3].map(|place: u32| Sample {
            transmitter: TransmitterId(place),
            raw: Ok(said[place as usize]),
        });
        engine.step(now, Input::Samples(&samples), &mut effects);
        effects.clear();
    }
    black_box(engine.snapshot());
}

fn site() -> Site {
    let site = standpipe::site::parse(SITE, Path::new("alder-rise.toml"));
    site.unwrap_or_else(|problems| panic!("{problems}"))
}

fn noise() -> Vec<Polled> {
    let mut chance = Pcg32::new(1, 7);
    let mut normal = || -> f64 { StandardNormal.sample(&mut chance) };
    let polls = (0..POLLS as u64).map(moment);
    polls.map(|now| (now, 30_000.0 + 20.0 * normal())).collect()
}

fn moment(second: u64) -> Now {
    let up = POLL * second as u32;
    Now {
        up,
        utc: Timestamp::UNIX_EPOCH + up,
    }
}

fn periods(polled: &[Polled]) -> impl Iterator<Item = &Polled> {
    polled.iter().step_by(PERIOD)
}

/// ns a poll.
fn least(run: impl Fn()) -> f64 {
    let once = |_| {
        let begun = Instant::now();
        run();
        begun.elapsed()
    };
    let least = (0..RUNS).map(once).min().unwrap_or_default();
    least.as_nanos() as f64 / POLLS as f64
}
