//! What is remembered of a tank's dry legs over a restart.

use super::TankState;
use crate::engine::Now;
use crate::engine::checks::kept::hookup_name;
use crate::engine::checks::leg::LegWatch;
use crate::engine::memory::LowLegMemory;
use crate::engine::plan::TankPlan;
use std::sync::Arc;

impl TankState {
    /// What is to be kept of its dry legs from now on, each by its hookup's name.
    pub fn legs_to_keep(
        &mut self,
        tank: &TankPlan,
        now: Now,
    ) -> Vec<(Arc<str>, Option<LowLegMemory>)> {
        let legs = self.hookups.iter_mut().enumerate();
        let changed = legs.filter_map(|(place, hookup)| {
            let memory = hookup.leg.to_keep(now)?;
            Some((hookup_name(tank, place), memory))
        });
        changed.collect()
    }

    /// Takes up what was kept; false where there is no such hookup any more.
    pub fn restore_leg(
        &mut self,
        tank: &TankPlan,
        of: &str,
        memory: &LowLegMemory,
        now: Now,
    ) -> bool {
        let places = 0..self.hookups.len();
        let place = places
            .into_iter()
            .find(|place| *hookup_name(tank, *place) == *of);
        if let Some(place) = place {
            self.hookups[place].leg = LegWatch::restored(memory, now);
        }
        place.is_some()
    }
}
