//! What fills tank and legs as inputs of the budget: one error of density a substance, wherever it stands.
//!
//! The tank's own liquid in a leg, the same fill in two legs, the air of an open tank and of its vent: the
//! formula, table or value that is wrong of the one is wrong of the other by the same number of standard
//! uncertainties, whatever the temperatures.

use super::{Inputs, Lines, shift};
use crate::engine::plan::{Hookup, LegFill, LiquidPlan};
use crate::engine::tank::Signals;
use crate::engine::tank::arrangement::{End, Fill, Layers};
use crate::physics::budget::from_expanded;
use crate::physics::liquid::{Density, Gas};

/// Share of a standard uncertainty that a density is moved by.
const STEP: f64 = 0.01;

#[derive(Clone, Copy, PartialEq)]
enum Substance<'a> {
    /// The tank's own.
    Liquid,
    /// Above the liquid.
    Gas,
    /// Outside.
    Air,
    Purge,
    Fill(&'a LiquidPlan),
}

/// Where a substance stands in the balance, and how large its standard uncertainty is there, kg/m³.
#[derive(Clone, Copy)]
struct Column<'a> {
    substance: Substance<'a>,
    standard: f64,
    name: &'static str,
    move_by: fn(&mut Inputs, f64),
}

impl<'a, S: Signals> Lines<'a, S> {
    pub(super) fn substances(&mut self) {
        let columns = self.columns();
        for (place, column) in columns.iter().enumerate() {
            let same = |other: &&Column<'_>| other.substance == column.substance;
            let is_first = !columns[..place].iter().any(|other| same(&other));
            if column.substance != Substance::Air && is_first {
                self.substance(&columns, *column);
            }
        }
        self.air(&columns);
    }

    fn substance(&mut self, columns: &[Column<'_>], first: Column<'_>) {
        let own = || {
            let same = columns
                .iter()
                .filter(|column| column.substance == first.substance);
            same.filter(|column| column.standard > 0.0)
        };
        let Some(named) = own().next() else {
            return;
        };
        // Ranged for this very liquid: its level does not depend on the density.
        let ranged_here = matches!(
            self.one.place.hookup.hookup,
            Hookup::Level {
                ranged_for: None,
                ..
            }
        ) && first.substance == Substance::Liquid;
        let per_density = match ranged_here {
            true => self.inputs.difference.0.value / self.inputs.balance.liquid.value,
            false => 0.0,
        };
        self.add(named.name, 1.0, STEP, |inputs, deviations| {
            for column in own() {
                (column.move_by)(inputs, deviations * column.standard);
            }
            shift(inputs, per_density * deviations * first.standard, 0.0);
        });
    }

    /// The outside air stands in open legs, and between the heights of gauges and barometer.
    fn air(&mut self, columns: &[Column<'_>]) {
        let one = self.one;
        let standard = from_expanded(self.working.surroundings.air.uncertainty.value);
        let by = STEP * standard;
        let heavier =
            one.basis
                .in_heavier_air(one.place.plan, &one.place.hookup.hookup, one.signals, by);
        let pressures = &one.basis.pressures;
        let rise = |heavier: Option<_>, now: Option<_>| {
            let rise = heavier.zip(now).map(|(heavier, now)| heavier - now);
            rise.map_or(0.0, |rise: crate::quantity::DifferentialPressure| {
                rise.0.value / STEP
            })
        };
        let difference = rise(heavier.difference, pressures.difference);
        let column = rise(heavier.column, pressures.column);
        self.add("air density", 1.0, STEP, |inputs, deviations| {
            let open = columns
                .iter()
                .filter(|column| column.substance == Substance::Air);
            for column in open {
                (column.move_by)(inputs, deviations * column.standard);
            }
            shift(inputs, difference * deviations, column * deviations);
        });
    }

    /// The columns of the balance: liquid, what is above it, and what stands in the legs.
    fn columns(&self) -> [Column<'a>; 5] {
        let (working, basis) = (self.working, self.one.basis);
        let arrangement = &basis.arrangement;
        let standard = |density: Density| from_expanded(density.uncertainty.value);
        let (liquid, above) = match arrangement.layers {
            Layers::LiquidAndGas | Layers::LiquidAlone => (Substance::Liquid, self.gas()),
            Layers::Liquids { lower, upper } => (self.of_fill(lower), self.of_fill(upper)),
        };
        let (liquid_name, above_name) = match arrangement.layers {
            Layers::Liquids { .. } => ("lower liquid density", "upper liquid density"),
            Layers::LiquidAndGas | Layers::LiquidAlone => ("liquid density", "gas density"),
        };
        // What the pressures themselves tell has no error of its own.
        let of_liquid = match working.density_measured {
            true => 0.0,
            false => standard(working.liquid),
        };
        let is_purged = matches!(arrangement.high.fill, Fill::Purge(_));
        let middle = arrangement.middle.as_ref().zip(basis.middle_leg);
        [
            Column {
                substance: liquid,
                standard: of_liquid,
                name: liquid_name,
                move_by: |inputs, by| inputs.balance.liquid.value += by,
            },
            Column {
                substance: above,
                standard: standard(working.above),
                name: above_name,
                move_by: |inputs, by| inputs.balance.gas.value += by,
            },
            Column {
                substance: self.of_end(&arrangement.high),
                standard: standard(working.high_leg),
                name: match is_purged {
                    true => "purge gas density",
                    false => "high leg density",
                },
                move_by: |inputs, by| inputs.balance.high.fill.value += by,
            },
            Column {
                substance: self.of_end(&arrangement.low),
                standard: standard(working.low_leg),
                name: "low leg density",
                move_by: |inputs, by| inputs.balance.low.fill.value += by,
            },
            Column {
                substance: middle.map_or(Substance::Liquid, |(middle, _)| self.of_end(middle)),
                standard: middle.map_or(0.0, |(_, density)| standard(density)),
                name: "middle leg density",
                move_by: |inputs, by| {
                    if let Some(column) = &mut inputs.column {
                        column.upper.fill.value += by;
                    }
                },
            },
        ]
    }

    fn of_end(&self, end: &End<'a>) -> Substance<'a> {
        match end.fill {
            Fill::OpenAir => Substance::Air,
            Fill::Purge(_) => Substance::Purge,
            Fill::Leg(fill) => self.of_fill(fill),
        }
    }

    fn of_fill(&self, fill: &'a LegFill) -> Substance<'a> {
        match fill {
            LegFill::OwnLiquid => Substance::Liquid,
            LegFill::Gas => self.gas(),
            LegFill::Filled(fill) if *fill == self.one.place.tank.liquid => Substance::Liquid,
            LegFill::Filled(fill) => Substance::Fill(fill),
        }
    }

    /// An open tank breathes the air outside.
    fn gas(&self) -> Substance<'static> {
        match self.one.place.tank.gas.gas {
            Gas::Air if self.one.place.tank.is_open() => Substance::Air,
            _ => Substance::Gas,
        }
    }
}
