//! The noise monitor: it learns, it tells a line that damps, it leaves a healthy one alone, and it survives
//! a restart.

use crate::normal::Chance;
use standpipe::engine::checks::bootstrap;
use standpipe::engine::checks::finding::{Ability, Confidence, Fault};
use standpipe::engine::checks::monitor::NoiseMonitor;
use standpipe::engine::memory::NoiseMemory;
use standpipe::engine::{
    Effect, Engine, Input, Memory, Now, RememberedKind, Sample, TransmitterId,
};
use standpipe::quantity::Timestamp;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

const BLOCK: u32 = 300;

/// A line whose tank splashes, in Pa, with a loudness that goes up and down through the day.
struct Line {
    monitor: NoiseMonitor,
    chance: Chance,
    second: u64,
    kept: Option<NoiseMemory>,
}

impl Line {
    fn new(seed: u64) -> Self {
        Self {
            monitor: NoiseMonitor::default(),
            chance: Chance::new(seed),
            second: 0,
            kept: None,
        }
    }

    fn now(&self) -> Now {
        let up = Duration::from_secs(self.second);
        Now {
            up,
            utc: Timestamp::UNIX_EPOCH + up,
        }
    }

    /// So many blocks in a mode, with this share of the noise let through.
    fn listen(&mut self, blocks: u32, mode: u32, share: f64) {
        for _ in 0..blocks {
            let loud = 30.0 * (0.2 * self.chance.normal()).exp() * share;
            for _ in 0..BLOCK {
                let value = 30_000.0 + loud * self.chance.normal();
                self.monitor.take(self.now(), Some(value), mode);
                self.second += 1;
            }
            self.kept = self.monitor.to_keep().or(self.kept.take());
        }
    }

    fn ability(&self) -> Ability {
        self.monitor
            .ability("differential", self.now(), true, Duration::from_secs(1))
    }
}

#[test]
fn a_line_that_damps_is_found_within_hours_and_one_that_rings_too() {
    for seed in 0..20 {
        let mut line = Line::new(seed);
        line.listen(880, 1, 1.0);
        assert!(line.ability().diagnosable, "{}", line.ability().text);
        assert_eq!(line.monitor.finding(), None);
        for (share, fault) in [(0.15, Fault::NoiseFell), (4.0, Fault::NoiseRose)] {
            let mut line = Line {
                monitor: line.monitor.clone(),
                chance: Chance::new(seed + 100),
                kept: None,
                ..line
            };
            line.listen(36, 1, share);
            let (found, confidence, text) =
                line.monitor.finding().expect("found within three hours");
            assert_eq!((found, confidence), (fault, Confidence::Possible), "{text}");
            // Over once the line is clear again.
            line.listen(60, 1, 1.0);
            assert_eq!(line.monitor.finding(), None);
        }
    }
}

/// 20 lines for 20 days each in two modes, one five times as loud as the other.
#[test]
fn a_healthy_line_is_left_alone_and_its_modes_are_kept_apart() {
    for seed in 0..20 {
        let mut line = Line::new(seed);
        for _ in 0..160 {
            line.listen(24, 0, 1.0);
            line.listen(12, 1, 5.0);
            assert_eq!(line.monitor.finding(), None, "seed {seed}");
        }
        assert!(line.ability().diagnosable, "{}", line.ability().text);
    }
}

#[test]
fn what_cannot_be_heard_is_said() {
    let mut line = Line::new(1);
    let off = line
        .monitor
        .ability("differential", line.now(), false, Duration::from_secs(1));
    let seldom = line
        .monitor
        .ability("differential", line.now(), true, Duration::from_secs(60));
    assert!(
        !seldom.diagnosable && seldom.text.contains("read each 1 min"),
        "{}",
        seldom.text
    );
    assert!(off.text.contains("plugging"), "{}", off.text);
    line.listen(300, 1, 1.0);
    assert!(
        line.ability()
            .text
            .contains("299 of 200 blocks and 1.0 of 3 days"),
        "{}",
        line.ability().text
    );
    // Repeated numbers are no noise.
    let mut still = Line::new(1);
    still.listen(20, 1, 0.0);
    assert!(
        still.ability().text.contains("0 of 200 blocks")
            || still.ability().text.contains("nothing was learnt"),
        "{}",
        still.ability().text
    );
}

