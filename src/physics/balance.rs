//! The pressure balance: one formula for every hookup, level and its terms.
//!
//! Each port of a transmitter is reached through a [`Leg`]: a tube from a tap on the vessel (or an open
//! end) to the diaphragm, filled with something of known density. With elevations `z` above one datum:
//!
//! ```text
//! p_high = pG + g·[ ρv(zL − h) + ρl(h − zH) + ρa(zH − zT1) ]
//! p_low  = pG + g·ρb(zL − zT2)
//! ```
//!
//! The gas pressure pG at the low tap cancels in the difference, and
//! `h = [ (p_high − p_low)/g − ρv·zL + ρl·zH − ρa(zH − zT1) + ρb(zL − zT2) ] / (ρl − ρv)`.
//! Derived from hydrostatics (dp/dz = −ρg in each column). Every hookup is this formula with its own legs;
//! there is no second one.

use crate::quantity::{Acceleration, DifferentialPressure, Length, MassDensity, metres};

/// The least difference between liquid and what is above it that a level is worked out from, kg/m³.
/// Below it the divisor ρl − ρv turns the smallest error into metres. Common practice, no source.
pub const LEAST_DENSITY_DIFFERENCE_KG_M3: f64 = 1.0;

/// A tube from a tap to a diaphragm, and what fills it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    pub tap: Length,
    pub diaphragm: Length,
    pub fill: MassDensity,
}

/// Everything that ties a differential pressure to a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    pub gravity: Acceleration,
    pub liquid: MassDensity,
    /// Gas or vapour above the liquid.
    pub gas: MassDensity,
    pub high: Leg,
    pub low: Leg,
}

/// The columns of the balance in Pa; they add up to the differential pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    pub liquid_column: DifferentialPressure,
    pub gas_column: DifferentialPressure,
    pub high_leg: DifferentialPressure,
    pub low_leg: DifferentialPressure,
}

impl Terms {
    pub fn sum(&self) -> DifferentialPressure {
        self.liquid_column + self.gas_column + self.high_leg + self.low_leg
    }
}

/// What happens when the level rises past the upper tap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UpperTap {
    /// There is none: the low side is open to the air.
    Open,
    /// The solved level stays at the tap: the leg is full, or has no length.
    Saturates,
    /// A dry leg: liquid runs into it.
    Floods,
}

/// What a differential pressure says about the level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    Level(Length),
    /// At or below the high tap, within the uncertainty: the level is at most the tap.
    AtOrBelowTap(Length),
    /// At or above the upper tap, within the uncertainty: the level is at least the tap.
    AtOrAboveUpperTap(Length),
    /// No level gives this through sound lines.
    OutsideIntactLines,
}

impl Balance {
    /// False where liquid and gas are too close for a level to be worked out.
    pub fn is_solvable(&self) -> bool {
        let difference = self.liquid.value - self.gas.value;
        difference.is_finite()
            && difference >= LEAST_DENSITY_DIFFERENCE_KG_M3
            && self.gravity.value > 0.0
    }

    /// p_high − p_low at a level between the taps.
    pub fn differential_pressure(&self, level: Length) -> DifferentialPressure {
        self.terms(level).sum()
    }

    /// The level that this difference solves to, wherever that is; see [`Balance::seen`] for its meaning.
    pub fn solve(&self, difference: DifferentialPressure) -> Length {
        let (g, rho_l, rho_v) = (self.gravity.value, self.liquid.value, self.gas.value);
        let (rho_a, z_h, z_t1) = (
            self.high.fill.value,
            self.high.tap.value,
            self.high.diaphragm.value,
        );
        let (rho_b, z_l, z_t2) = (
            self.low.fill.value,
            self.low.tap.value,
            self.low.diaphragm.value,
        );
        // h = [ Δp/g − ρv·zL + ρl·zH − ρa(zH − zT1) + ρb(zL − zT2) ] / (ρl − ρv)
        metres(
            (difference.0.value / g - rho_v * z_l + rho_l * z_h - rho_a * (z_h - z_t1)
                + rho_b * (z_l - z_t2))
                / (rho_l - rho_v),
        )
    }

