//! What the site file says of the sight glass, of dips and of how often they are due.

use super::Source;
use crate::quantity::{Length, metres};
use std::time::Duration;

#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoundsPlan {
    pub glass: GlassPlan,
    pub dip: DipPlan,
    /// An entry is due so long after the one before; none: when somebody sees fit.
    pub every: Option<Duration>,
    /// How far reading and entry may be apart; where that is less, their own uncertainty.
    pub tolerance: Option<Length>,
}

/// The sight glass.
#[derive(Clone, Debug, PartialEq)]
pub struct GlassPlan {
    /// Where the zero of its scale stands, from the site's zero.
    pub zero_at: Length,
    /// Of its scale.
    pub length: Option<Length>,
    /// Of what stands in it, where it is not that of the tank.
    pub temperature: Option<Source>,
}

/// Where dips are counted from, from the site's zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DipPlan {
    /// The plate that innages stand on.
    pub plate_at: Length,
    /// The point that ullages hang from.
    pub point_at: Option<Length>,
}

impl Default for GlassPlan {
    fn default() -> Self {
        Self {
            zero_at: metres(0.0),
            length: None,
            temperature: None,
        }
    }
}

impl Default for DipPlan {
    fn default() -> Self {
        Self {
            plate_at: metres(0.0),
            point_at: None,
        }
    }
}
