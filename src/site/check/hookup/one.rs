//! Hookups with one transmitter: vented, barometer, differential, dip tube, interface, level.

use super::shown;
use super::side::Reader;
use crate::engine::plan::{Friction, Hookup, Leg, LegFill, Measures};
use crate::physics::liquid::Gas;
use crate::quantity::{
    DifferentialPressure, Dimension, Length, kilograms_per_cubic_metre, kilograms_per_mole,
};

impl Reader<'_, '_> {
    pub(super) fn vented(&self) -> Option<Hookup> {
        let transmitter = self.on_the_liquid(self.table, Measures::Gauge, "a vented tank");
        let (at, vent) = (self.table.length("at"), self.table.length("vent"));
        let high = match self.table.has("high") {
            true => self.table.table("high").and_then(|side| self.side(&side)),
            false => at.map(|at| Leg {
                tap: at,
                fill: LegFill::OwnLiquid,
            }),
        };
        let (at, high) = (at?, high?);
        let is_below = match self.table.table("high") {
            Some(side) => self.below_top(&side, "tap", high.tap),
            None => self.below_top(self.table, "at", at),
        };
        if is_below {
            self.liquid_stays(self.table, at, &high);
        }
        self.vent_is_above(vent, high.tap);
        Some(Hookup::Vented {
            transmitter: transmitter?,
            at,
            high,
            vent,
        })
    }

    pub(super) fn differential(&self) -> Option<Hookup> {
        let transmitter =
            self.on_the_liquid(self.table, Measures::Differential, "a differential hookup");
        let (at, reversed) = (self.table.length("at"), self.table.boolean("reversed"));
        let (high_table, low_table) = (self.table.table("high"), self.table.table("low"));
        let high = high_table.as_ref().and_then(|side| self.side(side));
        let low = low_table.as_ref().and_then(|side| self.side(side));
        let (at, high, low) = (at?, high?, low?);
        self.below_top(&high_table?, "tap", high.tap);
        self.upper_tap(&low_table?, "tap", low.tap, high.tap);
        self.liquid_stays(self.table, at, &high);
        Some(Hookup::Differential {
            transmitter: transmitter?,
            at,
            high,
            low,
            reversed: reversed?,
        })
    }

    pub(super) fn barometer(&self) -> Option<Hookup> {
        let transmitter = self.on_the_liquid(self.table, Measures::Absolute, "a barometer hookup");
        let (at, vent) = (self.table.length("at"), self.table.length("vent"));
        let at = at?;
        if self.below_top(self.table, "at", at) {
            self.vent_is_above(vent, at);
        }
        Some(Hookup::Barometer {
            transmitter: transmitter?,
            at,
            vent,
        })
    }

    pub(super) fn dip_tube(&self) -> Option<Hookup> {
        let low_table = self.table.table("low");
        let due = match low_table {
            Some(_) => Measures::Differential,
            None => Measures::Gauge,
        };
        let whose = match low_table {
            Some(_) => "a dip tube with a low side",
            None => "a dip tube in an open tank",
        };
        let transmitter = self.on_the_liquid(self.table, due, whose);
        let (at, tube_end) = (self.table.length("at"), self.table.length("tube_end"));
        let (purge, friction) = (self.purge(), self.friction());
        let vent = self.table.length("vent");
        let low = low_table.as_ref().and_then(|side| self.side(side));
        let (at, tube_end) = (at?, tube_end?);
        self.below_top(self.table, "tube_end", tube_end);
        if at <= tube_end {
            let message = format!(
                "the transmitter at {} is not above the end of its tube at {}",
                shown(at),
                shown(tube_end)
            );
            let problem = self.table.problem_at("at", message);
            self.table.report(problem.cure(
                "the tube hangs down from the transmitter: check both elevations; they count from the site's zero",
            ));
        }
        if let (Some(side), Some(low)) = (&low_table, &low) {
            self.upper_tap(side, "tap", low.tap, tube_end);
        }
        self.vent_is_above(vent, tube_end);
        if let (Some(_), Some(_)) = (vent, &low) {
            let problem = self
                .table
                .problem_at("vent", "a dip tube with a low side has no vent");
            self.table
                .report(problem.cure("take `vent` out, or `low` where the tank is open"));
        }
        if low_table.is_some() && low.is_none() {
            return None;
        }
        Some(Hookup::DipTube {
            transmitter: transmitter?,
            at,
            tube_end,
            purge: purge?,
            friction: friction?,
            low,
            vent,
        })
    }

