//! A straight line through points by ordinary least squares, with what is known of it.
//!
//! y = gain·x + offset; all of the error is taken to be in y. Sums are kept about the means, one point at a
//! time (Welford's way), so that memory is fixed and large offsets cost no digits.
//! Standard errors and their correlation: JCGM 100:2008, H.3.2, equations H.13.

/// The sums of the points so far.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Points {
    count: f64,
    mean_x: f64,
    mean_y: f64,
    /// Σ(x − x̄)², Σ(x − x̄)(y − ȳ), Σ(y − ȳ)².
    xx: f64,
    xy: f64,
    yy: f64,
}

/// The line, and the standard errors of its two numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    pub gain: f64,
    pub offset: f64,
    pub gain_standard_error: f64,
    pub offset_standard_error: f64,
    /// Of the two.
    pub correlation: f64,
    /// Standard deviation of what is left, with two degrees of freedom less than there are points.
    pub residual: f64,
}

impl Points {
    pub fn add(&mut self, x: f64, y: f64) {
        self.count += 1.0;
        let (from_x, from_y) = (x - self.mean_x, y - self.mean_y);
        self.mean_x += from_x / self.count;
        self.mean_y += from_y / self.count;
        self.xx += from_x * (x - self.mean_x);
        self.xy += from_x * (y - self.mean_y);
        self.yy += from_y * (y - self.mean_y);
    }

    /// The mean of y − x; none without a point.
    pub fn mean_difference(&self) -> Option<f64> {
        (self.count > 0.0).then_some(self.mean_y - self.mean_x)
    }

    /// None of fewer than three points, which leave no error to be seen, and none where all x are the same.
    pub fn line(&self) -> Option<Line> {
        if self.count < 3.0 || self.xx <= 0.0 {
            return None;
        }
        let gain = self.xy / self.xx;
        let offset = self.mean_y - gain * self.mean_x;
        // Σ(y − ŷ)² = Σ(y − ȳ)² − gain·Σ(x − x̄)(y − ȳ), never below 0 but by rounding
        let left = (self.yy - gain * self.xy).max(0.0);
        let variance = left / (self.count - 2.0);
        let mean_square_x = self.xx / self.count + self.mean_x * self.mean_x;
        Some(Line {
            gain,
            offset,
            // u(gain)² = s²/Σ(x − x̄)²
            gain_standard_error: (variance / self.xx).sqrt(),
            // u(offset)² = s²·Σx²/(n·Σ(x − x̄)²)
            offset_standard_error: (variance * mean_square_x / self.xx).sqrt(),
            // r = −Σx/√(n·Σx²)
            correlation: -self.mean_x / mean_square_x.sqrt(),
            residual: variance.sqrt(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_line_is_found_and_two_points_are_no_line() {
        let mut points = Points::default();
        for x in [1.0, 2.0] {
            points.add(x, 3.0 * x - 1.0);
        }
        assert_eq!(points.line(), None);
        points.add(5.0, 14.0);
        let line = points.line().expect("three points");
        assert_relative_eq!(line.gain, 3.0, max_relative = 1e-14);
        assert_relative_eq!(line.offset, -1.0, max_relative = 1e-13);
        assert!(line.residual < 1e-7);
    }

    #[test]
    fn points_at_one_place_give_a_mean_and_no_line() {
        let mut points = Points::default();
        assert_eq!(points.mean_difference(), None);
        for y in [1.0, 2.0, 3.0] {
            points.add(0.5, y);
        }
        assert_eq!(points.line(), None);
        assert_eq!(points.mean_difference(), Some(1.5));
    }
}
