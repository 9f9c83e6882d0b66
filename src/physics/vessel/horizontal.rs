//! Horizontal cylinder with a level axis: the straight shell's segment, and the two heads beside it.
//! Its section is round or elliptical.

use super::body::{Body, Fill};
use super::chord::Chord;
use super::error::{VesselError, size_m};
use super::head::{End, Head};
use super::section::Section;
use crate::quantity::Length;

#[derive(Clone, Debug, PartialEq)]
pub struct Horizontal {
    section: Section,
    length_m: f64,
    left: End,
    right: End,
}

impl Horizontal {
    pub fn new(
        section: Section,
        length: Length,
        left: Head,
        right: Head,
    ) -> Result<Self, VesselError> {
        let radius_m = section.radius_m;
        Ok(Self {
            section,
            length_m: size_m("length", length)?,
            left: End::lying_on(left, radius_m).map_err(|error| error.of("left"))?,
            right: End::lying_on(right, radius_m).map_err(|error| error.of("right"))?,
        })
    }
}

impl Body for Horizontal {
    fn top(&self) -> f64 {
        2.0 * self.section.radius_m
    }

    fn fill(&self, level_m: f64) -> Fill {
        let chord = Chord::new(self.section.radius_m, level_m);
        let left = self.left.lying(&chord);
        let right = match self.left == self.right {
            true => left,
            false => self.right.lying(&chord),
        };
        let fill = Fill {
            volume_m3: self.length_m * chord.segment() + (left.volume_m3 + right.volume_m3),
            surface_m2: self.length_m * chord.width() + (left.surface_m2 + right.surface_m2),
        };
        fill * self.section.stretch
    }

    fn half_width(&self, level_m: f64) -> f64 {
        let chord = Chord::new(self.section.radius_m, level_m);
        0.5 * (self.length_m + self.left.reach(&chord) + self.right.reach(&chord))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Shape, Vessel};
    use super::*;
    use crate::quantity::metres;
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    #[test]
    fn two_hemispheres_make_a_sphere_beside_the_shell() {
        let drum = Vessel::new(Shape::HorizontalCylinder {
            diameter: metres(2.0),
            length: metres(3.0),
            left: Head::Hemisphere,
            right: Head::Hemisphere,
        })
        .expect("the sizes are right");
        let capacity_m3 = 3.0 * PI + 4.0 / 3.0 * PI;
        assert_relative_eq!(drum.capacity().value, capacity_m3, max_relative = 1e-14);
        assert_relative_eq!(drum.half_width(metres(1.0)).value, 2.5);
        assert_relative_eq!(drum.half_width(metres(0.0)).value, 1.5);
    }
}
