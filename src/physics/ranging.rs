//! Ranging: the balance run forwards, for the two ends of a transmitter's range and its calibration sheet.

use super::balance::Balance;
use crate::quantity::{DifferentialPressure, Length};

/// The points of a calibration, in percent, up and then down again. Common practice, no source.
pub const POINTS_PERCENT: [f64; 9] = [0.0, 25.0, 50.0, 75.0, 100.0, 75.0, 50.0, 25.0, 0.0];

/// A transmitter's range for two levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    pub zero: Length,
    pub full: Length,
    /// What the transmitter feels at 0 % and at 100 %.
    pub lower: DifferentialPressure,
    pub upper: DifferentialPressure,
    /// The level that a pressure of nothing would show.
    pub level_at_nothing: Length,
    reversed: bool,
}

/// One point of the calibration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    pub percent: f64,
    pub level: Length,
    pub difference: DifferentialPressure,
    pub current_ma: f64,
}

impl Range {
    /// `reversed`: the transmitter's high port is on the low leg, so it feels the difference turned round.
    pub fn new(balance: &Balance, zero: Length, full: Length, reversed: bool) -> Self {
        let felt = |level: Length| {
            let difference = balance.differential_pressure(level);
            if reversed { -difference } else { difference }
        };
        Self {
            zero,
            full,
            lower: felt(zero),
            upper: felt(full),
            level_at_nothing: balance.solve(DifferentialPressure::pascals(0.0)),
            reversed,
        }
    }

    /// The same range for a transmitter that feels so much more than the balance's own difference.
    pub fn raised(self, balance: &Balance, more: DifferentialPressure) -> Self {
        Self {
            lower: self.lower + more,
            upper: self.upper + more,
            level_at_nothing: balance.solve(-more),
            ..self
        }
    }

    pub fn span(&self) -> DifferentialPressure {
        self.upper - self.lower
    }

    pub fn is_reversed(&self) -> bool {
        self.reversed
    }

    /// The calibration's points, up and down.
    pub fn points(&self) -> [Point; POINTS_PERCENT.len()] {
        POINTS_PERCENT.map(|percent| {
            let share = percent / 100.0;
            Point {
                percent,
                level: self.zero + (self.full - self.zero) * share,
                // The balance is linear in the level between the taps.
                difference: DifferentialPressure(self.lower.0 + self.span().0 * share),
                // I = 4 mA + 16 mA · share (IEC 60381-1: 4 to 20 mA)
                current_ma: 4.0 + 16.0 * share,
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::balance::Leg;
    use crate::quantity::{kilograms_per_cubic_metre, metres, metres_per_second_squared};
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_wet_leg_is_ranged_from_below_zero() {
        let rho = kilograms_per_cubic_metre(1000.0);
        let balance = Balance {
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
        };
        let range = Range::new(&balance, metres(0.0), metres(5.0), false);
        assert_abs_diff_eq!(range.lower.0.value, -58_839.9, epsilon = 0.01);
        assert_abs_diff_eq!(range.upper.0.value, -9_806.65, epsilon = 0.01);
        assert_abs_diff_eq!(range.level_at_nothing.value, 6.0, epsilon = 1e-12);
        let middle = range.points()[2];
        assert_abs_diff_eq!(
            middle.difference.0.value,
            balance.differential_pressure(metres(2.5)).0.value,
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(middle.current_ma, 12.0);
        let turned = Range::new(&balance, metres(0.0), metres(5.0), true);
        assert_abs_diff_eq!(turned.lower.0.value, 58_839.9, epsilon = 0.01);
    }
}
