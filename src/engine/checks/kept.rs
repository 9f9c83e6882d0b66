//! What the checks' memories are kept by: their names, and what they hang on.

use crate::engine::Now;
use crate::engine::plan::{Plan, TankPlan};
use jiff::tz::TimeZone;
use std::fmt::Write;
use std::sync::Arc;

/// What is kept of a hookup is kept by this.
pub fn hookup_name(tank: &TankPlan, hookup: usize) -> Arc<str> {
    format!("{}/{}", tank.name, tank.hookups[hookup].name).into()
}

/// What a pair of hookups is kept by.
pub fn pair_name(tank: &TankPlan, first: usize, second: usize) -> Arc<str> {
    let name = |place: usize| &tank.hookups[place].name;
    format!("{}/{}/{}", tank.name, name(first), name(second)).into()
}

/// What two levels hang on as far as the site file says it, as one number: where it has changed, what they were apart
/// by before is void.
pub fn basis_of_pair(plan: &Plan, tank: &TankPlan, first: usize, second: usize) -> u64 {
    let mut text = String::new();
    for hookup in [first, second].map(|place| &tank.hookups[place]) {
        let correction = &hookup.correction;
        let said = (&hookup.hookup, correction.gain, correction.offset);
        // Writing to a text cannot fail.
        let _ = write!(text, "{said:?}");
        for id in hookup.hookup.transmitters() {
            let transmitter = &plan.transmitters[id.index()];
            let said = (
                &transmitter.tag,
                transmitter.scale,
                transmitter.zero,
                transmitter.calibrated,
            );
            let _ = write!(text, "{said:?}");
        }
    }
    // FNV-1a, 64 bits (Fowler, Noll, Vo; its two constants).
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// The hour of the day, UTC.
pub fn hour_of_day(now: Now) -> u8 {
    TimeZone::UTC.to_datetime(now.utc).hour().unsigned_abs()
}