    fn purge(&self) -> Option<Gas> {
        if self.table.is_table("purge") {
            let table = self.table.table("purge")?;
            let (mass, density) = (table.si("molar_mass"), table.si("density"));
            return match (mass, density) {
                (Some(mass), None) => Some(Gas::MolarMass(kilograms_per_mole(mass))),
                (None, Some(density)) => Some(Gas::Density(kilograms_per_cubic_metre(density))),
                _ if table.has("molar_mass") == table.has("density") => {
                    let problem = self.table.problem_at(
                        "purge",
                        "a purge gas is told by one of `molar_mass` and `density`",
                    );
                    table.report(problem.cure("for example purge = { density = \"1.4 kg/m3\" }"));
                    None
                }
                _ => None,
            };
        }
        match self.table.text("purge")? {
            "air" => Some(Gas::Air),
            "nitrogen" => Some(Gas::Nitrogen),
            "carbon-dioxide" => Some(Gas::CarbonDioxide),
            other => {
                let problem = self
                    .table
                    .problem_at("purge", format!("there is no gas \"{other}\" here"));
                self.table.report(problem.cure(
                    "understood: \"air\", \"nitrogen\", \"carbon-dioxide\", { molar_mass = \"28 g/mol\" }, { density = \"1.4 kg/m3\" }",
                ));
                None
            }
        }
    }

    fn friction(&self) -> Option<Friction> {
        let pressure = DifferentialPressure::pascals;
        if !self.table.has("friction") {
            return Some(Friction::none());
        }
        if self.table.is_table("friction") {
            let table = self.table.table("friction")?;
            let uncertainty = table.si("uncertainty").unwrap_or(0.0);
            return Some(Friction {
                pressure: pressure(table.si("pressure")?),
                uncertainty: pressure(uncertainty),
            });
        }
        let written = self.table.quantity_of("friction", Dimension::Pressure)?;
        Some(Friction {
            pressure: pressure(written.si),
            ..Friction::none()
        })
    }

    pub(super) fn interface(&self) -> Option<Hookup> {
        let transmitter =
            self.on_the_liquid(self.table, Measures::Differential, "an interface hookup");
        let at = self.table.length("at");
        let (high_table, low_table) = (self.table.table("high"), self.table.table("low"));
        let high = high_table.as_ref().and_then(|side| self.side(side));
        let low = low_table.as_ref().and_then(|side| self.side(side));
        let lower = self.liquid(self.table, "lower");
        let upper = self.liquid(self.table, "upper");
        let (at, high, low) = (at?, high?, low?);
        let (high_table, low_table) = (high_table?, low_table?);
        self.below_top(&high_table, "tap", high.tap);
        self.upper_tap(&low_table, "tap", low.tap, high.tap);
        self.below_top(&low_table, "tap", low.tap);
        for (table, leg) in [(&high_table, &high), (&low_table, &low)] {
            if matches!(leg.fill, LegFill::Gas) {
                let problem = table.problem_at(
                    "leg",
                    "both taps of an interface are under liquid: no leg stays dry",
                );
                table.report(problem.cure(
                    "say what fills it: leg = { kind = \"constant\", density = \"820 kg/m3\" }",
                ));
            }
        }
        Some(Hookup::Interface {
            transmitter: transmitter?,
            at,
            high,
            low,
            lower: lower?,
            upper: upper?,
        })
    }

    pub(super) fn level(&self) -> Option<Hookup> {
        let tag = self.table.text("transmitter")?;
        let place = self.table.place_of("transmitter");
        let id = self
            .transmitters
            .find(self.table, tag, place.clone(), Dimension::Length);
        if let Some(id) = id {
            self.transmitters.take(id, self.table, place);
        }
        let (zero, full) = (self.table.length("zero"), self.table.length("full"));
        let ranged_for = self
            .table
            .table("ranged_for")
            .map(|ranged| ranged.si("density").map(kilograms_per_cubic_metre));
        let id = id?;
        let share = self.transmitters.of(id).is_in_percent();
        for name in ["zero", "full"] {
            let needed = share || (name == "zero" && self.table.has("ranged_for"));
            if needed && !self.table.has(name) {
                let message = match share {
                    true => format!("{tag} reads a share, and `{name}` does not say what of"),
                    false => "the density is corrected above the zero of the range, and `zero` does not say where that is".to_owned(),
                };
                let problem = self.table.problem_at(name, message);
                self.table.report(problem.cure(format!(
                    "add {name} = \"0.30 m\": the level that it is ranged from or to"
                )));
            }
        }
        if let (Some(zero), Some(full)) = (zero, full) {
            self.upper_tap(self.table, "full", full, zero);
        }
        if let Some(zero) = zero {
            self.below_top(self.table, "zero", zero);
        }
        Some(Hookup::Level {
            transmitter: id,
            zero,
            full,
            ranged_for: match ranged_for {
                Some(density) => Some(density?),
                None => None,
            },
        })
    }

    fn vent_is_above(&self, vent: Option<Length>, tap: Length) {
        if let Some(vent) = vent.filter(|vent| *vent <= tap) {
            let message = format!(
                "the vent at {} is not above the tap at {}",
                shown(vent),
                shown(tap)
            );
            self.table.report(
                self.table
                    .problem_at("vent", message)
                    .cure("give the elevation of the vent, above the liquid"),
            );
        }
    }
}
