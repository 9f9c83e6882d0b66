//! Flat while it should move: liquid is known to flow in or out, and the level stands still.
//!
//! Known net flow moves the level by ∫Q/A dt. Each time that this has come to 5√2·σ (σ of one sample; the
//! difference of two has √2·σ), the level must have followed: where it has moved by less than a fifth of
//! it, 4 standard deviations short, it was flat. Twice in a row is possible, four times probable. Streams
//! that are wrong by half, or a slow leak, do not look flat.

use super::finding::{Ability, Confidence, Fault, Finding};
use super::noise::Noise;
use super::seen::{Flows, Seen};
use std::time::Duration;

const CHECK: &str = "flat while it should move";
/// How many standard deviations of a difference the expected movement must be.
const SIGMAS: f64 = 5.0;
/// The least expected movement that is judged, m: below it lie resolution and rounding of most registers.
/// Common practice, no source.
const LEAST_M: f64 = 0.002;
/// Movement below this share of the expected one is none.
const STILL: f64 = 0.2;
const POSSIBLE: u32 = 2;
const PROBABLE: u32 = 4;
/// A gap longer than this is not bridged.
const LONGEST_GAP: Duration = Duration::from_secs(300);

#[derive(Clone, Copy, Debug, Default)]
pub struct FlatWatch {
    noise: Noise,
    anchor: Option<Anchor>,
    /// How often in a row it was flat, and what that was.
    in_a_row: u32,
    last: Option<Judged>,
}

#[derive(Clone, Copy, Debug)]
struct Anchor {
    level_m: f64,
    since: Duration,
    at: Duration,
    expected_m: f64,
}

#[derive(Clone, Copy, Debug)]
struct Judged {
    expected_m: f64,
    moved_m: f64,
    seconds: f64,
}

impl FlatWatch {
    pub fn take(&mut self, seen: &Seen) {
        let (Some(level_m), Some(area_m2), Some(net_m3_s)) =
            (seen.level_m, seen.area_m2, seen.flows.net_m3_s())
        else {
            self.anchor = None;
            return;
        };
        self.noise.take(level_m);
        let up = seen.now.up;
        let gap = self
            .anchor
            .is_none_or(|anchor| up.saturating_sub(anchor.at) > LONGEST_GAP);
        if gap || area_m2 <= 0.0 {
            self.anchor_at(level_m, up);
            return;
        }
        let (Some(anchor), Some(sigma_m)) = (&mut self.anchor, self.noise.sigma()) else {
            return;
        };
        // Δh = ∫ Q/A dt
        anchor.expected_m += net_m3_s / area_m2 * up.saturating_sub(anchor.at).as_secs_f64();
        anchor.at = up;
        if anchor.expected_m.abs() >= movement_m(sigma_m) {
            let judged = Judged {
                expected_m: anchor.expected_m,
                moved_m: level_m - anchor.level_m,
                seconds: up.saturating_sub(anchor.since).as_secs_f64(),
            };
            self.judge(judged);
            self.anchor_at(level_m, up);
        }
    }

    pub fn finding(&self) -> Option<Finding> {
        let judged = self.last.filter(|_| self.in_a_row >= POSSIBLE)?;
        let confidence = if self.in_a_row >= PROBABLE {
            Confidence::Probable
        } else {
            Confidence::Possible
        };
        let evidence = format!(
            "{} times in a row the level stood still while known flow should have moved it; last by {:+.1} mm in {:.0} s, it moved {:+.1} mm",
            self.in_a_row,
            judged.expected_m * 1e3,
            judged.seconds,
            judged.moved_m * 1e3,
        );
        Some(Finding::of_tank(Fault::FlatReading, confidence, evidence))
    }

    pub fn ability(&self, seen: &Seen) -> Ability {
        match (seen.flows.net_m3_s(), self.noise.sigma()) {
            (None, _) => Ability::cannot(CHECK, net_reason(&seen.flows)),
            (Some(_), None) => Ability::cannot(CHECK, "the level's noise is not known yet"),
            (Some(_), Some(sigma_m)) => Ability::can(
                CHECK,
                format!(
                    "after {:.1} mm of movement that known flow should have made, {PROBABLE} times in a row",
                    movement_m(sigma_m) * 1e3
                ),
            ),
        }
    }

    fn judge(&mut self, judged: Judged) {
        let is_flat = judged.moved_m.abs() < STILL * judged.expected_m.abs();
        self.in_a_row = if is_flat { self.in_a_row + 1 } else { 0 };
        self.last = is_flat.then_some(judged);
    }

    fn anchor_at(&mut self, level_m: f64, up: Duration) {
        self.anchor = Some(Anchor {
            level_m,
            since: up,
            at: up,
            expected_m: 0.0,
        });
    }
}

fn movement_m(sigma_m: f64) -> f64 {
    (SIGMAS * 2.0_f64.sqrt() * sigma_m).max(LEAST_M)
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
            watch.take(&seen(second, level_m, in_m3_s));
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

    #[test]
    fn without_known_flow_it_says_that_it_cannot_tell() {
        let watch = run(0.0, None, 200);
        assert_eq!(watch.finding(), None);
        let ability = watch.ability(&seen(200, 1.0, None));
        assert!(!ability.diagnosable && ability.text.contains("what flows in is not known"));
        let able = run(1.0, Some(0.01), 200).ability(&seen(200, 1.0, Some(0.01)));
        assert!(able.diagnosable, "{}", able.text);
    }
}
