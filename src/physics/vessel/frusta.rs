//! Stack of frusta: cones cut off, from the bottom up; V = π z (r₁² + r₁ r + r²)/3, the textbook frustum.

use super::body::{Body, Fill};
use super::error::{VesselError, size_m};
use crate::quantity::Length;
use std::f64::consts::PI;

/// One section of a stack: its height, and its diameter at its lower and upper end (0 at a tip).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frustum {
    pub height: Length,
    pub lower: Length,
    pub upper: Length,
}

/// The most sections that a stack has (common practice, no source).
const MOST_SECTIONS: usize = 1000;

#[derive(Clone, Debug, PartialEq)]
pub struct Frusta {
    sections: Vec<Section>,
    top_m: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Section {
    bottom_m: f64,
    height_m: f64,
    lower_radius_m: f64,
    upper_radius_m: f64,
    /// Everything in the sections below.
    below_m3: f64,
}

impl Frusta {
    pub fn new(frusta: &[Frustum]) -> Result<Self, VesselError> {
        if frusta.is_empty() || frusta.len() > MOST_SECTIONS {
            let message = format!("need from 1 to {MOST_SECTIONS}, not {}", frusta.len());
            return Err(VesselError::new("sections", message));
        }
        let (mut sections, mut top_m, mut below_m3) = (Vec::new(), 0.0, 0.0);
        for (index, frustum) in frusta.iter().enumerate() {
            let section = Section::new(frustum, top_m, below_m3)
                .map_err(|error| error.in_entry("sections", index))?;
            top_m += section.height_m;
            below_m3 += section.fill(section.height_m).volume_m3;
            sections.push(section);
        }
        Ok(Self { sections, top_m })
    }

    fn at(&self, level_m: f64) -> &Section {
        let above = self
            .sections
            .partition_point(|section| section.bottom_m <= level_m);
        &self.sections[above.saturating_sub(1)]
    }
}

impl Section {
    fn new(frustum: &Frustum, bottom_m: f64, below_m3: f64) -> Result<Self, VesselError> {
        let diameter_m = |key: &'static str, diameter: Length| {
            if diameter == Length::default() {
                return Ok(0.0);
            }
            size_m(key, diameter)
        };
        let (lower_m, upper_m) = (
            diameter_m("lower", frustum.lower)?,
            diameter_m("upper", frustum.upper)?,
        );
        if lower_m + upper_m <= 0.0 {
            return Err(VesselError::new(
                "upper",
                "must be more than 0 where `lower` is 0",
            ));
        }
        Ok(Self {
            bottom_m,
            height_m: size_m("height", frustum.height)?,
            lower_radius_m: 0.5 * lower_m,
            upper_radius_m: 0.5 * upper_m,
            below_m3,
        })
    }

    fn radius_at(&self, z_m: f64) -> f64 {
        self.lower_radius_m + (self.upper_radius_m - self.lower_radius_m) * z_m / self.height_m
    }

    /// The section's own fill.
    fn fill(&self, z_m: f64) -> Fill {
        let (r1_m, r_m) = (self.lower_radius_m, self.radius_at(z_m));
        Fill {
            volume_m3: PI * z_m * (r1_m * r1_m + r1_m * r_m + r_m * r_m) / 3.0,
            surface_m2: PI * r_m * r_m,
        }
    }
}

impl Body for Frusta {
    fn top(&self) -> f64 {
        self.top_m
    }

    /// Where two sections meet, the surface is that of the upper one.
    fn fill(&self, level_m: f64) -> Fill {
        let section = self.at(level_m);
        let within = section.fill((level_m - section.bottom_m).min(section.height_m));
        Fill {
            volume_m3: section.below_m3 + within.volume_m3,
            ..within
        }
    }

    fn half_width(&self, level_m: f64) -> f64 {
        let section = self.at(level_m);
        section.radius_at((level_m - section.bottom_m).min(section.height_m))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Shape, Vessel};
    use super::*;
    use crate::quantity::metres;
    use approx::assert_relative_eq;

    fn section(height_m: f64, lower_m: f64, upper_m: f64) -> Frustum {
        Frustum {
            height: metres(height_m),
            lower: metres(lower_m),
            upper: metres(upper_m),
        }
    }

    #[test]
    fn a_cone_below_a_cylinder() {
        let sections = vec![section(0.9, 0.0, 2.0), section(3.0, 2.0, 2.0)];
        let hopper = Vessel::new(Shape::Frusta { sections }).expect("the sizes are right");
        assert_relative_eq!(hopper.top().value, 3.9);
        assert_relative_eq!(hopper.capacity().value, PI * 3.3, max_relative = 1e-14);
        assert_relative_eq!(
            hopper.volume(metres(1.9)).value,
            PI * 1.3,
            max_relative = 1e-14
        );
        assert_relative_eq!(
            hopper.area(metres(0.45)).value,
            PI * 0.25,
            max_relative = 1e-14
        );
        assert_relative_eq!(hopper.half_width(metres(0.45)).value, 0.5);
    }

    #[test]
    fn a_section_without_a_size_is_refused_with_its_number() {
        let refusal = |sections: Vec<Frustum>| {
            Vessel::new(Shape::Frusta { sections })
                .expect_err("refused")
                .to_string()
        };
        assert_eq!(
            refusal(vec![section(1.0, 1.0, 2.0), section(1.0, 0.0, 0.0)]),
            "sections entry 2: upper must be more than 0 where `lower` is 0"
        );
        assert_eq!(
            refusal(vec![section(0.0, 1.0, 2.0)]),
            "sections entry 1: height must be more than 0, not 0 m"
        );
        assert_eq!(refusal(Vec::new()), "sections need from 1 to 1000, not 0");
    }
}
