//! Horizontal cylinder whose axis is sloped lengthwise.
//!
//! The level is taken at mid-length, perpendicular to the axis, from the lowest inside point there; the liquid
//! stands deeper at the lower end. With the slope σ (positive: right end higher) the surface is
//! ℓ(x) = h − x tan σ, x to the right from mid-length. V = ∫ S(ℓ(x)) dx with the segment S of the circle; for
//! the shell that is closed form (derived), for the ends see [`super::head`].

use super::body::{Body, Fill};
use super::chord::Chord;
use super::error::{VesselError, size_m};
use super::head::{End, Head, Plane};
use super::quadrature;
use super::section::Section;
use crate::quantity::{Angle, Length};
use std::f64::consts::PI;

/// Steeper than this, a cylinder is no horizontal one (common practice, no source).
const STEEPEST_RAD: f64 = PI / 4.0;

/// Where the surface falls less than this share of the radius over half the length, the closed form of the
/// shell would lose digits in the difference of its ends; the same integral is then summed up.
const NEARLY_LEVEL: f64 = 0.01;

#[derive(Clone, Debug, PartialEq)]
pub struct Sloped {
    section: Section,
    length_m: f64,
    left: End,
    right: End,
    /// tan σ
    tangent: f64,
    bottom_m: f64,
    top_m: f64,
}

impl Sloped {
    pub fn new(
        section: Section,
        length: Length,
        ends: (Head, Head),
        slope: Angle,
    ) -> Result<Self, VesselError> {
        let slope_rad = slope.value;
        if slope_rad.is_nan() || slope_rad.abs() > STEEPEST_RAD {
            let message = format!(
                "must lie between -45 deg and 45 deg, not {:.3} deg",
                slope_rad.to_degrees()
            );
            return Err(VesselError::new("slope", message));
        }
        let radius_m = section.radius_m;
        let mut sloped = Self {
            section,
            length_m: size_m("length", length)?,
            left: End::lying_on(ends.0, radius_m).map_err(|error| error.of("left"))?,
            right: End::lying_on(ends.1, radius_m).map_err(|error| error.of("right"))?,
            tangent: slope_rad.tan(),
            bottom_m: 0.0,
            top_m: 0.0,
        };
        (sloped.bottom_m, sloped.top_m) = sloped.extent();
        Ok(sloped)
    }

    /// What the surface falls from mid-length to the right end.
    fn fall_m(&self) -> f64 {
        0.5 * self.length_m * self.tangent
    }

    /// The levels at which the surface touches the vessel from below and from above.
    fn extent(&self) -> (f64, f64) {
        let middle_m = self.section.radius_m;
        let (left, right) = (
            self.left.touched(self.tangent),
            self.right.touched(-self.tangent),
        );
        let fall_m = self.fall_m();
        (
            middle_m + (left.0 - fall_m).min(right.0 + fall_m),
            middle_m + (left.1 - fall_m).max(right.1 + fall_m),
        )
    }

    fn shell(&self, level_m: f64) -> Fill {
        let r_m = self.section.radius_m;
        if self.fall_m().abs() < NEARLY_LEVEL * r_m {
            return self.nearly_level_shell(level_m);
        }
        let (left_m, right_m) = (level_m + self.fall_m(), level_m - self.fall_m());
        // V = [J(ℓ_left) − J(ℓ_right)]/tan σ with J' = S, A = [S(ℓ_left) − S(ℓ_right)]/tan σ
        let segment = |level_m: f64| Chord::new(r_m, level_m).segment();
        Fill {
            volume_m3: (segments_up_to(r_m, left_m) - segments_up_to(r_m, right_m)) / self.tangent,
            surface_m2: (segment(left_m) - segment(right_m)) / self.tangent,
        }
    }

    fn nearly_level_shell(&self, level_m: f64) -> Fill {
        let (r_m, half_m) = (self.section.radius_m, 0.5 * self.length_m);
        let (start_m, end_m) = self.surface(level_m);
        let mut sum = Fill::EMPTY;
        for (from_m, to_m) in [(-half_m, start_m), (start_m, end_m), (end_m, half_m)] {
            if to_m > from_m {
                sum += quadrature::over(from_m, to_m, |x_m| {
                    let chord = Chord::new(r_m, level_m - x_m * self.tangent);
                    Fill {
                        volume_m3: chord.segment(),
                        surface_m2: chord.width(),
                    }
                });
            }
        }
        sum
    }

    /// From where to where the surface lies inside of the shell: between ℓ = 0 and ℓ = D.
    fn surface(&self, level_m: f64) -> (f64, f64) {
        let (r_m, half_m) = (self.section.radius_m, 0.5 * self.length_m);
        let (empty_m, full_m) = (level_m / self.tangent, (level_m - 2.0 * r_m) / self.tangent);
        (
            empty_m.min(full_m).clamp(-half_m, half_m),
            empty_m.max(full_m).clamp(-half_m, half_m),
        )
    }
}

/// J(ℓ) = ∫ S dℓ from 0 = R³ [ sin θ − sin³θ/3 − θ cos θ ]; above the circle it grows by its area.
fn segments_up_to(radius_m: f64, level_m: f64) -> f64 {
    let r_m = radius_m;
    let chord = Chord::new(r_m, level_m);
    let (theta, sin, cos) = (chord.angle_rad, chord.sin, chord.cos);
    let above_m = (level_m - 2.0 * r_m).max(0.0);
    let form = if theta < SMALL_ANGLE_RAD {
        let t2 = theta * theta;
        // its power series, where the terms cancel
        theta * t2 * t2 * (2.0 / 15.0 - t2 * (11.0 / 315.0 - t2 * 17.0 / 3780.0))
    } else {
        sin - sin * sin * sin / 3.0 - theta * cos
    };
    r_m * r_m * r_m * form + PI * r_m * r_m * above_m
}

const SMALL_ANGLE_RAD: f64 = 0.05;

impl Body for Sloped {
    fn bottom(&self) -> f64 {
        self.bottom_m
    }

    fn top(&self) -> f64 {
        self.top_m
    }

    fn fill(&self, level_m: f64) -> Fill {
        let from_axis_m = level_m - self.section.radius_m;
        // along x to the right the surface falls, to the left it rises
        let mut sum = self.shell(level_m);
        sum += self.left.below(Plane {
            height_m: from_axis_m + self.fall_m(),
            rise: self.tangent,
        });
        sum += self.right.below(Plane {
            height_m: from_axis_m - self.fall_m(),
            rise: -self.tangent,
        });
        sum * self.section.stretch
    }

    /// Half the length of the surface inside of the shell, and the ends where it reaches them.
    fn half_width(&self, level_m: f64) -> f64 {
        let (r_m, half_m) = (self.section.radius_m, 0.5 * self.length_m);
        let in_shell = |x_m: f64| (0.0..=2.0 * r_m).contains(&(level_m - x_m * self.tangent));
        let reach = |end: &End, x_m: f64| match in_shell(x_m) {
            true => end.reach(&Chord::new(r_m, level_m - x_m * self.tangent)),
            false => 0.0,
        };
        let (start_m, end_m) = self.surface(level_m);
        0.5 * (end_m - start_m + reach(&self.left, -half_m) + reach(&self.right, half_m))
    }
}
