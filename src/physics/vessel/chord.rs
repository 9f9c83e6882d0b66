//! The circle of a lying cylinder, cut by the liquid's surface.

/// Where the surface cuts the shell's circle: the half angle θ that the liquid takes up at the centre,
/// from 0 (empty) to π (full).
#[derive(Clone, Copy, Debug)]
pub struct Chord {
    pub radius_m: f64,
    pub level_m: f64,
    pub angle_rad: f64,
    pub sin: f64,
    pub cos: f64,
}

impl Chord {
    pub fn new(radius_m: f64, level_m: f64) -> Self {
        let diameter_m = 2.0 * radius_m;
        let share = (level_m / diameter_m).clamp(0.0, 1.0);
        Self {
            radius_m,
            level_m,
            // h = R (1 − cos θ) = D sin²(θ/2)
            angle_rad: 2.0 * share.sqrt().asin(),
            // sin θ = √(h (D − h)) / R
            sin: 2.0 * (share * (1.0 - share)).sqrt(),
            // cos θ = 1 − h/R
            cos: 1.0 - 2.0 * share,
        }
    }

    /// Area of the circle's segment below the chord: R² (2θ − sin 2θ)/2, the textbook segment formula.
    pub fn segment(&self) -> f64 {
        let arc = 2.0 * self.angle_rad;
        let arc_less_sine = if arc < SMALL_ARC_RAD {
            small_arc_less_sine(arc)
        } else {
            // sin 2θ = 2 sin θ cos θ
            arc - 2.0 * self.sin * self.cos
        };
        0.5 * self.radius_m * self.radius_m * arc_less_sine
    }

    /// The chord's length, 2 R sin θ.
    pub fn width(&self) -> f64 {
        2.0 * self.radius_m * self.sin
    }
}

/// Below this arc, arc and sine cancel: the power series is used, exact here to the last digit.
const SMALL_ARC_RAD: f64 = 0.2;

/// x − sin x = x³/3! − x⁵/5! + x⁷/7! − x⁹/9! + x¹¹/11!
fn small_arc_less_sine(x: f64) -> f64 {
    let x2 = x * x;
    x * x2 / 6.0 * (1.0 - x2 / 20.0 * (1.0 - x2 / 42.0 * (1.0 - x2 / 72.0 * (1.0 - x2 / 110.0))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    #[test]
    fn a_quarter_full_circle_has_the_textbook_segment() {
        // h = R/2: θ = 60°, segment R² (π/3 − √3/4)
        let chord = Chord::new(1.3, 0.65);
        let expected_m2 = 1.3 * 1.3 * (PI / 3.0 - 3.0_f64.sqrt() / 4.0);
        assert_relative_eq!(chord.segment(), expected_m2, max_relative = 1e-14);
        assert_relative_eq!(chord.width(), 1.3 * 3.0_f64.sqrt(), max_relative = 1e-14);
    }

    #[test]
    fn small_segments_keep_their_digits() {
        // where both are good they agree
        for arc in [0.1_f64, 0.19, 0.2] {
            assert_relative_eq!(
                small_arc_less_sine(arc),
                arc - arc.sin(),
                max_relative = 1e-12
            );
        }
    }
}
