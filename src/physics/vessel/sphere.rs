//! Sphere: the textbook spherical cap.

use super::body::{Body, Fill};
use super::error::{VesselError, size_m};
use crate::quantity::Length;
use std::f64::consts::PI;

#[derive(Clone, Debug, PartialEq)]
pub struct Sphere {
    radius_m: f64,
}

impl Sphere {
    pub fn new(diameter: Length) -> Result<Self, VesselError> {
        let radius_m = 0.5 * size_m("diameter", diameter)?;
        Ok(Self { radius_m })
    }
}

impl Body for Sphere {
    fn top(&self) -> f64 {
        2.0 * self.radius_m
    }

    fn fill(&self, level_m: f64) -> Fill {
        let (r_m, h_m) = (self.radius_m, level_m);
        Fill {
            // V = π h² (3R − h)/3
            volume_m3: PI * h_m * h_m * (3.0 * r_m - h_m) / 3.0,
            // A = π h (2R − h)
            surface_m2: PI * h_m * (2.0 * r_m - h_m),
        }
    }

    fn half_width(&self, level_m: f64) -> f64 {
        // r = √(h (2R − h))
        (level_m * (2.0 * self.radius_m - level_m)).sqrt()
    }
}
