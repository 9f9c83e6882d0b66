//! How long a value may be old: uncertain after three polls, bad after a tenth of the shortest time to
//! respond of the alarms that it serves, within bounds.

use super::alarm::shortest_response;
use crate::engine::TransmitterId;
use crate::engine::plan::{Ambient, TankPlan, TransmitterPlan};
use std::time::Duration;

/// Bad is never sooner than this, nor than three polls, and never later than that.
const SOONEST: Duration = Duration::from_secs(10);
const LATEST: Duration = Duration::from_secs(120);
const POLLS: u32 = 3;

pub fn settle(transmitters: &mut [TransmitterPlan], tanks: &[TankPlan], ambient: &Ambient) {
    let responses: Vec<Option<Duration>> = tanks
        .iter()
        .map(|tank| shortest_response(&tank.alarms))
        .collect();
    for (index, transmitter) in transmitters.iter_mut().enumerate() {
        let id = TransmitterId(index as u32);
        let uses = |tank: &TankPlan| ambient.uses(id) || tank.uses(id);
        let response = tanks
            .iter()
            .zip(&responses)
            .filter(|(tank, _)| uses(tank))
            .filter_map(|(_, response)| *response)
            .min();
        (transmitter.uncertain_after, transmitter.bad_after) =
            ages(transmitter.poll_every, response);
    }
}

/// The ages at which a value becomes uncertain and bad, by the shortest time to respond that it serves.
pub fn ages(poll_every: Duration, response: Option<Duration>) -> (Duration, Duration) {
    let uncertain_after = poll_every * POLLS;
    (uncertain_after, bad_after(uncertain_after, response))
}

fn bad_after(uncertain_after: Duration, response: Option<Duration>) -> Duration {
    let soonest = uncertain_after.max(SOONEST);
    // three polls may be longer than the latest: then nothing is bad before it
    response.map_or(soonest, |response| (response / 10).min(LATEST).max(soonest))
}

#[cfg(test)]
mod tests {
    use super::bad_after;
    use std::time::Duration;

    #[test]
    fn bad_follows_the_time_to_respond_within_its_bounds() {
        let after = |polls_s, response_s: Option<u64>| {
            bad_after(
                Duration::from_secs(polls_s),
                response_s.map(Duration::from_secs),
            )
            .as_secs()
        };
        assert_eq!(after(3, None), 10);
        assert_eq!(after(30, None), 30);
        assert_eq!(after(3, Some(600)), 60);
        assert_eq!(after(3, Some(30)), 10);
        assert_eq!(after(3, Some(36_000)), 120);
        assert_eq!(after(300, Some(600)), 300);
    }
}
