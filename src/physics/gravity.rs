//! Acceleration of gravity: standard, or normal gravity of a place.
//!
//! Source: World Geodetic System 1984, NIMA TR8350.2 (3rd ed.), equations 4-1 (Somigliana) and 4-3 (height),
//! constants of its tables 3.1 to 3.4. Good near the ground, up to some 10 km. Real gravity differs from
//! normal gravity by 1e-4 to 1e-3 m/s² (from memory): where 0.01 % matters, a surveyed value is called for.

use crate::quantity::{Acceleration, Angle, Length, metres_per_second_squared};

/// Standard gravity, m/s², exact (3rd CGPM, 1901). Also what column units such as mmH2O are defined with.
pub const STANDARD: f64 = 9.806_65;

/// Semi-major axis of the ellipsoid, m.
const A_M: f64 = 6_378_137.0;
/// Flattening, 1/298.257 223 563.
const F: f64 = 1.0 / 298.257_223_563;
/// First eccentricity squared.
const E2: f64 = 6.694_379_990_14e-3;
/// Normal gravity at the equator, m/s².
const EQUATOR: f64 = 9.780_325_335_9;
/// Somigliana's constant.
const K: f64 = 0.001_931_852_652_41;
/// ω² a² b / GM: centrifugal acceleration at the equator over gravity.
const M: f64 = 0.003_449_786_506_84;

pub fn standard() -> Acceleration {
    metres_per_second_squared(STANDARD)
}

/// Normal gravity at a geodetic latitude (north or south alike) and an elevation above sea level, taken as
/// that above the ellipsoid (they differ by up to 0.1 km, which is 3e-4 m/s²).
pub fn normal(latitude: Angle, elevation: Length) -> Acceleration {
    let sin2 = latitude.value.sin().powi(2);
    let h_a = elevation.value / A_M;
    // γ = γe (1 + k sin²φ) / √(1 − e² sin²φ)
    let gamma = EQUATOR * (1.0 + K * sin2) / (1.0 - E2 * sin2).sqrt();
    // γh = γ [1 − 2 (1 + f + m − 2 f sin²φ) h/a + 3 h²/a²]
    let at_height = 1.0 - 2.0 * (1.0 + F + M - 2.0 * F * sin2) * h_a + 3.0 * h_a * h_a;
    metres_per_second_squared(gamma * at_height)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{metres, radians};
    use approx::assert_abs_diff_eq;

    #[test]
    fn equator_and_both_poles() {
        // TR8350.2 table 3.4: 9.780 325 335 9 and 9.832 184 937 8 m/s².
        let at = |degrees: f64| normal(radians(degrees.to_radians()), metres(0.0)).value;
        assert_abs_diff_eq!(at(0.0), 9.780_325_335_9, epsilon = 1e-10);
        assert_abs_diff_eq!(at(90.0), 9.832_184_937_8, epsilon = 1e-9);
        assert_abs_diff_eq!(at(-90.0), at(90.0), epsilon = 1e-12);
    }

    #[test]
    fn a_kilometre_up_follows_the_free_air_gradient() {
        // Free-air gradient 3.086e-6 1/s², common practice for surveys.
        let at = |metres_up| normal(radians(45f64.to_radians()), metres(metres_up)).value;
        assert_abs_diff_eq!(at(0.0) - at(1000.0), 3.086e-3, epsilon = 2e-6);
    }

    #[test]
    fn a_finite_place_never_gives_not_a_number() {
        for elevation_m in [f64::MAX, -f64::MAX, 0.0] {
            for latitude in [f64::MAX, -f64::MAX, 0.0] {
                assert!(
                    !normal(radians(latitude), metres(elevation_m))
                        .value
                        .is_nan()
                );
            }
        }
    }
}
