//! The only reader of the clocks. Other rooms are handed [`up`], or the moments that it gave.

use crate::engine::Now;
use crate::quantity::Timestamp;
use jiff::civil::Date;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

static START: OnceLock<Instant> = OnceLock::new();

/// Time since the first call: monotonic, untouched by steps of the wall clock.
#[expect(
    clippy::disallowed_methods,
    reason = "this room is the one that reads the clock"
)]
pub fn up() -> Duration {
    let now = Instant::now();
    now.saturating_duration_since(*START.get_or_init(|| now))
}

/// The moment on both clocks.
#[expect(
    clippy::disallowed_methods,
    reason = "this room is the one that reads the clock"
)]
pub fn moment() -> Now {
    Now {
        up: up(),
        utc: Timestamp::now(),
    }
}

/// Today's date in UTC.
pub fn today() -> Date {
    jiff::tz::TimeZone::UTC.to_datetime(moment().utc).date()
}
