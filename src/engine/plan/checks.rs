//! What fills and draws a tank, and what its checks go by.

use super::Condition;
use crate::engine::ids::TransmitterId;
use crate::quantity::VolumeRate;
use std::sync::Arc;
use std::time::Duration;

#[derive(Clone, Debug)]
pub struct Stream {
    pub name: Arc<str>,
    pub fills: bool,
    pub at_most: Option<VolumeRate>,
    pub flow: StreamFlow,
}

/// How it is known what a stream carries.
#[derive(Clone, Debug, PartialEq)]
pub enum StreamFlow {
    Unknown,
    Metered(TransmitterId),
    /// The rate while all conditions hold, nothing else.
    Running {
        when: Vec<Condition>,
        rate: VolumeRate,
    },
}

/// What the site file says of a tank's checks.
#[derive(Clone, Debug, Default)]
pub struct ChecksPlan {
    /// So long a transmitter's number may stand; none: as long as its noise lets it.
    pub frozen_after: Option<Duration>,
    /// Its lines are known to be clear: their noise is learnt, and watched.
    pub plugging: bool,
    /// Single wild samples are looked for.
    pub spike: bool,
    pub idle: Option<IdleCheck>,
}

/// When a tank is at rest, and what it may lose then.
#[derive(Clone, Debug)]
pub struct IdleCheck {
    /// All of them hold; none: as its streams say.
    pub when: Vec<Condition>,
    pub moves_at_most: Option<VolumeRate>,
}

#[derive(Clone, Copy, Debug)]
pub struct JumpCheck {
    pub fill_at_most: VolumeRate,
    pub draw_at_most: VolumeRate,
}
