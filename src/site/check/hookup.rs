//! `[tank.hookup]`: how the transmitters are connected, and whether that can be.

use super::liquid;
use super::transmitter::Transmitters;
use crate::engine::TransmitterId;
use crate::engine::plan::{Correction, Hookup, Leg, LegFill, Measures, Port};
use crate::physics::vessel::Vessel;
use crate::quantity::{Dimension, Length, metres};
use crate::site::file::Table;

/// A hookup that could be read, and where.
#[derive(Debug)]
pub struct Hooked<'d> {
    pub hookup: Hookup,
    pub table: Table<'d>,
    pub elevation_uncertainty: Length,
    pub correction: Correction,
}

/// Lowest and highest level of the vessel, from the site's zero. On a sloped cylinder a level stands a little
/// lower than its number: there elevations are turned over.
#[derive(Clone, Copy, Debug)]
pub struct Extent {
    pub bottom: Length,
    pub top: Length,
    /// Elevation per level.
    plumb: f64,
}

impl Extent {
    pub fn of(vessel: &Vessel, zero: Length) -> Self {
        Self {
            bottom: vessel.bottom() - zero,
            top: vessel.top() - zero,
            plumb: vessel.elevation(metres(1.0)).value,
        }
    }

    pub fn level(self, elevation: Length) -> Length {
        elevation / self.plumb
    }

    pub fn elevation(self, level: Length) -> Length {
        level * self.plumb
    }
}

/// How far above the vessel an upper tap may be, on its nozzle or vent (common practice, no source).
const HIGHEST_NOZZLE_M: f64 = 2.0;

pub fn read<'d>(
    tank: &Table<'d>,
    transmitters: &Transmitters<'d>,
    extent: Option<Extent>,
) -> Option<Hooked<'d>> {
    if tank.is_list("hookup") {
        let problem = tank.problem_at(
            "hookup",
            "several hookups on one tank are not supported yet",
        );
        tank.report(problem.cure("keep one, written [tank.hookup]"));
        return None;
    }
    let table = tank.table("hookup")?;
    table.choice("kind");
    let elevation_uncertainty = table
        .table("elevations")
        .and_then(|elevations| elevations.length("uncertainty"));
    let correction = table
        .table("correction")
        .map(|correction| read_correction(&correction));
    let reader = Reader {
        transmitters,
        extent,
        table: &table,
    };
    let hookup = match table.kind()? {
        "vented" => reader.vented(),
        "differential" => reader.differential(),
        _ => reader.two_transmitter(),
    };
    Some(Hooked {
        hookup: hookup?,
        elevation_uncertainty: elevation_uncertainty.unwrap_or(metres(0.0)),
        correction: correction.unwrap_or_default(),
        table,
    })
}

fn read_correction(table: &Table<'_>) -> Correction {
    let gain = table.number("gain").unwrap_or(1.0);
    if gain <= 0.0 {
        table.report(
            table
                .problem_at("gain", "`gain` must be more than 0")
                .cure("a gain of 1.0 changes nothing"),
        );
    }
    Correction {
        gain,
        offset: table.length("offset").unwrap_or(metres(0.0)),
    }
}

struct Reader<'a, 'd> {
    transmitters: &'a Transmitters<'d>,
    extent: Option<Extent>,
    table: &'a Table<'d>,
}

impl Reader<'_, '_> {
    fn vented(&self) -> Option<Hookup> {
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
        if let Some(vent) = vent.filter(|vent| *vent <= high.tap) {
            let message = format!(
                "the vent at {} is not above the tap at {}",
                shown(vent),
                shown(high.tap)
            );
            self.table.report(
                self.table
                    .problem_at("vent", message)
                    .cure("give the elevation of the vent, above the liquid"),
            );
        }
        Some(Hookup::Vented {
            transmitter: transmitter?,
            at,
            high,
            vent,
        })
    }

