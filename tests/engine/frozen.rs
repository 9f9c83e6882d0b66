//! Frozen numbers: found where the noise lets them be told, never on a healthy signal, and where a healthy
//! one stands still too it is said.

use crate::normal::{Chance, Damped};
use crate::rig::Rig;
use standpipe::engine::checks::finding::Confidence;
use standpipe::engine::checks::frozen::{FrozenWatch, Standing, Terms, run_length};
use standpipe::engine::{EventKind, Fault};
use std::time::Duration;

const TERMS: Terms = Terms {
    poll_every: Duration::from_secs(1),
    after: None,
};

/// A watched signal in steps of 1.
struct Signal {
    watch: FrozenWatch,
    chance: Chance,
    noise: Damped,
    sigma: f64,
    second: u64,
    number: f64,
    verdicts: u32,
}

impl Signal {
    fn new(seed: u64, sigma: f64, correlation: f64) -> Self {
        Self {
            watch: FrozenWatch::default(),
            chance: Chance::new(seed),
            noise: Damped::new(correlation),
            sigma,
            second: 0,
            number: 0.0,
            verdicts: 0,
        }
    }

    fn up(&self) -> Duration {
        Duration::from_secs(self.second)
    }

    fn poll(&mut self, mean: f64) {
        self.number = (mean + self.sigma * self.noise.next(&mut self.chance)).round();
        self.again();
    }

    /// The same number once more.
    fn again(&mut self) {
        self.second += 1;
        self.verdicts += u32::from(self.watch.take(self.up(), self.number, TERMS));
    }

    fn standing(&self) -> Standing {
        self.watch.standing(self.up(), TERMS)
    }
}

/// Of 200 tosses of a coin the longest run of one face or the other is about 8 (Schilling, The Longest Run
/// of Heads, College Math. J. 21 (1990) 196; from memory).
#[test]
fn the_length_of_a_run_is_that_of_the_longest_run_of_heads() {
    let length = run_length(0.5, 200.0);
    assert!((7.0..8.5).contains(&length), "{length}");
    // And by trial: how often a run of that length comes in so many samples is about once.
    let (chance, repeats) = (&mut Chance::new(3), 0.7);
    let length = run_length(repeats, 2000.0).round() as u32;
    let (mut run, mut runs, trials) = (1, 0, 500);
    for _ in 0..trials * 2000 {
        let again = chance.uniform(0.0, 1.0) < repeats;
        run = if again { run + 1 } else { 1 };
        runs += i32::from(run == length);
    }
    let each = f64::from(runs) / f64::from(trials);
    assert!((0.6..1.5).contains(&each), "{each} runs of {length}");
}

/// 6 kinds of noise, white and damped, standing, filling and drawing: 60 seeds of 6 hours each.
#[test]
fn a_healthy_signal_is_never_frozen() {
    let mut judged = [0; 6];
    for (kind, (sigma, correlation)) in [
        (0.05, 0.0),
        (0.25, 0.0),
        (0.35, 0.6),
        (0.6, 0.9),
        (1.5, 0.8),
        (2000.0, 0.95),
    ]
    .into_iter()
    .enumerate()
    {
        for seed in 0..60 {
            let mut signal = Signal::new(seed, sigma, correlation);
            let mut mean = signal.chance.uniform(10.0, 500.0);
            for _ in 0..12 {
                // Half an hour of rest, of a fast movement or of a slow one.
                let rate = [0.0, 0.0, 0.5, -0.3, 0.004][signal.chance.uniform(0.0, 5.0) as usize];
                for _ in 0..1800 {
                    mean += rate;
                    signal.poll(mean);
                }
            }
            assert_eq!(signal.verdicts, 0, "σ {sigma} of a step, seed {seed}");
            judged[kind] += u32::from(signal.standing() == Standing::Moves);
        }
    }
    // Told quickly where there is noise, and not at all where there is none.
    assert_eq!(judged[0], 0, "{judged:?}");
    assert!(judged[4] == 60 && judged[5] == 60, "{judged:?}");
}

#[test]
fn a_signal_that_freezes_is_found_in_the_time_that_its_noise_asks_for() {
    for (sigma, most) in [(0.5, 900), (1.0, 120), (3.0, 60), (1000.0, 30)] {
        for seed in 0..100 {
            let mut signal = Signal::new(seed, sigma, 0.0);
            let mean = signal.chance.uniform(50.0, 51.0);
            (0..7200).for_each(|_| signal.poll(mean));
            let mut polls = 0;
            while !matches!(signal.standing(), Standing::Frozen(_)) {
                signal.again();
                polls += 1;
                assert!(polls < most, "σ {sigma} of a step, seed {seed}");
            }
            assert_eq!(signal.verdicts, 1);
            // A day must have been learnt before it is sure.
            (0..1000).for_each(|_| signal.again());
            assert_eq!(signal.standing(), Standing::Frozen(Confidence::Possible));
            (0..90_000).for_each(|_| signal.again());
            assert_eq!(signal.standing(), Standing::Frozen(Confidence::Probable));
            // It goes on elsewhere.
            signal.poll(mean + 1e4);
            assert_eq!(signal.standing(), Standing::Moves);
        }
    }
}

/// A device that has a new number each ten seconds shows each ten times.
#[test]
fn a_device_that_is_slower_than_its_polls_is_not_frozen() {
    for seed in 0..50 {
        let mut signal = Signal::new(seed, 50.0, 0.0);
        for _ in 0..2000 {
            signal.poll(700.0);
            (1..10).for_each(|_| signal.again());
        }
        assert_eq!(signal.verdicts, 0, "seed {seed}");
        (0..200).for_each(|_| signal.again());
        assert_eq!(signal.verdicts, 1, "seed {seed}");
    }
}

