//! Flat while it should move: liquid is known to flow in or out, and the level stands still; or it goes the other way.
//!
//! Known net flow moves the level by ∫Q/A dt. What the level did is the difference of two means of five samples, whose
//! σ is measured. Each time that the expected movement has come to 20 of those σ, six steps of the number and 2 mm, it is
//! judged: what moved by less than a fifth of it (4 σ of a flat level) stood still, what moved by more the other
//! way went against the flow. Streams that are wrong by half, or a slow leak, are neither; nor is what is the small
//! difference of two large flows, which meters do not tell. Twice in a row is possible, four times probable.

use super::finding::{Ability, Confidence, Fault, Finding};
use super::noise::{LevelStep, Noise};
use super::seen::{Flows, Seen};
use std::time::Duration;

const CHECK: &str = "flat while it should move";
/// Samples in a mean.
const GROUP: usize = 5;
/// How many standard deviations of the difference of two means the expected movement must be.
const SIGMAS: f64 = 20.0;
/// And how many steps of a coarse number: of six a healthy one shows five at least.
const STEPS: f64 = 6.0;
/// The least expected movement that is judged, m: below it lie resolution and rounding of most registers.
/// Common practice, no source.
const LEAST_M: f64 = 0.002;
/// As long as a number has hardly moved nobody knows its step, unless the site file says so. Common practice, no source.
const UNKNOWN_STEPS_M: f64 = 0.02;
/// The least share that net flow must be of all that flows: two meters of 1 % are off by a tenth of it then. Common
/// practice, no source.
const NET: f64 = 0.2;
/// Movement below this share of the expected one is none.
const STILL: f64 = 0.2;
/// And one beyond this share of it the other way goes against the flow.
const AGAINST: f64 = -STILL;
const POSSIBLE: u32 = 2;
const PROBABLE: u32 = 4;
/// So many times in a row it must follow before a finding is taken back.
const FOLLOWED: u32 = 2;
/// A gap longer than this is not bridged.
const LONGEST_GAP: Duration = Duration::from_secs(300);
/// What takes longer is as well a leak, or a stream that nobody measures. Common practice, no source.
const LONGEST: Duration = Duration::from_secs(6 * 3600);

#[derive(Clone, Copy, Debug, Default)]
pub struct FlatWatch {
    noise: Noise,
    step: LevelStep,
    recent: Recent,
    anchor: Option<Anchor>,
    /// How often in a row it did so, and what that was.
    in_a_row: u32,
    followed: u32,
    last: Option<Judged>,
}

/// The newest samples: level, and the movement that was expected up to each since the anchor.
#[derive(Clone, Copy, Debug, Default)]
struct Recent {
    samples: [(f64, f64); GROUP],
    count: usize,
}

impl Recent {
    fn take(&mut self, level_m: f64, expected_m: f64) {
        self.samples[self.count % GROUP] = (level_m, expected_m);
        self.count += 1;
    }

    /// Means of both; none before there are as many.
    fn means(&self) -> Option<(f64, f64)> {
        let mean =
            |of: fn(&(f64, f64)) -> f64| self.samples.iter().map(of).sum::<f64>() / GROUP as f64;
        (self.count >= GROUP).then(|| (mean(|sample| sample.0), mean(|sample| sample.1)))
    }
}

#[derive(Clone, Copy, Debug)]
struct Anchor {
    /// Mean of the first samples, and what was expected by their middle.
    level_m: Option<(f64, f64)>,
    since: Duration,
    at: Duration,
    expected_m: f64,
    /// All that flowed, either way, as movement.
    gross_m: f64,
}

