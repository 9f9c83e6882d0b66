//! Least squares: y = g₁·x₁ + g₂·x₂, with standard errors.

/// Two inputs and what came of them.
pub type Point = (f64, f64, f64);

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    pub gains: [f64; 2],
    pub errors: [f64; 2],
    /// Of the two inputs, about zero: near ±1 they can't be told apart.
    pub correlation: f64,
    pub residual_sd: f64,
    pub count: usize,
}

impl Fit {
    /// `least_sd`: the noise that y has at least; residuals of a few points can be small by chance. None where
    /// the points don't tell both gains.
    pub fn of(points: impl Iterator<Item = Point> + Clone, least_sd: f64) -> Option<Self> {
        let (mut s11, mut s12, mut s22, mut s1y, mut s2y) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let mut count = 0_usize;
        for (x1, x2, y) in points.clone() {
            s11 += x1 * x1;
            s12 += x1 * x2;
            s22 += x2 * x2;
            s1y += x1 * y;
            s2y += x2 * y;
            count += 1;
        }
        // The normal equations, (XᵀX)·g = Xᵀy; errors from s²·(XᵀX)⁻¹.
        let determinant = s11 * s22 - s12 * s12;
        let singular = determinant.is_nan() || determinant <= 1e-12 * s11 * s22;
        if count < 3 || singular {
            return None;
        }
        let first = (s1y * s22 - s2y * s12) / determinant;
        let second = (s2y * s11 - s1y * s12) / determinant;
        let squares: f64 = points
            .map(|(x1, x2, y)| (y - first * x1 - second * x2).powi(2))
            .sum();
        let residual_sd = (squares / (count - 2) as f64).sqrt();
        let sd = residual_sd.max(least_sd);
        Some(Self {
            gains: [first, second],
            errors: [
                sd * (s22 / determinant).sqrt(),
                sd * (s11 / determinant).sqrt(),
            ],
            correlation: s12 / (s11 * s22).sqrt(),
            residual_sd,
            count,
        })
    }

    /// y = g·x alone: the other gain is zero.
    pub fn of_one(points: impl Iterator<Item = (f64, f64)> + Clone, least_sd: f64) -> Option<Self> {
        let (mut sxx, mut sxy, mut count) = (0.0, 0.0, 0_usize);
        for (x, y) in points.clone() {
            sxx += x * x;
            sxy += x * y;
            count += 1;
        }
        if count < 2 || sxx.is_nan() || sxx <= 0.0 {
            return None;
        }
        let gain = sxy / sxx;
        let squares: f64 = points.map(|(x, y)| (y - gain * x).powi(2)).sum();
        let residual_sd = (squares / (count - 1) as f64).sqrt();
        Some(Self {
            gains: [gain, 0.0],
            errors: [residual_sd.max(least_sd) / sxx.sqrt(), 0.0],
            correlation: 0.0,
            residual_sd,
            count,
        })
    }
}
