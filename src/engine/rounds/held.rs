//! The readings that held at the moments of the last day: what an entry for a past time is compared with.
//!
//! One a slot, the mean of its samples; kept by the monotonic clock, so that no step of the wall clock moves them.

use std::collections::VecDeque;
use std::time::Duration;

/// One kept reading is this long.
const SLOT: Duration = Duration::from_secs(30);
/// How long they are kept: a round of any shift of the last day can still be entered.
pub const KEPT: Duration = Duration::from_secs(24 * 3600);
const SLOTS: usize = (KEPT.as_secs() / SLOT.as_secs()) as usize;
/// Two readings further apart say nothing of the time between them, but for slower polls.
const NEIGHBOURS: Duration = Duration::from_secs(90);

/// What was known of a tank's level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    pub level_m: f64,
    /// Standard uncertainty, k = 1.
    pub sigma_m: f64,
}

#[derive(Clone, Copy, Debug)]
struct Slot {
    at_s: f64,
    level_m: f64,
    sigma_m: f32,
}

/// The ring.
#[derive(Clone, Debug, Default)]
pub struct HeldReadings {
    slots: VecDeque<Slot>,
    open: Option<Open>,
}

#[derive(Clone, Copy, Debug)]
struct Open {
    since: Duration,
    count: f64,
    time_s: f64,
    level_m: f64,
    sigma_m: f64,
}

impl HeldReadings {
    pub fn take(&mut self, up: Duration, held: Held) {
        let open = self.open.get_or_insert(Open {
            since: up,
            count: 0.0,
            time_s: 0.0,
            level_m: 0.0,
            sigma_m: 0.0,
        });
        open.count += 1.0;
        open.time_s += (up.as_secs_f64() - open.time_s) / open.count;
        open.level_m += (held.level_m - open.level_m) / open.count;
        open.sigma_m = held.sigma_m;
        if up.saturating_sub(open.since) >= SLOT {
            self.close();
        }
    }

    /// Readings from before do not belong with those from after.
    pub fn forget(&mut self) {
        self.slots.clear();
        self.open = None;
    }

    /// Whether it reaches back to that time.
    pub fn reaches(&self, up: Duration) -> bool {
        let first = self.slots.front().map(|slot| slot.at_s);
        let first = first.or(self.open.map(|open| open.since.as_secs_f64()));
        first.is_some_and(|first| first - SLOT.as_secs_f64() <= up.as_secs_f64())
    }

    /// What held then; none where nothing was known at that time. `poll_every`: how often readings come.
    pub fn at(&self, up: Duration, poll_every: Duration) -> Option<Held> {
        let at_s = up.as_secs_f64();
        let reach_s = NEIGHBOURS.max(poll_every * 3).as_secs_f64();
        let open = self.open.map(Open::slot);
        let after = self.slots.partition_point(|slot| slot.at_s <= at_s);
        let before = after.checked_sub(1).and_then(|place| self.slots.get(place));
        let before = before.copied().filter(|slot| at_s - slot.at_s <= reach_s);
        let after = self.slots.get(after).copied().or(open);
        let after = after.filter(|slot| (slot.at_s - at_s).abs() <= reach_s);
        let held = |slot: Slot| Held {
            level_m: slot.level_m,
            sigma_m: f64::from(slot.sigma_m),
        };
        match (before, after) {
            (Some(before), Some(after)) if after.at_s > before.at_s => {
                let share = ((at_s - before.at_s) / (after.at_s - before.at_s)).clamp(0.0, 1.0);
                Some(Held {
                    level_m: before.level_m + share * (after.level_m - before.level_m),
                    ..held(after)
                })
            }
            (one, other) => other.or(one).map(held),
        }
    }

    fn close(&mut self) {
        if let Some(open) = self.open.take() {
            if self.slots.capacity() < SLOTS {
                self.slots.reserve_exact(SLOTS);
            }
            if self.slots.len() == SLOTS {
                self.slots.pop_front();
            }
            self.slots.push_back(open.slot());
        }
    }
}

impl Open {
    fn slot(self) -> Slot {
        Slot {
            at_s: self.time_s,
            level_m: self.level_m,
            sigma_m: self.sigma_m as f32,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POLL: Duration = Duration::from_secs(1);

    /// A level that rises by 1 mm/s from 1 m, once a second.
    fn rising(seconds: std::ops::Range<u64>, ring: &mut HeldReadings) {
        for second in seconds {
            let held = Held {
                level_m: 1.0 + 0.001 * second as f64,
                sigma_m: 0.005,
            };
            ring.take(Duration::from_secs(second), held);
        }
    }

    #[test]
    fn what_held_then_is_found_between_two_slots() {
        let mut ring = HeldReadings::default();
        rising(0..600, &mut ring);
        for second in [40, 300, 590] {
            let held = ring.at(Duration::from_secs(second), POLL).expect("kept");
            let rose_m = 0.001 * second as f64;
            assert!(
                (held.level_m - 1.0 - rose_m).abs() < 0.02,
                "{second}: {held:?}"
            );
        }
        let held = ring.at(Duration::from_secs(300), POLL).expect("kept");
        assert!((held.level_m - 1.3).abs() < 1e-9, "{held:?}");
        assert!((held.sigma_m - 0.005).abs() < 1e-8);
    }

    #[test]
    fn a_gap_holds_nothing_and_a_day_is_the_end() {
        let mut ring = HeldReadings::default();
        rising(0..120, &mut ring);
        rising(3600..3720, &mut ring);
        assert_eq!(ring.at(Duration::from_secs(1800), POLL), None);
        assert!(ring.at(Duration::from_secs(3650), POLL).is_some());
        assert!(ring.reaches(Duration::from_secs(1800)));
        rising(90_000..180_000, &mut ring);
        assert!(!ring.reaches(Duration::from_secs(3650)));
        assert!(ring.reaches(Duration::from_secs(180_000 - 86_000)));
        assert_eq!(ring.slots.len(), SLOTS);
        ring.forget();
        assert!(!ring.reaches(Duration::from_secs(180_000)));
    }
}
