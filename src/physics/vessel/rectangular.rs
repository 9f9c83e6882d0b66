//! Rectangular tank: V = l w h.

use super::body::{Body, Fill};
use super::error::{VesselError, size_m};
use crate::quantity::Length;

#[derive(Clone, Debug, PartialEq)]
pub struct Rectangular {
    length_m: f64,
    width_m: f64,
    height_m: f64,
}

impl Rectangular {
    pub fn new(length: Length, width: Length, height: Length) -> Result<Self, VesselError> {
        Ok(Self {
            length_m: size_m("length", length)?,
            width_m: size_m("width", width)?,
            height_m: size_m("height", height)?,
        })
    }
}

impl Body for Rectangular {
    fn top(&self) -> f64 {
        self.height_m
    }

    fn fill(&self, level_m: f64) -> Fill {
        let surface_m2 = self.length_m * self.width_m;
        Fill {
            volume_m3: surface_m2 * level_m,
            surface_m2,
        }
    }

    /// Seen along its width: half the length.
    fn half_width(&self, _level_m: f64) -> f64 {
        0.5 * self.length_m
    }
}
