//! Means over a period: what slow checks are shown, so that none of them works at each sample.

use super::diagnosis::PERIOD;
use super::seen::{HookupSeen, Seen};
use std::time::Duration;

/// What flowed over a longer gap is not known.
const LONGEST_GAP: Duration = Duration::from_secs(300);

/// A mean that is none where one value was missing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mean {
    sum: f64,
    count: u32,
    known: u32,
}

impl Mean {
    pub fn take(&mut self, value: Option<f64>) {
        self.count += 1;
        self.sum += value.unwrap_or(0.0);
        self.known += u32::from(value.is_some());
    }

    pub fn value(&self) -> Option<f64> {
        self.known_in_most().filter(|_| self.known == self.count)
    }

    /// Of what is known, where that is half of it at least.
    pub fn known_in_most(&self) -> Option<f64> {
        let is_known = self.known > 0 && 2 * self.known >= self.count;
        is_known.then(|| self.sum / f64::from(self.known))
    }
}

/// One tank over a period.
#[derive(Clone, Copy, Debug, Default)]
pub struct Block {
    pub headspace_pa: Mean,
    pub level_m: Mean,
    pub mass_kg: Mean,
    pub ambient_k: Mean,
    pub barometer_pa: Mean,
    /// What has flowed in since the start, from any zero.
    pub flowed_m3: Mean,
    /// At some moment of it something flowed.
    pub moved: bool,
    /// At some moment of it that was not known.
    pub rest_unknown: bool,
}

/// One hookup over a period.
#[derive(Clone, Copy, Debug, Default)]
pub struct HookupBlock {
    pub difference_pa: Mean,
    pub head_pa: Mean,
    pub level_m: Mean,
    pub level_sigma_m: f64,
    pub pascals_per_metre: f64,
}

/// The period that is being gathered.
#[derive(Clone, Debug, Default)]
pub struct Period {
    begun: Option<Duration>,
    last: Option<Duration>,
    pub tank: Block,
    pub hookups: Vec<HookupBlock>,
    /// Sum of what is known to have flowed, and when it was last known.
    flowed_m3: f64,
    flow: Option<(Duration, f64)>,
}

impl Period {
    /// True where what was gathered is a whole period: it is to be looked at before the sample is taken.
    pub fn is_full(&self, up: Duration) -> bool {
        self.begun
            .is_some_and(|begun| up.saturating_sub(begun) >= PERIOD)
    }

    pub fn begin(&mut self) {
        self.begun = None;
        self.tank = Block::default();
        self.hookups.fill(HookupBlock::default());
    }

    /// `poll_every`: how often the tank is read.
    pub fn take(
        &mut self,
        seen: &Seen,
        hookups: impl Iterator<Item = HookupSeen>,
        poll_every: Duration,
    ) {
        let up = seen.now.up;
        self.begun.get_or_insert(up);
        let before = self.last.replace(up);
        let unseen = before
            .is_some_and(|before| up.saturating_sub(before) > LONGEST_GAP.max(3 * poll_every));
        let net = seen.flows.net_m3_s();
        // ∫Q dt, by what flowed until now.
        let gap = self.flow.map(|(since, _)| up.saturating_sub(since));
        let bridged = gap.is_none_or(|gap| gap <= LONGEST_GAP);
        if let Some((since, flow_m3_s)) = self.flow {
            self.flowed_m3 += flow_m3_s * up.saturating_sub(since).as_secs_f64();
        }
        self.flow = net.map(|net| (up, net));
        let tank = &mut self.tank;
        tank.headspace_pa.take(seen.headspace_pa);
        tank.level_m.take(seen.level_m);
        tank.mass_kg.take(seen.mass_kg);
        tank.ambient_k.take(seen.ambient_k);
        tank.barometer_pa.take(seen.barometer_pa);
        tank.flowed_m3
            .take(net.filter(|_| bridged).map(|_| self.flowed_m3));
        tank.moved |= seen.at_rest == Some(false);
        tank.rest_unknown |= seen.at_rest.is_none() || unseen;
        let missing = hookups.size_hint().0.saturating_sub(self.hookups.len());
        if missing > 0 {
            let all = self.hookups.len() + missing;
            self.hookups.resize(all, HookupBlock::default());
        }
        for (block, hookup) in self.hookups.iter_mut().zip(hookups) {
            block.difference_pa.take(hookup.difference_pa);
            block.head_pa.take(hookup.head_pa);
            block.level_m.take(hookup.level_m);
            block.level_sigma_m = hookup.level_sigma_m;
            block.pascals_per_metre = hookup.pascals_per_metre;
        }
    }
}
