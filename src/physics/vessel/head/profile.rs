//! Ends whose volume below a level has no closed form: cut into circles across the cylinder's axis, and
//! summed up along it.
//!
//! An end is one or two [`Piece`]s of outline. A piece gives the circle at each place of its parameter, and
//! the places where a [`Plane`] begins or ceases to cut the circles; between these the sum is smooth. Its
//! error is below 1e-10 of the end's volume (level) and surface.

use super::super::body::Fill;
use super::super::chord::Chord;
use super::super::quadrature;
use std::f64::consts::PI;

/// A stretch of an end's outline, from the shell outward. Lengths in m, angles in rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// An arc of a circle whose centre lies `offset_m` from the axis and `behind_m` behind the end of the
    /// shell; the angle counts from the outward axis.
    Arc {
        offset_m: f64,
        radius_m: f64,
        behind_m: f64,
        from_rad: f64,
        to_rad: f64,
    },
    /// A straight outline over the depth: the circles shrink evenly from the shell's radius to nothing and
    /// their centres rise evenly by `rise_m`.
    Straight {
        shell_radius_m: f64,
        depth_m: f64,
        rise_m: f64,
    },
}

/// The liquid's surface beside an end: its height above the axis where shell and end meet, and its rise per
/// metre outward (0 on a level cylinder).
#[derive(Clone, Copy, Debug)]
pub struct Plane {
    pub height_m: f64,
    pub rise: f64,
}

/// The circle across the axis at a place of a piece.
#[derive(Clone, Copy, Debug)]
struct Circle {
    radius_m: f64,
    /// Height of its centre above the axis.
    centre_m: f64,
    /// How far beyond the shell it lies.
    beyond_m: f64,
    /// Distance along the axis per step of the parameter.
    thickness: f64,
}

impl Piece {
    /// What of the piece lies below the plane.
    pub fn below(&self, plane: Plane) -> Fill {
        let (start, end) = self.range();
        let mut places = [start, end, end, end, end, end];
        for (place, crossing) in places[1..5].iter_mut().zip(self.crossings(plane)) {
            if crossing > start && crossing < end {
                *place = crossing;
            }
        }
        places.sort_by(f64::total_cmp);
        let mut sum = Fill::EMPTY;
        for pair in places.windows(2) {
            if pair[1] > pair[0] {
                sum += self.between(pair[0], pair[1], plane);
            }
        }
        sum
    }

    fn between(&self, start: f64, end: f64, plane: Plane) -> Fill {
        let middle = self.circle(0.5 * (start + end));
        if middle.depth_m(plane) <= 0.0 {
            return Fill::EMPTY;
        }
        if middle.depth_m(plane) >= 2.0 * middle.radius_m {
            return Fill {
                volume_m3: self.whole_up_to(end) - self.whole_up_to(start),
                surface_m2: 0.0,
            };
        }
        quadrature::over(start, end, |place| {
            let circle = self.circle(place);
            if circle.radius_m <= 0.0 {
                return Fill::EMPTY;
            }
            let chord = Chord::new(circle.radius_m, circle.depth_m(plane));
            Fill {
                volume_m3: chord.segment() * circle.thickness,
                surface_m2: chord.width() * circle.thickness,
            }
        })
    }

    /// ∫ π r² dz, without its constant: all of the circles.
    fn whole_up_to(&self, place: f64) -> f64 {
        match *self {
            // π ρ ∫ (c + ρ sin β)² sin β dβ from 0, with v = 1 − cos β:
            // π ρ [ c² v + c ρ (β − sin β cos β) + ρ² v² (3 − v)/3 ]
            Self::Arc {
                offset_m, radius_m, ..
            } => {
                let (sin, cos) = place.sin_cos();
                let (c_m, rho_m) = (offset_m, radius_m);
                let half_sine = (0.5 * place).sin();
                let v = 2.0 * half_sine * half_sine;
                let form_m2 = c_m * c_m * v
                    + c_m * rho_m * (place - sin * cos)
                    + rho_m * rho_m * v * v * (3.0 - v) / 3.0;
                PI * rho_m * form_m2
            }
            // π R² ∫ (1 − z/a)² dz = −π R² a (1 − z/a)³/3
            Self::Straight {
                shell_radius_m,
                depth_m,
                ..
            } => {
                let left = 1.0 - place / depth_m;
                -PI * shell_radius_m * shell_radius_m * depth_m * left * left * left / 3.0
            }
        }
    }

    fn range(&self) -> (f64, f64) {
        match *self {
            Self::Arc {
                from_rad, to_rad, ..
            } => (from_rad, to_rad),
            Self::Straight { depth_m, .. } => (0.0, depth_m),
        }
    }

    fn circle(&self, place: f64) -> Circle {
        match *self {
            Self::Arc {
                offset_m,
                radius_m,
                behind_m,
                ..
            } => {
                let (sin, cos) = place.sin_cos();
                Circle {
                    radius_m: offset_m + radius_m * sin,
                    centre_m: 0.0,
                    beyond_m: radius_m * cos - behind_m,
                    thickness: radius_m * sin,
                }
            }
            Self::Straight {
                shell_radius_m,
                depth_m,
                rise_m,
            } => Circle {
                radius_m: shell_radius_m * (1.0 - place / depth_m),
                centre_m: rise_m * place / depth_m,
                beyond_m: place,
                thickness: 1.0,
            },
        }
    }

