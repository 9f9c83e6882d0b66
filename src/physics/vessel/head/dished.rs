//! Dished and torispherical heads: a spherical dish, and between it and the shell a knuckle (a part of a
//! torus) that meets both without an edge. A dish alone is a segment of a sphere.
//!
//! Geometry as in D. Jones, "Computing Fluid Tank Volumes" (torispherical and spherical heads); standing, all
//! of it is closed form. Lying, the solution is an integral: see [`super::profile`].

use super::super::body::Fill;
use super::super::error::{VesselError, size_m};
use super::profile::Piece;
use crate::quantity::Length;
use std::f64::consts::{FRAC_PI_2, PI};

/// Lengths in m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dished {
    dish_radius_m: f64,
    /// 0 without a knuckle.
    knuckle_radius_m: f64,
    /// Distance of the knuckle's centre from the axis.
    offset_m: f64,
    /// Where dish and knuckle meet, from the axis at the dish's centre.
    joint_rad: f64,
    pub depth_m: f64,
}

impl Dished {
    /// A segment of a sphere: F = (R² + a²)/2a.
    pub fn segment(depth: Length, radius_m: f64) -> Result<Self, VesselError> {
        let depth_m = size_m("depth", depth)?;
        if depth_m > radius_m {
            let message =
                format!("must be at most the vessel's radius of {radius_m} m, not {depth_m} m");
            return Err(VesselError::new("depth", message));
        }
        Ok(Self {
            dish_radius_m: (radius_m * radius_m + depth_m * depth_m) / (2.0 * depth_m),
            knuckle_radius_m: 0.0,
            offset_m: radius_m,
            // tan(α/2) = a/R
            joint_rad: 2.0 * (depth_m / radius_m).atan(),
            depth_m,
        })
    }

    pub fn torisphere(dish: Length, knuckle: Length, radius_m: f64) -> Result<Self, VesselError> {
        let dish_m = size_m("dish_radius", dish)?;
        let knuckle_m = size_m("knuckle_radius", knuckle)?;
        // a radius written as a product of the diameter may miss it by its last digit
        if dish_m < radius_m * (1.0 - 1e-12) {
            let message =
                format!("must be at least the vessel's radius of {radius_m} m, not {dish_m} m");
            return Err(VesselError::new("dish_radius", message));
        }
        if knuckle_m >= radius_m {
            let message =
                format!("must be less than the vessel's radius of {radius_m} m, not {knuckle_m} m");
            return Err(VesselError::new("knuckle_radius", message));
        }
        // sin α = (R − K)/(F − K), a = F − (F − K) cos α
        let sin = ((radius_m - knuckle_m) / (dish_m - knuckle_m)).min(1.0);
        let cos = (1.0 - sin * sin).sqrt();
        Ok(Self {
            dish_radius_m: dish_m,
            knuckle_radius_m: knuckle_m,
            offset_m: radius_m - knuckle_m,
            joint_rad: sin.asin(),
            depth_m: dish_m - (dish_m - knuckle_m) * cos,
        })
    }

    /// The arcs of the outline: dish, then knuckle.
    pub fn pieces(&self) -> [Option<Piece>; 2] {
        let dish = Piece::Arc {
            offset_m: 0.0,
            radius_m: self.dish_radius_m,
            behind_m: self.dish_radius_m - self.depth_m,
            from_rad: 0.0,
            to_rad: self.joint_rad,
        };
        let knuckle = Piece::Arc {
            offset_m: self.offset_m,
            radius_m: self.knuckle_radius_m,
            behind_m: 0.0,
            from_rad: self.joint_rad,
            to_rad: FRAC_PI_2,
        };
        [Some(dish), (self.knuckle_radius_m > 0.0).then_some(knuckle)]
    }

    /// How deep the dish alone is: F (1 − cos α) = 2 F sin²(α/2)
    fn dish_depth(&self) -> f64 {
        if self.knuckle_radius_m > 0.0 {
            let half_sine = (0.5 * self.joint_rad).sin();
            2.0 * self.dish_radius_m * half_sine * half_sine
        } else {
            self.depth_m
        }
    }

