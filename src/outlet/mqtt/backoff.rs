//! How long to wait before the next connection: 0.5 s, doubling to at most 10 s, with jitter.

use std::hash::{BuildHasher, Hasher, RandomState};
use std::time::Duration;

const FIRST: Duration = Duration::from_millis(500);
const LONGEST: Duration = Duration::from_secs(10);

/// The jitter takes up to this share off a delay, so that many clients do not come back together.
const JITTER: f64 = 0.25;

#[derive(Debug)]
pub(super) struct Backoff {
    nominal: Duration,
}

impl Default for Backoff {
    fn default() -> Self {
        Self { nominal: FIRST }
    }
}

impl Backoff {
    pub fn next_delay(&mut self) -> Duration {
        let delay = self.nominal.mul_f64(1.0 - JITTER * chance());
        self.nominal = (2 * self.nominal).min(LONGEST);
        delay
    }

    /// A connection that held is a fresh start; one that the broker drops at once is not.
    pub fn connected_for(&mut self, time: Duration) {
        if time >= LONGEST {
            *self = Self::default();
        }
    }
}

/// A number in 0..1. The standard library seeds its hashers at random; that is chance enough here.
fn chance() -> f64 {
    let random = RandomState::new().build_hasher().finish();
    (random >> 11) as f64 / (1_u64 << 53) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubles_from_half_a_second_to_ten_with_jitter() {
        let mut backoff = Backoff::default();
        for nominal_s in [0.5, 1.0, 2.0, 4.0, 8.0, 10.0, 10.0] {
            let delay_s = backoff.next_delay().as_secs_f64();
            assert!(
                (0.75 * nominal_s..=nominal_s).contains(&delay_s),
                "{delay_s} of {nominal_s}"
            );
        }
        backoff.connected_for(Duration::from_secs(1));
        assert!(backoff.next_delay() > Duration::from_secs(7));
        backoff.connected_for(Duration::from_secs(60));
        assert!(backoff.next_delay() <= FIRST);
    }

    #[test]
    fn two_delays_differ() {
        let delays: Vec<_> = (0..8).map(|_| Backoff::default().next_delay()).collect();
        assert!(delays.iter().any(|delay| *delay != delays[0]));
    }
}
