//! The uncertainty budget: first-order propagation (JCGM 100:2008, 5.1.2).
//!
//! Each line is one input's part of the expanded uncertainty (k = 2) of level, volume and mass. Inputs are
//! independent of each other; whatever an input moves (a density that stands in tank and leg, a temperature
//! that makes density and shell) it moves at once, so correlations are inside of the lines, and each whole is
//! the root of the sum of its column's squares. A limit of ±a is taken as rectangular, standard
//! uncertainty a/√3 (JCGM 100:2008, 4.3.7).

use crate::quantity::{Length, Mass, Volume, cubic_metres, kilograms, metres};

/// Coverage factor of every expanded uncertainty here.
pub const COVERAGE: f64 = 2.0;

/// The most lines that a budget can hold; what comes after is put together in the last one.
pub const LINES: usize = 40;
/// The name of that last line.
const OTHERS: &str = "all others";

/// Less than this is nothing: the rounding of a sensitivity that is zero, not a part of the level.
const NOTHING_M: f64 = 1e-9;
/// The same of a volume and of a mass.
const NOTHING_M3: f64 = 1e-9;
const NOTHING_KG: f64 = 1e-6;

/// One input's part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    pub input: &'static str,
    /// k = 2, in metres of level; never negative.
    pub level: Length,
    /// k = 2; never negative.
    pub volume: Volume,
    /// k = 2; never negative.
    pub mass: Mass,
}

/// What one unit of an input moves.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sensitivity {
    pub level_m: f64,
    pub volume_m3: f64,
    pub mass_kg: f64,
}

/// A budget; fixed in size and large: it is written where it stays, and what is made of it is copied.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    lines: [Line; LINES],
    count: usize,
}

/// Expanded uncertainties, k = 2.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Expanded {
    pub level: Length,
    pub volume: Volume,
    pub mass: Mass,
}

impl Default for Budget {
    fn default() -> Self {
        Self {
            lines: [Line {
                input: "",
                level: metres(0.0),
                volume: cubic_metres(0.0),
                mass: kilograms(0.0),
            }; LINES],
            count: 0,
        }
    }
}

impl Budget {
    /// Takes all lines out.
    pub fn clear(&mut self) {
        self.count = 0;
    }

    /// Adds an input given by its standard uncertainty and what its unit moves. What contributes nothing is
    /// left out.
    pub fn add(&mut self, input: &'static str, standard: f64, per_unit: Sensitivity) {
        let part = |sensitivity: f64| COVERAGE * (standard * sensitivity).abs();
        let (level_m, volume_m3, mass_kg) = (
            part(per_unit.level_m),
            part(per_unit.volume_m3),
            part(per_unit.mass_kg),
        );
        let is_something = level_m > NOTHING_M || volume_m3 > NOTHING_M3 || mass_kg > NOTHING_KG;
        if !(is_something && level_m.is_finite() && volume_m3.is_finite() && mass_kg.is_finite()) {
            return;
        }
        let line = Line {
            input,
            level: metres(level_m),
            volume: cubic_metres(volume_m3),
            mass: kilograms(mass_kg),
        };
        if self.count < LINES {
            self.lines[self.count] = line;
            self.count += 1;
        } else {
            let last = &mut self.lines[LINES - 1];
            *last = Line {
                input: OTHERS,
                level: metres(last.level.value.hypot(level_m)),
                volume: cubic_metres(last.volume.value.hypot(volume_m3)),
                mass: kilograms(last.mass.value.hypot(mass_kg)),
            };
        }
    }

    /// Largest of the level first; what moves no level (the vessel itself) by its part of the volume.
    pub fn sort(&mut self) {
        self.lines[..self.count].sort_unstable_by(|a, b| {
            let of = |line: &Line| (line.level.value, line.volume.value, line.mass.value);
            let ((level_a, volume_a, mass_a), (level_b, volume_b, mass_b)) = (of(a), of(b));
            (level_b.total_cmp(&level_a))
                .then(volume_b.total_cmp(&volume_a))
                .then(mass_b.total_cmp(&mass_a))
        });
    }

    pub fn lines(&self) -> &[Line] {
        &self.lines[..self.count]
    }

    /// All lines together.
    pub fn expanded(&self) -> Expanded {
        Expanded {
            level: metres(self.together(|line| line.level.value)),
            volume: cubic_metres(self.together(|line| line.volume.value)),
            mass: kilograms(self.together(|line| line.mass.value)),
        }
    }

    /// U² = Σ (k·c_i·u_i)²
    fn together(&self, part: impl Fn(&Line) -> f64) -> f64 {
        let parts = || self.lines().iter().map(&part);
        let squares: f64 = parts().map(|part| part * part).sum();
        // Where the squares are beyond the numbers, their root need not be.
        match squares.is_normal() {
            true => squares.sqrt(),
            false => parts().fold(0.0, f64::hypot),
        }
    }
}

/// Standard uncertainty of a quantity known to lie within ±`half_width` (JCGM 100:2008, 4.3.7).
pub fn rectangular(half_width: f64) -> f64 {
    half_width / 3.0_f64.sqrt()
}

/// Standard uncertainty of one that is stated as expanded with k = 2.
pub fn from_expanded(expanded: f64) -> f64 {
    expanded / COVERAGE
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn what_has_no_line_left_is_not_lost() {
        let mut budget = Budget::default();
        let per_unit = Sensitivity {
            level_m: 0.001,
            volume_m3: 0.01,
            mass_kg: 10.0,
        };
        for _ in 0..LINES + 9 {
            budget.add("part", 0.5, per_unit);
        }
        assert_eq!(budget.lines().len(), LINES);
        // U = k·u·c·√n
        let root = f64::from(LINES as u32 + 9).sqrt();
        assert_relative_eq!(
            budget.expanded().level.value,
            0.001 * root,
            max_relative = 1e-12
        );
        assert_relative_eq!(
            budget.expanded().volume.value,
            0.01 * root,
            max_relative = 1e-12
        );
        assert_relative_eq!(
            budget.expanded().mass.value,
            10.0 * root,
            max_relative = 1e-12
        );
    }
}