    /// Standing on its apex.
    pub fn standing(&self, height_m: f64) -> Fill {
        let dish_m = self.dish_depth();
        if height_m <= dish_m {
            return self.cap(height_m);
        }
        // u = a − h, from the knuckle's centre down; c = R − K
        let (u1_m, u_m) = (self.depth_m - dish_m, (self.depth_m - height_m).max(0.0));
        let (c_m, k_m) = (self.offset_m, self.knuckle_radius_m);
        let half_width_m = |u_m: f64| (k_m * k_m - u_m * u_m).max(0.0).sqrt();
        // ∫ √(K² − u²) du = [u √(K² − u²) + K² asin(u/K)]/2
        let under_arc_m2 =
            |u_m: f64| 0.5 * (u_m * half_width_m(u_m) + k_m * k_m * (u_m / k_m).min(1.0).asin());
        // V = V_dish + π ∫ (c + √(K² − u²))² du
        let knuckle_m3 = (c_m * c_m + k_m * k_m) * (u1_m - u_m)
            - (u1_m * u1_m * u1_m - u_m * u_m * u_m) / 3.0
            + 2.0 * c_m * (under_arc_m2(u1_m) - under_arc_m2(u_m));
        let r_m = c_m + half_width_m(u_m);
        Fill {
            volume_m3: self.cap(dish_m).volume_m3 + PI * knuckle_m3,
            surface_m2: PI * r_m * r_m,
        }
    }

    /// Cap of the dish's sphere: V = π h² (3F − h)/3, A = π h (2F − h)
    fn cap(&self, height_m: f64) -> Fill {
        let (f_m, h_m) = (self.dish_radius_m, height_m);
        Fill {
            volume_m3: PI * h_m * h_m * (3.0 * f_m - h_m) / 3.0,
            surface_m2: PI * h_m * (2.0 * f_m - h_m),
        }
    }

    /// Standing on its apex: the radius at a height.
    pub fn radius_at(&self, height_m: f64) -> f64 {
        (self.standing(height_m).surface_m2 / PI).sqrt()
    }

    /// Lying: how far the outline reaches beyond the shell at a height from the axis.
    pub fn reach(&self, from_axis_m: f64) -> f64 {
        let (f_m, k_m) = (self.dish_radius_m, self.knuckle_radius_m);
        let y_m = from_axis_m.abs();
        if k_m <= 0.0 || y_m <= f_m * self.joint_rad.sin() {
            // √(F² − y²) − (F − a)
            ((f_m * f_m - y_m * y_m).max(0.0).sqrt() - (f_m - self.depth_m)).max(0.0)
        } else {
            let across_m = y_m - self.offset_m;
            (k_m * k_m - across_m * across_m).max(0.0).sqrt()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::profile::Plane;
    use super::*;
    use crate::quantity::metres;
    use approx::assert_relative_eq;

    fn all_of(head: &Dished) -> f64 {
        let above_all = Plane {
            height_m: 10.0,
            rise: 0.3,
        };
        let pieces = head.pieces().into_iter().flatten();
        pieces.map(|piece| piece.below(above_all).volume_m3).sum()
    }

    #[test]
    fn standing_and_lying_a_full_head_holds_the_same() {
        let torisphere =
            Dished::torisphere(metres(2.0), metres(0.12), 1.0).expect("the sizes are right");
        let dish = Dished::segment(metres(0.3), 1.0).expect("the depth is right");
        for head in [torisphere, dish] {
            let standing_m3 = head.standing(head.depth_m).volume_m3;
            assert_relative_eq!(all_of(&head), standing_m3, max_relative = 1e-13);
        }
    }

    /// Depth 0.1693 D and 0.1938 D: the form factors in common use (common practice, no source).
    #[test]
    fn the_depths_of_the_common_heads() {
        let depth = |knuckle_m| {
            Dished::torisphere(metres(1.0), metres(knuckle_m), 0.5)
                .expect("the sizes are right")
                .depth_m
        };
        assert_relative_eq!(depth(0.06), 0.1693, epsilon = 5e-5);
        assert_relative_eq!(depth(0.1), 0.1938, epsilon = 5e-5);
    }

    #[test]
    fn a_dish_as_deep_as_the_radius_is_a_hemisphere() {
        let dish = Dished::segment(metres(1.0), 1.0).expect("the depth is right");
        assert_relative_eq!(
            dish.standing(1.0).volume_m3,
            2.0 / 3.0 * PI,
            max_relative = 1e-14
        );
    }
}