#[derive(Clone, Copy, Debug)]
struct Judged {
    expected_m: f64,
    moved_m: f64,
    seconds: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Did {
    StoodStill,
    WentAgainst,
    Followed,
}

impl Judged {
    fn did(&self) -> Did {
        match self.moved_m / self.expected_m {
            share if share <= AGAINST => Did::WentAgainst,
            share if share.abs() < STILL => Did::StoodStill,
            _ => Did::Followed,
        }
    }
}

impl FlatWatch {
    /// `resolution_m`: the step of the number, as far as the site file says it.
    pub fn take(&mut self, seen: &Seen, resolution_m: f64) {
        let (Some(level_m), Some(area_m2), Some(net_m3_s)) =
            (seen.level_m, seen.area_m2, seen.flows.net_m3_s())
        else {
            self.anchor = None;
            return;
        };
        self.noise.take(level_m);
        self.step.take(level_m);
        let up = seen.now.up;
        let Some(anchor) = self
            .anchor
            .as_mut()
            .filter(|anchor| up.saturating_sub(anchor.at) <= LONGEST_GAP && area_m2 > 0.0)
        else {
            self.anchor_at(up);
            self.recent.take(level_m, 0.0);
            return;
        };
        // Δh = ∫ Q/A dt
        let seconds = up.saturating_sub(anchor.at).as_secs_f64();
        let gross_m3_s = [seen.flows.in_m3_s, seen.flows.out_m3_s];
        let gross_m3_s: f64 = gross_m3_s.iter().flatten().map(|flow| flow.abs()).sum();
        anchor.expected_m += net_m3_s / area_m2 * seconds;
        anchor.gross_m += gross_m3_s / area_m2 * seconds;
        anchor.at = up;
        let (expected_m, gross_m) = (anchor.expected_m, anchor.gross_m);
        let lasted = up.saturating_sub(anchor.since);
        self.recent.take(level_m, expected_m);
        // Most samples end here.
        let may_be_enough = expected_m.abs() >= LEAST_M.max(NET * gross_m);
        if anchor.level_m.is_some() && !may_be_enough && lasted <= LONGEST {
            return;
        }
        let Some((mean_m, expected_by_it_m)) = self.recent.means() else {
            return;
        };
        let Some((from_m, expected_before_m)) = anchor.level_m else {
            anchor.level_m = Some((mean_m, expected_by_it_m));
            return;
        };
        let expected_m = expected_by_it_m - expected_before_m;
        let least_m = self.movement_m(resolution_m);
        let least_m = least_m.map(|least_m| least_m.max(NET * gross_m));
        if least_m.is_some_and(|least_m| expected_m.abs() >= least_m) {
            self.judge(Judged {
                expected_m,
                moved_m: mean_m - from_m,
                seconds: lasted.as_secs_f64(),
            });
            self.anchor_at(up);
        } else if lasted > LONGEST {
            self.anchor_at(up);
        }
    }

    pub fn finding(&self) -> Option<Finding> {
        let judged = self.last.filter(|_| self.in_a_row >= POSSIBLE)?;
        let confidence = if self.in_a_row >= PROBABLE {
            Confidence::Probable
        } else {
            Confidence::Possible
        };
        let (fault, did) = match judged.did() {
            Did::WentAgainst => (Fault::AgainstFlow, "went against what known flow makes"),
            _ => (
                Fault::FlatReading,
                "stood still while known flow should have moved it",
            ),
        };
        let evidence = format!(
            "{} times in a row the level {did}; last by {:+.1} mm in {:.0} s, it moved {:+.1} mm",
            self.in_a_row,
            judged.expected_m * 1e3,
            judged.seconds,
            judged.moved_m * 1e3,
        );
        Some(Finding::of_tank(fault, confidence, evidence))
    }

    pub fn ability(&self, seen: &Seen, resolution_m: f64) -> Ability {
        match (seen.flows.net_m3_s(), self.movement_m(resolution_m)) {
            (None, _) => Ability::cannot(CHECK, net_reason(&seen.flows)),
            (Some(_), None) => Ability::cannot(CHECK, "the level's noise is not known yet"),
            (Some(_), Some(least_m)) => Ability::can(
                CHECK,
                format!(
                    "after {:.1} mm of movement that known flow should have made, {PROBABLE} times in a row; not where what flows in and out is nearly the same",
                    least_m * 1e3
                ),
            ),
        }
    }

