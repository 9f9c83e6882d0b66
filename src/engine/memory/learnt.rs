//! What checks have learnt of a hookup, of two of them, of a tank.

use crate::quantity::Timestamp;
use serde::{Deserialize, Serialize};

/// A dry low leg that an overfill floods reads empty: over a restart too it must not be believed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LowLegMemory {
    /// Until a person has confirmed that it is drained.
    pub flooded: bool,
    /// When the level was last near the upper tap, and what it was solved to, m.
    pub near: Option<(Timestamp, f64)>,
}

/// What a hookup's noise was while its lines were clear.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct NoiseMemory {
    pub modes: Vec<ModeMemory>,
}

/// The same in one mode: which streams ran.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ModeMemory {
    pub mode: u32,
    pub since: Timestamp,
    /// The smallest step of the number.
    pub step: Option<f64>,
    /// ln of the variance of each block, in thousandths, until there are enough.
    pub learning: Vec<i16>,
    /// Mean, standard deviation and limit, once they stand.
    pub baseline: Option<[f64; 3]>,
}

/// How far two hookups of a tank are apart when all is well.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PairMemory {
    /// What it hangs on in the site file.
    pub basis: u64,
    /// Hours that were learnt from; their mean, Σ(off)², Σ(off·off of the one before), and the last one.
    pub learnt: u32,
    pub mean_m: f64,
    pub squares: f64,
    pub products: f64,
    pub before_m: f64,
    /// Both sides of the CUSUM.
    pub high: f64,
    pub low: f64,
}

/// What a tank at rest did at each hour of the day (UTC), the last days, kg/s.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RestMemory {
    pub hours: Vec<Vec<f32>>,
}
