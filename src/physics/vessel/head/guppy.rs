//! Guppy: a cone whose apex is level with the top of the shell, so that its upper line is straight. Only a
//! horizontal cylinder has one.
//!
//! By similarity the circles across the axis all touch the upper line; the volume is derived from that and
//! agrees with D. Jones, "Computing Fluid Tank Volumes" (guppy heads).

use super::super::body::Fill;
use super::super::chord::Chord;

/// With a level axis, at h = R (1 − cos θ).
pub fn lying(depth_m: f64, chord: &Chord) -> Fill {
    let (a_m, r_m) = (depth_m, chord.radius_m);
    let (theta, sin, cos) = (chord.angle_rad, chord.sin, chord.cos);
    // V = (2/3) a R² [ (θ − sin θ cos θ)/2 − sin³θ/3 ]
    let form = if theta < SMALL_ANGLE_RAD {
        let t2 = theta * theta;
        // its power series, where the terms cancel
        theta * t2 * t2 * (1.0 / 10.0 - t2 * (5.0 / 168.0 - t2 / 240.0))
    } else {
        0.5 * (theta - sin * cos) - sin * sin * sin / 3.0
    };
    Fill {
        volume_m3: 2.0 / 3.0 * a_m * r_m * r_m * form,
        // A = (2/3) a R (1 − cos θ) sin θ
        surface_m2: 2.0 / 3.0 * a_m * chord.level_m * sin,
    }
}

const SMALL_ANGLE_RAD: f64 = 0.05;

/// The outline rises in a straight line from the shell's bottom to the apex.
pub fn reach(depth_m: f64, chord: &Chord) -> f64 {
    depth_m * (chord.level_m / (2.0 * chord.radius_m)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::super::profile::{Piece, Plane};
    use super::*;
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    #[test]
    fn a_full_guppy_is_a_cone_of_the_same_base_and_depth() {
        let full = lying(0.5, &Chord::new(0.8, 1.6));
        assert_relative_eq!(full.volume_m3, PI * 0.64 * 0.5 / 3.0, max_relative = 1e-14);
    }

    #[test]
    fn the_closed_form_is_the_sum_of_its_circles() {
        let piece = Piece::Straight {
            shell_radius_m: 0.8,
            depth_m: 0.5,
            rise_m: 0.8,
        };
        for level_m in [0.0005, 0.01, 0.3, 0.8, 1.1, 1.5] {
            let closed = lying(0.5, &Chord::new(0.8, level_m));
            let plane = Plane {
                height_m: level_m - 0.8,
                rise: 0.0,
            };
            let sum = piece.below(plane);
            assert_relative_eq!(closed.volume_m3, sum.volume_m3, max_relative = 1e-9);
            assert_relative_eq!(closed.surface_m2, sum.surface_m2, max_relative = 1e-9);
        }
    }
}
