//! Hookups with a transmitter at each port: two, and three that measure the density as well.

use super::shown;
use super::side::Reader;
use crate::engine::plan::{Hookup, Leg, LegFill, Measures, Port};
use crate::site::file::Table;

impl<'d> Reader<'_, 'd> {
    pub(super) fn two_transmitter(&self) -> Option<Hookup> {
        let (bottom, headspace) = (self.placed("bottom"), self.placed("headspace"));
        let ((bottom, bottom_table), (headspace, headspace_table)) = (bottom?, headspace?);
        self.on_liquid(&bottom, &bottom_table);
        let headspace = self.on_gas(headspace, &headspace_table, &bottom);
        self.differ(&bottom, &headspace, &headspace_table);
        Some(Hookup::TwoTransmitter { bottom, headspace })
    }

    pub(super) fn three_transmitter(&self) -> Option<Hookup> {
        let (bottom, middle) = (self.placed("bottom"), self.placed("middle"));
        let (headspace, margin) = (self.placed("headspace"), self.table.length("margin"));
        let ((bottom, bottom_table), (middle, middle_table)) = (bottom?, middle?);
        let (headspace, headspace_table) = headspace?;
        self.on_liquid(&bottom, &bottom_table);
        self.on_liquid(&middle, &middle_table);
        let headspace = self.on_gas(headspace, &headspace_table, &middle);
        if middle.leg.tap <= bottom.leg.tap {
            let message = format!(
                "the middle tap at {} is not above the bottom one at {}",
                shown(middle.leg.tap),
                shown(bottom.leg.tap)
            );
            let problem = middle_table.problem_at(tap_of(&middle_table), message);
            middle_table.report(
                problem.cure("check both elevations: the density is measured between them"),
            );
        }
        self.differ(&bottom, &middle, &middle_table);
        self.differ(&bottom, &headspace, &headspace_table);
        self.differ(&middle, &headspace, &headspace_table);
        Some(Hookup::ThreeTransmitter {
            bottom,
            middle,
            headspace,
            margin: margin?,
        })
    }

    fn placed(&self, name: &'static str) -> Option<(Port, Table<'d>)> {
        let table = self.table.table(name)?;
        Some((self.port(&table)?, table))
    }

    fn port(&self, table: &Table<'_>) -> Option<Port> {
        let transmitter = self.pressure(table);
        if let Some(id) = transmitter {
            let place = table.place_of("transmitter");
            if self.transmitters.measures(id, table, place) == Some(Measures::Differential) {
                self.wrong_measure(
                    table,
                    id,
                    "each of two transmitters measures gauge or absolute pressure",
                );
            }
        }
        let at = table.length("at");
        let tap = if table.has("tap") {
            table.length("tap")
        } else {
            at
        };
        let fill = self.fill(table);
        Some(Port {
            transmitter: transmitter?,
            at: at?,
            leg: Leg {
                tap: tap?,
                fill: fill?,
            },
        })
    }

    fn on_liquid(&self, port: &Port, table: &Table<'_>) {
        let place = table.place_of("transmitter");
        self.transmitters.take(port.transmitter, table, place);
        self.below_top(table, tap_of(table), port.leg.tap);
        self.liquid_stays(table, port.at, &port.leg);
    }

    fn on_gas(&self, mut headspace: Port, table: &Table<'_>, below: &Port) -> Port {
        self.upper_tap(table, tap_of(table), headspace.leg.tap, below.leg.tap);
        if !table.has("leg") {
            if headspace.leg.tap != headspace.at {
                let problem = table.problem_at(
                    "tap",
                    "nothing says what fills the tube from this tap to the diaphragm",
                );
                table.report(problem.cure(
                    "give `leg`: \"gas\" for a dry tube, or a liquid; a guess errs by metres",
                ));
            }
            headspace.leg.fill = LegFill::Gas;
        }
        headspace
    }

    fn differ(&self, first: &Port, second: &Port, table: &Table<'_>) {
        if first.transmitter == second.transmitter {
            let problem = table.problem_at(
                "transmitter",
                "this transmitter sits on another tap of the hookup already",
            );
            table.report(problem.cure("name the transmitter that sits here"));
        }
    }
}

fn tap_of(table: &Table<'_>) -> &'static str {
    if table.has("tap") { "tap" } else { "at" }
}