    fn judge(&mut self, judged: Judged) {
        let did = judged.did();
        let was = self.last.map(|last| last.did());
        if did == Did::Followed {
            self.followed += 1;
            // Until something is found each must be so; what was found is not taken back for one.
            if self.in_a_row < POSSIBLE || self.followed >= FOLLOWED {
                (self.in_a_row, self.last) = (0, None);
            }
            return;
        }
        self.followed = 0;
        self.in_a_row = match was == Some(did) {
            true => self.in_a_row.saturating_add(1),
            false => 1,
        };
        self.last = Some(judged);
    }

    /// The least movement that is judged; none before the noise is known.
    fn movement_m(&self, resolution_m: f64) -> Option<f64> {
        let sigma_m = self.noise.sigma_of_difference()?;
        let unknown_m = if resolution_m > 0.0 {
            0.0
        } else {
            UNKNOWN_STEPS_M
        };
        let seen_m = self.step.least().map(|step_m| STEPS * step_m);
        let steps_m = seen_m.unwrap_or(unknown_m).max(STEPS * resolution_m);
        Some((SIGMAS * sigma_m).max(steps_m).max(LEAST_M))
    }

    fn anchor_at(&mut self, up: Duration) {
        self.recent = Recent::default();
        self.anchor = Some(Anchor {
            level_m: None,
            since: up,
            at: up,
            expected_m: 0.0,
            gross_m: 0.0,
        });
    }
}

/// Why the net flow is not known.
pub fn net_reason(flows: &Flows) -> &'static str {
    match (flows.in_m3_s, flows.out_m3_s) {
        (None, None) => "what flows in and out is not known",
        (None, Some(_)) => "what flows in is not known",
        _ => "what flows out is not known",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Now;
    use crate::engine::quality::{Quality, Reasons};
    use crate::quantity::Timestamp;

    fn seen(second: u64, level_m: f64, in_m3_s: Option<f64>) -> Seen {
        Seen {
            now: Now {
                up: Duration::from_secs(second),
                utc: Timestamp::UNIX_EPOCH,
            },
            quality: Quality::Good,
            reasons: Reasons::NONE,
            level_m: Some(level_m),
            level_sigma_m: None,
            volume_m3: None,
            mass_kg: None,
            area_m2: Some(10.0),
            difference_pa: None,
            headspace_pa: None,
            pascals_per_metre: 9800.0,
            flows: Flows {
                in_m3_s,
                out_m3_s: Some(0.0),
                mode: Some(1),
            },
            ambient_k: None,
            barometer_pa: None,
            at_rest: None,
        }
    }

    /// 10 L/s into 10 m²: 1 mm/s; the level follows with this share of it, ±1 mm from sample to sample.
    fn run(share: f64, in_m3_s: Option<f64>, seconds: u64) -> FlatWatch {
        let mut watch = FlatWatch::default();
        for second in 0..seconds {
            let noise_m = [0.001, -0.0004, 0.0002, -0.001][second as usize % 4];
            let level_m = 1.0 + 0.001 * share * second as f64 + noise_m;
            watch.take(&seen(second, level_m, in_m3_s), 0.0);
        }
        watch
    }

    #[test]
    fn a_level_that_stands_while_it_should_rise_is_found() {
        assert_eq!(run(0.0, Some(0.01), 10).finding(), None);
        let found = run(0.0, Some(0.01), 200).finding().expect("a finding");
        assert_eq!(
            (found.fault, found.confidence),
            (Fault::FlatReading, Confidence::Probable)
        );
        assert!(found.evidence.contains("it moved"), "{}", found.evidence);
    }

    #[test]
    fn a_level_that_follows_even_by_half_is_left_alone() {
        for share in [1.0, 0.5] {
            assert_eq!(run(share, Some(0.01), 2000).finding(), None);
        }
    }

    /// Noise of unit variance, another one by each seed.
    fn noise(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        move || {
            let mut sum = 0.0;
            for _ in 0..12 {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                sum += (state >> 11) as f64 / (1_u64 << 53) as f64;
            }
            sum - 6.0
        }
    }

    /// How often a finding opens in so many seconds, and whether one stands at the end.
    fn opened(seconds: u64, sample: impl FnMut(u64) -> Seen) -> (u32, Option<Finding>) {
        opened_with(0.0, seconds, sample)
    }

    fn opened_with(
        resolution_m: f64,
        seconds: u64,
        mut sample: impl FnMut(u64) -> Seen,
    ) -> (u32, Option<Finding>) {
        let (mut watch, mut opened, mut before) = (FlatWatch::default(), 0, false);
        for second in 0..seconds {
            watch.take(&sample(second), resolution_m);
            let now = watch.finding().is_some();
            opened += u32::from(now && !before);
            before = now;
        }
        (opened, watch.finding())
    }

    #[test]
    fn a_coarse_number_that_follows_is_left_alone() {
        // A coarser one than 2 cm has to be stated.
        for (step_m, stated_m) in [(0.001, 0.0), (0.01, 0.0), (0.02, 0.0), (0.05, 0.05)] {
            let follows = |second: u64| {
                let level_m = 1.0 + 0.0004 * second as f64;
                seen(second, (level_m / step_m).round() * step_m, Some(0.004))
            };
            assert_eq!(opened_with(stated_m, 7200, follows), (0, None), "{step_m}");
        }
    }

    /// 40 m³/h in and out, each meter off by half a percent: what is left is the meters'.
    #[test]
    fn two_large_flows_that_cancel_out_are_left_alone() {
        let flow = 40.0 / 3600.0;
        let mut noise = noise(3);
        let balanced = |second: u64| {
            let mut seen = seen(second, 2.0 + 0.0003 * noise(), Some(flow * 1.005));
            seen.flows.out_m3_s = Some(flow * 0.995);
            seen
        };
        assert_eq!(opened(86_400, balanced), (0, None));
    }

    #[test]
    fn a_flat_level_is_found_once_and_stays_found() {
        for seed in 1..=20 {
            let mut noise = noise(seed);
            let flat = |second: u64| seen(second, 2.0 + 0.001 * noise(), Some(0.01));
            let (opened, found) = opened(7200, flat);
            let found = found.expect("it is found");
            assert_eq!(
                (opened, found.confidence),
                (1, Confidence::Probable),
                "{seed}"
            );
        }
    }

    #[test]
    fn a_level_that_goes_the_other_way_is_found() {
        let mut noise = noise(5);
        let falls = |second: u64| {
            let level_m = 3.0 - 0.0005 * second as f64 + 0.001 * noise();
            seen(second, level_m, Some(0.01))
        };
        let (opened, found) = opened(1200, falls);
        let found = found.expect("it is found");
        assert_eq!((opened, found.fault), (1, Fault::AgainstFlow));
        assert_eq!(found.confidence, Confidence::Probable);
        assert!(
            found.evidence.contains("went against"),
            "{}",
            found.evidence
        );
    }

    #[test]
    fn a_level_that_follows_is_left_alone_whatever_its_noise() {
        for seed in 1..=20 {
            let mut noise = noise(seed);
            let follows = |second: u64| {
                let level_m = 1.0 + 0.0002 * second as f64 + 0.003 * noise();
                seen(second, level_m, Some(0.002))
            };
            assert_eq!(opened(7200, follows), (0, None), "{seed}");
        }
    }

    #[test]
    fn without_known_flow_it_says_that_it_cannot_tell() {
        let watch = run(0.0, None, 200);
        assert_eq!(watch.finding(), None);
        let ability = watch.ability(&seen(200, 1.0, None), 0.0);
        assert!(!ability.diagnosable && ability.text.contains("what flows in is not known"));
        let able = run(1.0, Some(0.01), 200).ability(&seen(200, 1.0, Some(0.01)), 0.0);
        assert!(able.diagnosable, "{}", able.text);
    }
}