#[test]
fn a_restart_forgets_neither_what_is_learnt_nor_what_was() {
    let mut line = Line::new(2);
    line.listen(440, 1, 1.0);
    let kept = line.kept.clone().expect("kept now and then");
    let text = serde_json::to_string(&kept).expect("it can be written");
    assert!(text.len() < 6000, "{} bytes", text.len());
    let back: NoiseMemory = serde_json::from_str(&text).expect("it can be read");
    assert_eq!(back, kept);
    line.monitor = NoiseMonitor::restored(&back);
    line.listen(460, 1, 1.0);
    assert!(line.ability().diagnosable, "{}", line.ability().text);
    let kept = line.kept.clone().expect("the baseline is kept");
    assert!(kept.modes[0].baseline.is_some() && kept.modes[0].learning.is_empty());
    line.monitor = NoiseMonitor::restored(&kept);
    line.listen(36, 1, 0.1);
    assert!(line.monitor.finding().is_some());
}

/// Of white noise an EWMA has the variance λ/(2 − λ) (NIST/SEMATECH e-Handbook 6.3.2.4); three and four of its
/// σ are passed about once in 500 and in 17,000 values that are independent (two-sided normal), less often
/// where neighbours hang together: the limit of ten years of five minutes lies between four and six of them.
#[test]
fn the_limit_of_white_noise_is_where_theory_has_it() {
    for seed in 0..5 {
        let mut chance = Chance::new(seed);
        let values: Vec<f64> = (0..600).map(|_| chance.normal().clamp(-4.0, 4.0)).collect();
        let limit = bootstrap::limit(&values, 0.1, 1_051_920.0);
        let sigma = (0.1_f64 / 1.9).sqrt();
        assert!((4.0..6.0).contains(&(limit / sigma)), "{}", limit / sigma);
    }
}

/// The engine gives what it learns to whoever keeps it, and takes it up again.
#[test]
fn the_engine_has_it_kept_and_takes_it_up() {
    let site = crate::sites::vented("\n[tank.checks]\nplugging = {}\n");
    let site = standpipe::site::parse(&site, Path::new("alder-rise.toml"));
    let plan = Arc::new(site.unwrap_or_else(|problems| panic!("{problems}")).plan);
    let mut now = Now {
        up: Duration::ZERO,
        utc: "2026-03-04T05:06:07Z".parse().expect("a time"),
    };
    let (mut effects, mut chance) = (Vec::new(), Chance::new(1));
    let mut engine = Engine::start(Arc::clone(&plan), None, now, &mut effects);
    let mut kept = None;
    for _ in 0..4500 {
        now.up += Duration::from_secs(1);
        now.utc += Duration::from_secs(1);
        let samples = [Sample {
            transmitter: TransmitterId(0),
            raw: Ok(20_000.0 + 30.0 * chance.normal()),
        }];
        engine.step(now, Input::Samples(&samples), &mut effects);
        for effect in effects.drain(..) {
            if let Effect::Remember {
                kind: RememberedKind::Noise,
                of,
                memory,
            } = effect
            {
                assert_eq!(&*of, "day/vented");
                kept = memory;
            }
        }
    }
    let memory = |of: &str| Memory {
        remembered: vec![(of.to_owned(), kept.clone().expect("it is kept"))],
        ..Memory::default()
    };
    let mut engine = Engine::start(
        Arc::clone(&plan),
        Some(memory("day/vented")),
        now,
        &mut effects,
    );
    effects.clear();
    let samples = [Sample {
        transmitter: TransmitterId(0),
        raw: Ok(20_000.0),
    }];
    // The abilities are worked out with the first round.
    now.up += Duration::from_secs(10);
    engine.step(now, Input::Samples(&samples), &mut effects);
    let abilities = engine.snapshot().tanks[0].abilities.clone();
    let ability = abilities
        .iter()
        .find(|ability| ability.check == "noise of the line");
    let text = &ability.expect("it is there").text;
    assert!(text.contains("still learning, 12 of 200 blocks"), "{text}");
    // What is not listened to any more is forgotten.
    effects.clear();
    Engine::start(plan, Some(memory("day/other")), now, &mut effects);
    let forgotten = |effect: &Effect| {
        matches!(
            effect,
            Effect::Remember {
                kind: RememberedKind::Noise,
                memory: None,
                ..
            }
        )
    };
    assert!(effects.iter().any(forgotten));
}
