//! Conical head: radius R where it meets the shell, falling in a straight line to 0 over the depth a.

use super::super::body::Fill;
use super::super::chord::Chord;
use std::f64::consts::PI;

/// Cone standing on its apex; the textbook cone, by similarity.
pub fn standing(radius_m: f64, depth_m: f64, height_m: f64) -> Fill {
    let r_m = radius_at(radius_m, depth_m, height_m);
    Fill {
        // V = π r² h / 3
        volume_m3: PI * r_m * r_m * height_m / 3.0,
        // A = π r²
        surface_m2: PI * r_m * r_m,
    }
}

/// r = R h/a
pub fn radius_at(radius_m: f64, depth_m: f64, height_m: f64) -> f64 {
    radius_m * height_m / depth_m
}

/// Cone with a level axis. A level cut at y from the axis is bounded by a hyperbola:
/// A(y) = (a/R) ∫ 2 √(r² − y²) dr from |y| to R = a R [ sin θ − cos²θ artanh(sin θ) ] with y = −R cos θ,
/// and V = ∫ A dy. Derived by integration by parts; the same integral as in D. Jones, "Computing Fluid
/// Tank Volumes" (conical heads). Rounding error below 1e-15 of the head's volume.
pub fn lying(depth_m: f64, chord: &Chord) -> Fill {
    let (a_m, r_m) = (depth_m, chord.radius_m);
    let (theta, sin, cos) = (chord.angle_rad, chord.sin, chord.cos);
    // artanh(sin θ) = ln[(1 + sin θ)/|cos θ|]; its product with a power of cos θ is 0 at mid height
    let artanh = ((1.0 + sin) / cos.abs().max(f64::MIN_POSITIVE)).ln();
    if theta < SMALL_ANGLE_RAD {
        return near_the_bottom(a_m, r_m, theta);
    }
    Fill {
        // V = (a R²/3) [ θ − 2 sin θ cos θ + cos³θ artanh(sin θ) ]
        volume_m3: a_m * r_m * r_m / 3.0 * (theta - 2.0 * sin * cos + cos * cos * cos * artanh),
        // A = a R [ sin θ − cos²θ artanh(sin θ) ]
        surface_m2: a_m * r_m * (sin - cos * cos * artanh),
    }
}

/// Below this half angle the closed form's terms cancel to less than the series leaves out (1e-11 of the
/// volume here, which is itself 1e-8 of the head's).
const SMALL_ANGLE_RAD: f64 = 0.05;

/// Power series of the closed form in θ (derived; the first term of V is 2/15 a R² θ⁵).
fn near_the_bottom(a_m: f64, r_m: f64, theta: f64) -> Fill {
    let t2 = theta * theta;
    Fill {
        // V = a R² ( 2/15 θ⁵ − 2/45 θ⁷ + 2/315 θ⁹ − … )
        volume_m3: a_m
            * r_m
            * r_m
            * theta
            * t2
            * t2
            * (2.0 / 15.0 - t2 * (2.0 / 45.0 - t2 * 2.0 / 315.0)),
        // A = a R ( 2/3 s³ + 2/15 s⁵ + 2/35 s⁷ + … ), s = sin θ
        surface_m2: {
            let s = theta.sin();
            let s2 = s * s;
            a_m * r_m * s * s2 * (2.0 / 3.0 + s2 * (2.0 / 15.0 + s2 * 2.0 / 35.0))
        },
    }
}

/// The outline is the triangle a (1 − |y|/R).
pub fn reach(depth_m: f64, chord: &Chord) -> f64 {
    depth_m * (1.0 - chord.cos.abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_full_cone_is_a_third_of_its_cylinder_in_any_position() {
        let third = PI * 0.8 * 0.8 * 0.5 / 3.0;
        assert_relative_eq!(
            standing(0.8, 0.5, 0.5).volume_m3,
            third,
            max_relative = 1e-14
        );
        let full = lying(0.5, &Chord::new(0.8, 1.6)).volume_m3;
        assert_relative_eq!(full, third, max_relative = 1e-14);
        let half = lying(0.5, &Chord::new(0.8, 0.8)).volume_m3;
        assert_relative_eq!(half, 0.5 * third, max_relative = 1e-14);
    }

    #[test]
    fn the_series_near_the_bottom_meets_the_closed_form() {
        // h = R (1 − cos θ)
        let at = |theta: f64| lying(0.5, &Chord::new(0.8, 1.6 * (0.5 * theta).sin().powi(2)));
        let (below, above) = (
            at(SMALL_ANGLE_RAD * (1.0 - 1e-12)),
            at(SMALL_ANGLE_RAD * (1.0 + 1e-12)),
        );
        assert_relative_eq!(below.volume_m3, above.volume_m3, max_relative = 1e-7);
        assert_relative_eq!(below.surface_m2, above.surface_m2, max_relative = 1e-7);
    }

    /// The surface at mid height is the triangle through the axis, a R.
    #[test]
    fn the_cut_through_the_axis_is_a_triangle() {
        let surface_m2 = lying(0.5, &Chord::new(0.8, 0.8)).surface_m2;
        assert_relative_eq!(surface_m2, 0.4, max_relative = 1e-14);
    }
}
