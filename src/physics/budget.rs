//! The uncertainty budget: first-order propagation (JCGM 100:2008, 5.1.2, uncorrelated inputs).
//!
//! Each line is one input's part of the expanded uncertainty (k = 2) of the level, and of the mass; the
//! whole is their root of the sum of squares. An error of density that moves level and mass against each
//! other is one input, so the mass has parts of its own. A limit of ±a is taken as rectangular, standard uncertainty a/√3
//! (JCGM 100:2008, 4.3.7).

use crate::quantity::{Length, Mass, kilograms, metres};

/// Coverage factor of every expanded uncertainty here.
pub const COVERAGE: f64 = 2.0;

/// The most lines that a budget can hold.
pub const LINES: usize = 32;

/// Less than this is nothing: the rounding of a sensitivity that is zero, not a part of the level.
const NOTHING_M: f64 = 1e-9;
/// The same of a mass.
const NOTHING_KG: f64 = 1e-6;

/// One input's part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    pub input: &'static str,
    /// k = 2, in metres of level; never negative.
    pub level: Length,
    /// k = 2; never negative.
    pub mass: Mass,
}

/// A budget of the level; fixed in size, so a reading can carry it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    lines: [Line; LINES],
    count: usize,
}

impl Default for Budget {
    fn default() -> Self {
        Self {
            lines: [Line {
                input: "",
                level: metres(0.0),
                mass: kilograms(0.0),
            }; LINES],
            count: 0,
        }
    }
}

impl Budget {
    /// Adds an input given by its standard uncertainty and its sensitivity (metres of level per its unit).
    /// What contributes nothing is left out.
    pub fn add(&mut self, input: &'static str, standard: f64, sensitivity: f64) {
        self.add_both(input, standard, sensitivity, 0.0);
    }

    /// The same with what it moves the mass by, in kilograms per its unit.
    pub fn add_both(&mut self, input: &'static str, standard: f64, level: f64, mass: f64) {
        let part = |sensitivity: f64| COVERAGE * (standard * sensitivity).abs();
        let (level_m, mass_kg) = (part(level), part(mass));
        let is_something = level_m > NOTHING_M || mass_kg > NOTHING_KG;
        if is_something && level_m.is_finite() && mass_kg.is_finite() && self.count < LINES {
            self.lines[self.count] = Line {
                input,
                level: metres(level_m),
                mass: kilograms(mass_kg),
            };
            self.count += 1;
        }
    }

    /// Largest first.
    pub fn sort(&mut self) {
        self.lines[..self.count].sort_unstable_by(|a, b| b.level.value.total_cmp(&a.level.value));
    }

    pub fn lines(&self) -> &[Line] {
        &self.lines[..self.count]
    }

    /// Expanded uncertainty of the mass, k = 2.
    pub fn expanded_mass(&self) -> Mass {
        let parts = self.lines().iter().map(|line| line.mass.value);
        kilograms(parts.fold(0.0, f64::hypot))
    }

    /// Expanded uncertainty of the level, k = 2.
    pub fn expanded(&self) -> Length {
        // U² = Σ (k·c_i·u_i)², whose squares may be larger than the largest number
        metres(
            self.lines()
                .iter()
                .fold(0.0_f64, |all, line| all.hypot(line.level.value)),
        )
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
