//! The ends of a cylinder: flat, cone, hemisphere, ellipsoid.
//!
//! Each family gives its fill *standing* (axis upright, apex down, height from the apex) and *lying*
//! (axis level, by the chord that the surface cuts off the circle where head and shell meet).

mod cone;
mod ellipsoid;

use super::body::Fill;
use super::chord::Chord;
use super::error::{VesselError, size_m};
use crate::quantity::Length;

/// An end of a cylinder, bulging outward by its inside depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Head {
    Flat,
    Cone { depth: Length },
    Hemisphere,
    Ellipsoid { depth: Length },
}

/// A head whose sizes have been checked, on a cylinder of known radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    family: Family,
    radius_m: f64,
    depth_m: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Family {
    Flat,
    Cone,
    Ellipsoid,
}

impl End {
    pub fn new(head: Head, radius_m: f64) -> Result<Self, VesselError> {
        let (family, depth_m) = match head {
            Head::Flat => (Family::Flat, 0.0),
            Head::Cone { depth } => (Family::Cone, size_m("depth", depth)?),
            // a hemisphere is the ellipsoid whose depth is the radius
            Head::Hemisphere => (Family::Ellipsoid, radius_m),
            Head::Ellipsoid { depth } => (Family::Ellipsoid, size_m("depth", depth)?),
        };
        Ok(Self {
            family,
            radius_m,
            depth_m,
        })
    }

    pub fn depth(&self) -> f64 {
        self.depth_m
    }

    /// Everything that the head holds.
    pub fn capacity(&self) -> f64 {
        self.standing(self.depth_m).volume_m3
    }

    /// Axis upright and apex down: the fill up to a height above the apex, at most the depth.
    pub fn standing(&self, height_m: f64) -> Fill {
        match self.family {
            Family::Flat => EMPTY,
            Family::Cone => cone::standing(self.radius_m, self.depth_m, height_m),
            Family::Ellipsoid => ellipsoid::standing(self.radius_m, self.depth_m, height_m),
        }
    }

    /// Axis upright and apex down: the radius at a height above the apex.
    pub fn radius_at(&self, height_m: f64) -> f64 {
        match self.family {
            Family::Flat => self.radius_m,
            Family::Cone => cone::radius_at(self.radius_m, self.depth_m, height_m),
            Family::Ellipsoid => ellipsoid::radius_at(self.radius_m, self.depth_m, height_m),
        }
    }

    /// Axis level: the fill below a chord of the circle where head and shell meet.
    pub fn lying(&self, chord: &Chord) -> Fill {
        match self.family {
            Family::Flat => EMPTY,
            Family::Cone => cone::lying(self.depth_m, chord),
            Family::Ellipsoid => ellipsoid::lying(self.depth_m, chord),
        }
    }

    /// Axis level: how far the outline reaches beyond the shell at the chord's height.
    pub fn reach(&self, chord: &Chord) -> f64 {
        match self.family {
            Family::Flat => 0.0,
            Family::Cone => cone::reach(self.depth_m, chord),
            Family::Ellipsoid => ellipsoid::reach(self.depth_m, chord),
        }
    }
}

const EMPTY: Fill = Fill {
    volume_m3: 0.0,
    surface_m2: 0.0,
};
