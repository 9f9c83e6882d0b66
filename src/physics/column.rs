//! The density of the liquid between two taps: hydrostatic tank gauging.
//!
//! `ρl = (p1 − p2) / (g·(z2 − z1))` with p1 and p2 at the taps z1 and z2, both under the liquid (dp/dz = −ρg
//! in one column of one density). No term of the gas: it presses on both. What stands in the legs between
//! taps and diaphragms is taken off first. It says nothing once the level is below the upper tap.

use super::balance::Leg;
use crate::quantity::{Acceleration, DifferentialPressure, MassDensity, kilograms_per_cubic_metre};

/// Two legs on the liquid, and the pressure of the lower diaphragm above that of the upper one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    pub lower: Leg,
    pub upper: Leg,
    pub difference: DifferentialPressure,
}

impl Column {
    pub fn density(&self, gravity: Acceleration) -> MassDensity {
        let g = gravity.value;
        // pT = p + g·ρa·(z − zT)
        let leg_pa = |leg: &Leg| g * leg.fill.value * (leg.tap - leg.diaphragm).value;
        let taps_pa = self.difference.0.value - leg_pa(&self.lower) + leg_pa(&self.upper);
        // ρl = (p1 − p2) / (g·(z2 − z1))
        kilograms_per_cubic_metre(taps_pa / (g * (self.upper.tap - self.lower.tap).value))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{metres, metres_per_second_squared};
    use approx::assert_abs_diff_eq;

    fn leg(tap_m: f64, diaphragm_m: f64, fill_kg_m3: f64) -> Leg {
        Leg {
            tap: metres(tap_m),
            diaphragm: metres(diaphragm_m),
            fill: kilograms_per_cubic_metre(fill_kg_m3),
        }
    }

    #[test]
    fn what_stands_in_the_legs_is_no_part_of_the_column() {
        let (g, rho) = (9.81, 850.0);
        let column = Column {
            lower: leg(0.5, -1.0, 1000.0),
            upper: leg(3.5, 4.0, 870.0),
            // At the lower diaphragm 1.5 m of 1000 kg/m³ more than at its tap, at the upper 0.5 m of 870 less.
            difference: DifferentialPressure::pascals(g * (rho * 3.0 + 1000.0 * 1.5 + 870.0 * 0.5)),
        };
        let density = column.density(metres_per_second_squared(g));
        assert_abs_diff_eq!(density.value, rho, epsilon = 1e-9);
    }
}
