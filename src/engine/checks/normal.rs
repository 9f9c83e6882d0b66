//! The normal distribution, as far as checks need it.

/// The share of a normal distribution within ± this many standard deviations.
///
/// erf by Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26: within 1.5e-7.
pub fn within(sigmas: f64) -> f64 {
    let x = sigmas / 2.0_f64.sqrt();
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let polynomial = [
        1.061_405_429,
        -1.453_152_027,
        1.421_413_741,
        -0.284_496_736,
        0.254_829_592,
    ]
    .into_iter()
    .fold(0.0, |sum, a| (sum + a) * t);
    1.0 - polynomial * (-x * x).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// The 68–95–99.7 rule with its digits (any table of the normal distribution, e.g. NIST/SEMATECH
    /// e-Handbook 1.3.6.7.1).
    #[test]
    fn shares_are_those_of_the_tables() {
        for (sigmas, share) in [
            (0.0, 0.0),
            (1.0, 0.682_689_5),
            (2.0, 0.954_499_7),
            (3.0, 0.997_300_2),
        ] {
            assert_abs_diff_eq!(within(sigmas), share, epsilon = 3e-7);
        }
    }
}