    /// Where the plane touches a circle from below or from above. What is not a number is no such place.
    fn crossings(&self, plane: Plane) -> [f64; 4] {
        let Plane { height_m, rise } = plane;
        match *self {
            // y0 + t (ρ cos β − e) = ±(c + ρ sin β), with t = tan γ:
            // ±sin β cos γ − cos β sin γ = (y0 − t e ∓ c) cos γ / ρ = sin δ
            Self::Arc {
                offset_m,
                radius_m,
                behind_m,
                ..
            } => {
                let tilt_rad = rise.atan();
                let delta_rad = |offset_m: f64| {
                    let sine = (height_m - rise * behind_m - offset_m) * tilt_rad.cos() / radius_m;
                    sine.asin()
                };
                let (above_rad, below_rad) = (delta_rad(offset_m), delta_rad(-offset_m));
                [
                    tilt_rad + above_rad,
                    PI + tilt_rad - above_rad,
                    -tilt_rad - below_rad,
                    PI - tilt_rad + below_rad,
                ]
            }
            // y0 + t z = m z/a ± R (1 − z/a)
            Self::Straight {
                shell_radius_m,
                depth_m,
                rise_m,
            } => {
                let meets =
                    |radius_m: f64| (radius_m - height_m) / (rise - (rise_m - radius_m) / depth_m);
                [
                    meets(shell_radius_m),
                    meets(-shell_radius_m),
                    f64::NAN,
                    f64::NAN,
                ]
            }
        }
    }

    /// The lowest and the highest plane of a rise that touch the piece: the least and the most of
    /// y − t z over its outline.
    pub fn touched(&self, rise: f64) -> (f64, f64) {
        let (start, end) = self.range();
        let height_m = |place: f64, side: f64| {
            let circle = self.circle(place);
            circle.centre_m + side * circle.radius_m - rise * circle.beyond_m
        };
        // on an arc d/dβ [±(c + ρ sin β) − t (ρ cos β − e)] = 0 at tan β = ∓1/t; elsewhere it is an end
        let turning = match self {
            Self::Arc { .. } if rise.abs() > 0.0 => (1.0 / rise.abs()).atan().clamp(start, end),
            _ => start,
        };
        let heights = |side: f64| [start, end, turning].map(|place| height_m(place, side));
        (
            heights(-1.0).into_iter().fold(f64::INFINITY, f64::min),
            heights(1.0).into_iter().fold(f64::NEG_INFINITY, f64::max),
        )
    }
}

impl Circle {
    /// How much of the circle lies below the plane, from its lowest point.
    fn depth_m(&self, plane: Plane) -> f64 {
        plane.height_m + plane.rise * self.beyond_m - self.centre_m + self.radius_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const HEMISPHERE: Piece = Piece::Arc {
        offset_m: 0.0,
        radius_m: 1.0,
        behind_m: 0.0,
        from_rad: 0.0,
        to_rad: PI / 2.0,
    };

    /// Two hemispheres on one rim are a sphere, whatever the slope: V = π d² (3R − d)/3 at the depth d.
    #[test]
    fn a_sphere_has_no_slope() {
        for rise in [0.0, 1e-9, 0.01, 0.2, 1.0] {
            for height_m in [-0.999_f64, -0.7, -1e-4, 0.0, 1e-3, 0.4, 0.95] {
                let plane = |rise| Plane { height_m, rise };
                let mut sphere = HEMISPHERE.below(plane(rise));
                sphere += HEMISPHERE.below(plane(-rise));
                let plumb = 1.0 / (1.0 + rise * rise).sqrt();
                let depth_m = 1.0 + height_m * plumb;
                let cap_m3 = PI * depth_m * depth_m * (3.0 - depth_m) / 3.0;
                assert_relative_eq!(sphere.volume_m3, cap_m3, max_relative = 1e-11);
                // dV/dy0: the level moves perpendicular to the axis
                let surface_m2 = PI * depth_m * (2.0 - depth_m) * plumb;
                assert_relative_eq!(sphere.surface_m2, surface_m2, max_relative = 1e-9);
            }
        }
    }

    /// A knuckle and a cone against their circles laid side by side, each cut by the textbook segment.
    #[test]
    fn the_sum_is_that_of_thin_slices() {
        let knuckle = Piece::Arc {
            offset_m: 0.88,
            radius_m: 0.12,
            behind_m: 0.0,
            from_rad: 0.486,
            to_rad: PI / 2.0,
        };
        let cone = Piece::Straight {
            shell_radius_m: 1.0,
            depth_m: 0.7,
            rise_m: 0.4,
        };
        let segment = |r: f64, y: f64| {
            let y = y.clamp(-r, r);
            r * r * (-y / r).acos() + y * (r * r - y * y).sqrt()
        };
        for piece in [knuckle, cone] {
            for rise in [-0.6, 0.0, 0.05] {
                for height_m in [-0.97, -0.9, 0.0, 0.3, 0.93] {
                    let (start, end) = piece.range();
                    let steps = 20_000;
                    let step = (end - start) / f64::from(steps);
                    let sum_m3: f64 = (0..steps)
                        .map(|n| piece.circle(start + step * (f64::from(n) + 0.5)))
                        .map(|circle| {
                            let y_m = height_m + rise * circle.beyond_m - circle.centre_m;
                            segment(circle.radius_m, y_m) * circle.thickness * step
                        })
                        .sum();
                    let ours_m3 = piece.below(Plane { height_m, rise }).volume_m3;
                    assert_relative_eq!(ours_m3, sum_m3, epsilon = 1e-8);
                }
            }
        }
    }
}