    /// The columns at a level.
    pub fn terms(&self, level: Length) -> Terms {
        let (g, h) = (self.gravity.value, level.value);
        let (z_h, z_t1) = (self.high.tap.value, self.high.diaphragm.value);
        let (z_l, z_t2) = (self.low.tap.value, self.low.diaphragm.value);
        Terms {
            liquid_column: DifferentialPressure::pascals(g * self.liquid.value * (h - z_h)),
            gas_column: DifferentialPressure::pascals(g * self.gas.value * (z_l - h)),
            high_leg: DifferentialPressure::pascals(g * self.high.fill.value * (z_h - z_t1)),
            low_leg: DifferentialPressure::pascals(-g * self.low.fill.value * (z_l - z_t2)),
        }
    }

    /// What a difference says, given how far lines and instruments can be off (`margin`).
    ///
    /// With full lines the solved level stays at exactly the high tap for any level below it, and at
    /// exactly the upper tap for any level above it where that saturates.
    pub fn seen(&self, difference: DifferentialPressure, margin: Length, upper: UpperTap) -> Seen {
        let solved = self.solve(difference);
        let (tap, upper_tap) = (self.high.tap, self.low.tap);
        if solved < tap - margin {
            Seen::OutsideIntactLines
        } else if solved <= tap + margin {
            Seen::AtOrBelowTap(tap)
        } else if upper == UpperTap::Open || solved < upper_tap - margin {
            Seen::Level(solved)
        } else if solved > upper_tap + margin {
            Seen::OutsideIntactLines
        } else if upper == UpperTap::Saturates {
            Seen::AtOrAboveUpperTap(upper_tap)
        } else {
            Seen::Level(solved)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{kilograms_per_cubic_metre, metres_per_second_squared};
    use approx::assert_abs_diff_eq;

    /// A 6 m wet leg of the liquid's own density over a 5 m range: DP runs from −58.8 kPa to −9.8 kPa.
    fn wet_leg() -> Balance {
        let rho = kilograms_per_cubic_metre(1000.0);
        Balance {
            gravity: metres_per_second_squared(9.80665),
            liquid: rho,
            gas: kilograms_per_cubic_metre(0.0),
            high: Leg {
                tap: metres(0.0),
                diaphragm: metres(0.0),
                fill: rho,
            },
            low: Leg {
                tap: metres(6.0),
                diaphragm: metres(0.0),
                fill: rho,
            },
        }
    }

    #[test]
    fn a_wet_leg_reads_negative_when_empty() {
        let empty = wet_leg().differential_pressure(metres(0.0)).0.value;
        let full = wet_leg().differential_pressure(metres(5.0)).0.value;
        assert_abs_diff_eq!(empty, -58_839.9, epsilon = 0.1);
        assert_abs_diff_eq!(full, -9_806.65, epsilon = 0.01);
    }

    #[test]
    fn the_terms_add_up_to_what_solves_back() {
        let balance = wet_leg();
        let difference = balance.terms(metres(3.3)).sum();
        assert_abs_diff_eq!(balance.solve(difference).value, 3.3, epsilon = 1e-12);
    }

    #[test]
    fn what_cannot_be_seen_is_one_sided() {
        let balance = wet_leg();
        let at = |h: f64| {
            balance.seen(
                balance.differential_pressure(metres(h)),
                metres(0.01),
                UpperTap::Saturates,
            )
        };
        assert_eq!(at(-1.0), Seen::OutsideIntactLines);
        assert!(matches!(at(0.0), Seen::AtOrBelowTap(most) if most.value.abs() < 1e-9));
        assert!(matches!(at(3.0), Seen::Level(_)));
        assert!(
            matches!(at(6.0), Seen::AtOrAboveUpperTap(least) if (least.value - 6.0).abs() < 1e-9)
        );
        assert_eq!(at(6.1), Seen::OutsideIntactLines);
    }

    #[test]
    fn the_pair_of_seals_does_not_care_where_the_transmitter_is() {
        let mut low = wet_leg();
        low.high.diaphragm = metres(-2.0);
        low.low.diaphragm = metres(-2.0);
        low.high.tap = metres(0.0);
        let difference = wet_leg().differential_pressure(metres(2.0));
        assert_abs_diff_eq!(low.solve(difference).value, 2.0, epsilon = 1e-12);
    }
}
