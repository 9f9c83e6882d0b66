//! What every shape answers, in plain metres, and the level of a volume where a shape has no better way.
//!
//! Levels that reach a body lie within its bottom and top; [`super::Vessel`] sees to that.

/// The liquid below a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fill {
    pub volume_m3: f64,
    /// dV/dh.
    pub surface_m2: f64,
}

impl Fill {
    pub const EMPTY: Self = Self {
        volume_m3: 0.0,
        surface_m2: 0.0,
    };
}

impl std::ops::AddAssign for Fill {
    fn add_assign(&mut self, other: Self) {
        self.volume_m3 += other.volume_m3;
        self.surface_m2 += other.surface_m2;
    }
}

/// Stretched in a direction that lies in the surface.
impl std::ops::Mul<f64> for Fill {
    type Output = Self;

    fn mul(self, stretch: f64) -> Self {
        Self {
            volume_m3: self.volume_m3 * stretch,
            surface_m2: self.surface_m2 * stretch,
        }
    }
}

pub trait Body {
    fn bottom(&self) -> f64 {
        0.0
    }
    fn top(&self) -> f64;
    fn fill(&self, level_m: f64) -> Fill;
    /// Half the width of the outline, seen from the side.
    fn half_width(&self, level_m: f64) -> f64;
    /// The level of a volume that lies between those of bottom and top.
    fn level_of(&self, volume_m3: f64) -> f64 {
        level_of(self.bottom(), self.top(), volume_m3, |level_m| {
            self.fill(level_m)
        })
    }
}

/// Steps that halving alone needs from a vessel's height down to the last digit near its bottom; reached
/// only where rounding keeps the steps from settling.
const MOST_STEPS: usize = 100;

/// Solves V(h) = v for h by Newton's method, halving the bracket instead whenever the step would leave it
/// or is not at most half the step before last (the textbook safeguard, which always converges).
pub fn level_of(bottom_m: f64, top_m: f64, volume_m3: f64, fill: impl Fn(f64) -> Fill) -> f64 {
    let (mut low, mut high) = (bottom_m, top_m);
    let mut level = 0.5 * (low + high);
    let mut step = high - low;
    let mut step_before = step;
    for _ in 0..MOST_STEPS {
        let at = fill(level);
        let excess = at.volume_m3 - volume_m3;
        if excess > 0.0 {
            high = level;
        } else {
            low = level;
        }
        // h' = h − (V(h) − v)/A(h)
        let newton = level - excess / at.surface_m2;
        let settles =
            newton >= low && newton <= high && (newton - level).abs() <= 0.5 * step_before.abs();
        let next = if settles { newton } else { 0.5 * (low + high) };
        step_before = step;
        step = next - level;
        if step.abs() <= f64::EPSILON * level.abs() {
            return next;
        }
        level = next;
    }
    level
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_level_where_the_surface_vanishes() {
        // V = h^5, A = 5 h^4: flatter at the bottom than any vessel
        let fill = |h: f64| Fill {
            volume_m3: h.powi(5),
            surface_m2: 5.0 * h.powi(4),
        };
        for volume_m3 in [1e-40, 1e-15, 1e-3, 0.5, 31.0] {
            let level_m = level_of(0.0, 2.0, volume_m3, fill);
            assert!(
                (level_m.powi(5) / volume_m3 - 1.0).abs() < 1e-12,
                "{volume_m3}: {level_m}"
            );
        }
    }
}
