//! Gauss–Legendre quadrature, for volumes that have no closed form.
//!
//! The rule has a fixed order and allocates nothing. Its integrands are smooth inside of their interval and
//! may begin or end like a power ≥ ½ of the distance to an end, as the chord of a circle does: the
//! substitution in [`node`] makes them smooth there too. The nodes are the roots of the Legendre polynomial
//! (M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", 25.4.29, from memory), computed once.

use super::body::Fill;
use std::f64::consts::{FRAC_PI_2, PI};
use std::sync::LazyLock;

const ORDER: usize = 32;

#[derive(Clone, Copy, Debug)]
struct Node {
    /// From 0 to 1.
    place: f64,
    weight: f64,
}

static NODES: LazyLock<[Node; ORDER]> = LazyLock::new(|| std::array::from_fn(node));

/// ∫ f(x) dx from `start` to `end`.
pub fn over(start: f64, end: f64, integrand: impl Fn(f64) -> Fill) -> Fill {
    let mut sum = Fill::EMPTY;
    for node in NODES.iter() {
        let weight = node.weight * (end - start);
        let Fill {
            volume_m3,
            surface_m2,
        } = integrand(start + (end - start) * node.place);
        sum.volume_m3 += weight * volume_m3;
        sum.surface_m2 += weight * surface_m2;
    }
    sum
}

/// The root of P_n by Newton's method, mapped from −1…1 to 0…1 and drawn towards its ends.
fn node(index: usize) -> Node {
    let n = ORDER as f64;
    let mut x = (PI * (index as f64 + 0.75) / (n + 0.5)).cos();
    let mut slope = 0.0;
    // five steps are enough for the last digit
    for _ in 0..8 {
        let (value, previous) = legendre(x);
        // P_n' = n (x P_n − P_{n−1}) / (x² − 1)
        slope = n * (x * value - previous) / (x * x - 1.0);
        x -= value / slope;
    }
    // w = 2/[(1 − x²) P_n'²], halved by the mapping
    let weight = 1.0 / ((1.0 - x * x) * slope * slope);
    // place = sin²φ, φ from 0 to π/2: a root at either end of the interval becomes a straight line
    let (sin, cos) = (FRAC_PI_2 * 0.5 * (1.0 - x)).sin_cos();
    Node {
        place: sin * sin,
        weight: weight * PI * sin * cos,
    }
}

/// P_n(x) and P_{n−1}(x), by k P_k = (2k − 1) x P_{k−1} − (k − 1) P_{k−2}.
fn legendre(x: f64) -> (f64, f64) {
    let (mut value, mut previous) = (x, 1.0);
    for degree in 2..=ORDER {
        let k = degree as f64;
        let next = ((2.0 * k - 1.0) * x * value - (k - 1.0) * previous) / k;
        (value, previous) = (next, value);
    }
    (value, previous)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn roots_at_the_ends_cost_no_digits() {
        // ∫ √(1 − x²) = π/2 and ∫ √(1 − x²)³ = 3π/8, from −1 to 1
        let sum = over(-1.0, 1.0, |x| Fill {
            volume_m3: (1.0 - x * x).powf(1.5),
            surface_m2: (1.0 - x * x).sqrt(),
        });
        assert_relative_eq!(sum.volume_m3, 3.0 * PI / 8.0, max_relative = 1e-14);
        assert_relative_eq!(sum.surface_m2, PI / 2.0, max_relative = 1e-14);
    }
}