/// Pumps shake a signal by day; at night it lies still. That may be told once, then it is known.
#[test]
fn a_signal_that_goes_on_where_it_stood_was_quiet() {
    let mut signal = Signal::new(5, 0.6, 0.0);
    let day = |signal: &mut Signal| (0..50_000).for_each(|_| signal.poll(300.2));
    let night = |signal: &mut Signal| (0..20_000).for_each(|_| signal.again());
    day(&mut signal);
    night(&mut signal);
    assert_eq!(signal.verdicts, 1);
    for _ in 0..2 {
        (0..20).for_each(|_| signal.poll(300.2));
        assert_eq!(signal.standing(), Standing::Coarse);
        night(&mut signal);
    }
    assert_eq!(signal.verdicts, 1);
}

/// As in `diagnosis`, no flow known.
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
span = ["0 kPa", "60 kPa"]
limits = ["-10 kPa", "200 kPa"]

[[tank]]
name = "clearwell"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "vented", transmitter = "LT-101", at = "0 m" }
"#;

fn told(rig: &Rig) -> Vec<(Option<String>, String)> {
    let told = rig.of_kind(EventKind::Diagnosis).into_iter();
    told.map(|event| (event.code.as_deref().map(str::to_owned), event.text.clone()))
        .collect()
}

#[test]
fn the_running_engine_tells_a_frozen_tag_and_one_whose_faults_come_back() {
    let (mut rig, mut chance) = (Rig::start(SITE), Chance::new(1));
    let mut noisy = |rig: &mut Rig, times: u32| {
        for _ in 0..times {
            rig.poll(1, &[("LT-101", 20.0 + 0.02 * chance.normal())]);
        }
    };
    noisy(&mut rig, 1300);
    let ability = |rig: &Rig, name: &str| {
        let abilities = rig.tank("clearwell").abilities;
        abilities
            .iter()
            .find(|ability| ability.check == name)
            .expect(name)
            .clone()
    };
    assert!(
        ability(&rig, "frozen number").diagnosable,
        "{:?}",
        ability(&rig, "frozen number")
    );
    assert_eq!(told(&rig), []);
    rig.poll(60, &[("LT-101", 20.01)]);
    let (code, text) = told(&rig).remove(0);
    assert_eq!(code.as_deref(), Some("LT-101"));
    assert!(
        text.starts_with("possible frozen number (LT-101), failure: "),
        "{text}"
    );
    noisy(&mut rig, 60);
    assert!(
        told(&rig)
            .last()
            .expect("one")
            .1
            .ends_with("no longer found")
    );
    // Two more faults of that tag within a day, of another kind.
    for _ in 0..2 {
        rig.poll(5, &[("LT-101", f64::NAN)]);
        noisy(&mut rig, 20);
    }
    let last = told(&rig).pop().expect("a verdict");
    assert!(
        last.1
            .starts_with("possible a fault keeps coming back (LT-101)"),
        "{}",
        last.1
    );
    rig.fail("LT-101", Fault::NoAnswer);
}

/// A number that freezes while nobody watches is found after the restart as it would be before, by what was learnt.
#[test]
fn what_was_learnt_of_a_number_outlives_a_restart() {
    let (mut rig, mut chance) = (Rig::start(SITE), Chance::new(1));
    for _ in 0..1300 {
        rig.poll(1, &[("LT-101", 20.0 + 0.02 * chance.normal())]);
    }
    let found = |rig: &Rig| {
        told(rig)
            .iter()
            .any(|(_, text)| text.contains("frozen number"))
    };
    for (kept, knows) in [(&rig.kept[..], true), (&[][..], false)] {
        let mut rig = rig.restarted(kept);
        rig.poll(60, &[("LT-101", 20.01)]);
        assert_eq!(found(&rig), knows);
    }
    // After two days nobody knows what the process is like now.
    rig.pass(2.0 * 86_400.0);
    let mut rig = rig.restarted(&rig.kept);
    rig.poll(60, &[("LT-101", 20.01)]);
    assert!(!found(&rig));
}

#[test]
fn a_number_that_never_moved_is_possibly_frozen_after_a_day() {
    let mut rig = Rig::start(SITE);
    for hours in [23, 2] {
        assert_eq!(told(&rig), []);
        for _ in 0..hours * 60 {
            rig.poll(1, &[("LT-101", 20.01)]);
            rig.pass(59.0);
        }
    }
    let (_, text) = told(&rig).remove(0);
    assert!(
        text.starts_with("possible frozen number (LT-101)"),
        "{text}"
    );
    assert!(text.contains("no other since the start"), "{text}");
    rig.poll(1, &[("LT-101", 20.02)]);
    rig.poll(10, &[("LT-101", 20.01)]);
    assert!(
        told(&rig)
            .pop()
            .expect("one")
            .1
            .ends_with("no longer found")
    );
}

#[test]
fn the_site_file_says_how_long_a_number_may_stand() {
    let mut rig =
        Rig::start(&(SITE.to_owned() + "[tank.checks]\nfrozen = { after = \"10 min\" }\n"));
    rig.poll(595, &[("LT-101", 20.0)]);
    assert_eq!(told(&rig), []);
    rig.poll(20, &[("LT-101", 20.0)]);
    assert!(
        told(&rig)[0]
            .1
            .starts_with("probable frozen number (LT-101)"),
        "{:?}",
        told(&rig)
    );
    // At the end of its range, and at zero, a number may stand.
    for number in [60.0, 0.0] {
        let mut rig =
            Rig::start(&(SITE.to_owned() + "[tank.checks]\nfrozen = { after = \"10 min\" }\n"));
        rig.poll(1300, &[("LT-101", number)]);
        assert_eq!(told(&rig), []);
    }
}
