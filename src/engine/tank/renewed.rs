//! A working at other pressures of its hookup, all that they are taken at being what it was.

use super::inputs::Inputs;
use super::pressures::Readings;
use super::sensitivities::Sensitivities;
use super::{Place, Signals, Working, level_range, reasons_of};
use crate::physics::budget::{Budget, Expanded};

impl Working {
    /// As [`Working::with_budget`], to the bit but for the uncertainty; see [`Sensitivities`]. Not for a hookup that
    /// measures its density.
    pub(super) fn renewed(
        &self,
        place: Place<'_>,
        signals: &impl Signals,
        sensitivities: &Sensitivities,
        budget: &mut Budget,
    ) -> Self {
        budget.clear();
        let (bottom, _) = level_range(place.tank);
        let readings = Readings {
            plan: place.plan,
            surroundings: &self.surroundings,
            signals,
            bottom: place.tank.vessel.elevation(bottom),
            liquid: self.liquid.value,
        };
        let pressures = readings.of(&place.hookup.hookup);
        let mut working = Self {
            reasons: reasons_of(&pressures, &self.surroundings),
            difference: pressures.difference,
            bound: pressures.bound,
            solved: None,
            corrected: None,
            level: None,
            level_at_least: None,
            level_at_most: None,
            terms: None,
            uncertainty: Expanded::default(),
            ..*self
        };
        if let Some(difference) = pressures.difference {
            let inputs = Inputs {
                balance: self.balance,
                difference,
                column: None,
            };
            working.take(place, &inputs, |working, level| {
                sensitivities.write(place, working, (level, difference), budget)
            });
        }
        working
    }
}
