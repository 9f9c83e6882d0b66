//! Ellipsoidal head: half a spheroid of radius R and depth a. With a = R it is the hemisphere, with
//! a = R/2 the common 2:1 head.

use super::super::body::Fill;
use super::super::chord::Chord;
use std::f64::consts::PI;

/// Spheroid standing on its apex: the spherical cap of radius a (textbook cap formula), stretched by
/// (R/a)² across.
pub fn standing(radius_m: f64, depth_m: f64, height_m: f64) -> Fill {
    let (r_m, a_m, h_m) = (radius_m, depth_m, height_m);
    let stretch = (r_m / a_m) * (r_m / a_m);
    Fill {
        // V = (R/a)² π h² (3a − h)/3
        volume_m3: stretch * PI * h_m * h_m * (3.0 * a_m - h_m) / 3.0,
        // A = (R/a)² π h (2a − h)
        surface_m2: stretch * PI * h_m * (2.0 * a_m - h_m),
    }
}

/// r = (R/a) √(h (2a − h))
pub fn radius_at(radius_m: f64, depth_m: f64, height_m: f64) -> f64 {
    radius_m / depth_m * (height_m * (2.0 * depth_m - height_m)).sqrt()
}

/// Spheroid with a level axis: half the spherical cap of radius R (textbook cap formula), stretched by
/// a/R along the axis; also in D. Jones, "Computing Fluid Tank Volumes" (ellipsoidal heads).
pub fn lying(depth_m: f64, chord: &Chord) -> Fill {
    let (a_m, r_m, h_m) = (depth_m, chord.radius_m, chord.level_m);
    Fill {
        // V = (a/R) π h² (3R − h)/6
        volume_m3: a_m / r_m * PI * h_m * h_m * (3.0 * r_m - h_m) / 6.0,
        // A = (a/R) π h (2R − h)/2
        surface_m2: a_m / r_m * PI * h_m * (2.0 * r_m - h_m) / 2.0,
    }
}

/// The outline is the half ellipse a sin θ.
pub fn reach(depth_m: f64, chord: &Chord) -> f64 {
    depth_m * chord.sin
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A spheroid holds 4/3 π R² a.
    #[test]
    fn a_full_head_is_half_the_spheroid_in_any_position() {
        let half = 2.0 / 3.0 * PI * 0.8 * 0.8 * 0.3;
        assert_relative_eq!(
            standing(0.8, 0.3, 0.3).volume_m3,
            half,
            max_relative = 1e-14
        );
        let full = lying(0.3, &Chord::new(0.8, 1.6)).volume_m3;
        assert_relative_eq!(full, half, max_relative = 1e-14);
    }
}