    fn differential(&self) -> Option<Hookup> {
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

    fn two_transmitter(&self) -> Option<Hookup> {
        let (bottom_table, headspace_table) =
            (self.table.table("bottom"), self.table.table("headspace"));
        let bottom = bottom_table.as_ref().and_then(|port| self.port(port));
        let headspace = headspace_table.as_ref().and_then(|port| self.port(port));
        let (bottom, mut headspace) = (bottom?, headspace?);
        let (bottom_table, headspace_table) = (bottom_table?, headspace_table?);
        let place = bottom_table.place_of("transmitter");
        self.transmitters
            .take(bottom.transmitter, &bottom_table, place);
        let tap_of = |table: &Table<'_>| if table.has("tap") { "tap" } else { "at" };
        self.below_top(&bottom_table, tap_of(&bottom_table), bottom.leg.tap);
        self.upper_tap(
            &headspace_table,
            tap_of(&headspace_table),
            headspace.leg.tap,
            bottom.leg.tap,
        );
        self.liquid_stays(&bottom_table, bottom.at, &bottom.leg);
        if !headspace_table.has("leg") {
            if headspace.leg.tap != headspace.at {
                let problem = headspace_table.problem_at(
                    "tap",
                    "nothing says what fills the tube from this tap to the diaphragm",
                );
                headspace_table.report(problem.cure(
                    "give `leg`: \"gas\" for a dry tube, or a liquid; a guess errs by metres",
                ));
            }
            headspace.leg.fill = LegFill::Gas;
        }
        if bottom.transmitter == headspace.transmitter {
            let problem = headspace_table.problem_at(
                "transmitter",
                "bottom and headspace name the same transmitter",
            );
            headspace_table.report(problem.cure("name the transmitter that sits on the headspace"));
        }
        Some(Hookup::TwoTransmitter { bottom, headspace })
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

    fn side(&self, table: &Table<'_>) -> Option<Leg> {
        let (tap, fill) = (table.length("tap"), self.fill(table));
        Some(Leg {
            tap: tap?,
            fill: fill?,
        })
    }

    fn fill(&self, table: &Table<'_>) -> Option<LegFill> {
        if !table.has("leg") {
            return Some(LegFill::OwnLiquid);
        }
        if table.is_table("leg") {
            return liquid::read(&table.table("leg")?, self.transmitters).map(LegFill::Filled);
        }
        if table.text("leg")? == "gas" {
            return Some(LegFill::Gas);
        }
        let problem = table.problem_at("leg", "`leg` must be \"gas\" or a liquid");
        table.report(problem.cure("a dry leg: leg = \"gas\"; a filled one: leg = { kind = \"constant\", density = \"1080 kg/m3\" }"));
        None
    }

    fn pressure(&self, table: &Table<'_>) -> Option<TransmitterId> {
        let tag = table.text("transmitter")?;
        self.transmitters.find(
            table,
            tag,
            table.place_of("transmitter"),
            Dimension::Pressure,
        )
    }

    /// The one transmitter of a hookup that settles what it measures.
    fn on_the_liquid(
        &self,
        table: &Table<'_>,
        due: Measures,
        whose: &str,
    ) -> Option<TransmitterId> {
        let id = self.pressure(table)?;
        self.transmitters
            .take(id, table, table.place_of("transmitter"));
        let measures = self
            .transmitters
            .settle(id, due, table.place_of("transmitter"));
        let fits = match due {
            Measures::Gauge => matches!(measures, Measures::Gauge | Measures::SealedGauge(_)),
            _ => measures == due,
        };
        if !fits {
            let due = if due == Measures::Gauge {
                "gauge"
            } else {
                "differential"
            };
            self.wrong_measure(
                table,
                id,
                &format!("{whose} needs one that measures {due} pressure"),
            );
        }
        Some(id)
    }

    fn wrong_measure(&self, table: &Table<'_>, id: TransmitterId, due: &str) {
        let tag = self.transmitters.of(id).tag;
        let problem = table.problem_at("transmitter", format!("{tag} does not fit here: {due}"));
        let related = problem.related(self.transmitters.measures_place(id), "what it measures");
        table.report(related.cure(
            "check the tag, `measures` and `unit` of the transmitter, and `kind` of the hookup",
        ));
    }

    fn below_top(&self, table: &Table<'_>, name: &str, tap: Length) -> bool {
        let above = self.extent.filter(|extent| tap >= extent.top);
        if let Some(extent) = above {
            let message = format!(
                "the tap at {} is not below the vessel's top at {}",
                shown(tap),
                shown(extent.top)
            );
            table.report(table.problem_at(name, message).cure(
                "check the elevation against the vessel's sizes; both count from the site's zero",
            ));
        }
        above.is_none()
    }

    fn upper_tap(&self, table: &Table<'_>, name: &str, upper: Length, lower: Length) {
        if upper <= lower {
            let message = format!(
                "the upper tap at {} is not above the lower one at {}",
                shown(upper),
                shown(lower)
            );
            table.report(table.problem_at(name, message).cure(
                "check both elevations; the lower tap is on the liquid, the upper one on the gas",
            ));
            return;
        }
        let Some(extent) = self.extent else { return };
        if upper.value > extent.top.value + HIGHEST_NOZZLE_M {
            let message = format!(
                "the upper tap at {} is far above the vessel's top at {}",
                shown(upper),
                shown(extent.top)
            );
            table.report(table.problem_at(name, message).cure(
                "check the elevation against the vessel's sizes; both count from the site's zero",
            ));
        }
        if upper <= extent.bottom {
            let message = format!(
                "the upper tap at {} is below the vessel's bottom at {}",
                shown(upper),
                shown(extent.bottom)
            );
            table.report(
                table
                    .problem_at(name, message)
                    .cure("check the elevation; it counts from the site's zero"),
            );
        }
    }

    /// The tank's own liquid stands in a leg no higher than in the vessel.
    fn liquid_stays(&self, table: &Table<'_>, at: Length, leg: &Leg) {
        let Some(extent) = self.extent else { return };
        if matches!(leg.fill, LegFill::OwnLiquid) && at >= extent.top {
            let message = format!(
                "the diaphragm at {} is above the vessel's top at {}: its leg would run empty",
                shown(at),
                shown(extent.top)
            );
            table.report(
                table
                    .problem_at("at", message)
                    .cure("check the elevation; or say what fills `high.leg`, if that is a seal"),
            );
        }
    }
}

/// A length as people are told of it.
pub fn shown(length: Length) -> String {
    let unit =
        crate::quantity::find("m", Dimension::Length).expect("the metre stands in the unit table");
    crate::quantity::print(length.value, unit, 3)
}
