//! What all hookups share: transmitters, taps, and what fills the legs.

use super::{Extent, shown};
use crate::engine::TransmitterId;
use crate::engine::plan::{Hookup, Leg, LegFill, Measures};
use crate::quantity::{Dimension, Length};
use crate::site::check::liquid;
use crate::site::check::transmitter::Transmitters;
use crate::site::file::Table;

/// How far above the vessel an upper tap may be, on its nozzle or vent (common practice, no source).
const HIGHEST_NOZZLE_M: f64 = 2.0;

/// One hookup's table, with what it is checked against.
pub(super) struct Reader<'a, 'd> {
    pub transmitters: &'a Transmitters<'d>,
    pub extent: Option<Extent>,
    pub table: &'a Table<'d>,
}

impl Reader<'_, '_> {
    pub(super) fn side(&self, table: &Table<'_>) -> Option<Leg> {
        let (tap, fill) = (table.length("tap"), self.fill(table));
        Some(Leg {
            tap: tap?,
            fill: fill?,
        })
    }

    pub(super) fn fill(&self, table: &Table<'_>) -> Option<LegFill> {
        if !table.has("leg") {
            return Some(LegFill::OwnLiquid);
        }
        if table.is_table("leg") {
            return self.liquid(table, "leg");
        }
        if table.text("leg")? == "gas" {
            return Some(LegFill::Gas);
        }
        let problem = table.problem_at("leg", "`leg` must be \"gas\" or a liquid");
        table.report(problem.cure("a dry leg: leg = \"gas\"; a filled one: leg = { kind = \"constant\", density = \"1080 kg/m3\" }"));
        None
    }

    /// A liquid that is not measured by these very transmitters.
    pub(super) fn liquid(&self, table: &Table<'_>, name: &'static str) -> Option<LegFill> {
        let liquid = table.table(name)?;
        if liquid.has("from") {
            let problem =
                liquid.problem_at("from", "the hookup measures only the tank's own liquid");
            liquid.report(
                problem.cure("say what it is: kind = \"constant\" with a density, for example"),
            );
        }
        liquid::read(&liquid, self.transmitters).map(LegFill::Filled)
    }

    pub(super) fn pressure(&self, table: &Table<'_>) -> Option<TransmitterId> {
        let tag = table.text("transmitter")?;
        self.transmitters.find(
            table,
            tag,
            table.place_of("transmitter"),
            Dimension::Pressure,
        )
    }

    /// The one transmitter of a hookup that settles what it measures.
    pub(super) fn on_the_liquid(
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
            Measures::Absolute => measures == Measures::Absolute,
            _ => measures == due,
        };
        if !fits {
            let due = match due {
                Measures::Gauge => "gauge",
                Measures::Absolute => "absolute",
                _ => "differential",
            };
            self.wrong_measure(
                table,
                id,
                &format!("{whose} needs one that measures {due} pressure"),
            );
        }
        Some(id)
    }

    pub(super) fn wrong_measure(&self, table: &Table<'_>, id: TransmitterId, due: &str) {
        let tag = self.transmitters.of(id).tag;
        let problem = table.problem_at("transmitter", format!("{tag} does not fit here: {due}"));
        let related = problem.related(self.transmitters.measures_place(id), "what it measures");
        table.report(related.cure(
            "check the tag, `measures` and `unit` of the transmitter, and `kind` of the hookup",
        ));
    }

    pub(super) fn below_top(&self, table: &Table<'_>, name: &str, tap: Length) -> bool {
        let above = self.extent.filter(|extent| tap >= extent.highest());
        if let Some(extent) = above {
            let message = format!(
                "the tap at {} is not below the vessel's top at {}",
                shown(tap),
                shown(extent.highest())
            );
            table.report(table.problem_at(name, message).cure(
                "check the elevation against the vessel's sizes; both count from the site's zero",
            ));
        }
        above.is_none()
    }

    pub(super) fn upper_tap(&self, table: &Table<'_>, name: &str, upper: Length, lower: Length) {
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
        if upper.value > extent.highest().value + HIGHEST_NOZZLE_M {
            let message = format!(
                "the upper tap at {} is far above the vessel's top at {}",
                shown(upper),
                shown(extent.highest())
            );
            table.report(table.problem_at(name, message).cure(
                "check the elevation against the vessel's sizes; both count from the site's zero",
            ));
        }
        if upper <= extent.lowest() {
            let message = format!(
                "the upper tap at {} is below the vessel's bottom at {}",
                shown(upper),
                shown(extent.lowest())
            );
            table.report(
                table
                    .problem_at(name, message)
                    .cure("check the elevation; it counts from the site's zero"),
            );
        }
    }

    /// The tank's own liquid stands in a leg no higher than in the vessel.
    pub(super) fn liquid_stays(&self, table: &Table<'_>, at: Length, leg: &Leg) {
        let Some(extent) = self.extent else { return };
        if matches!(leg.fill, LegFill::OwnLiquid) && at >= extent.highest() {
            let message = format!(
                "the diaphragm at {} is above the vessel's top at {}: its leg would run empty",
                shown(at),
                shown(extent.highest())
            );
            table.report(
                table
                    .problem_at("at", message)
                    .cure("check the elevation; or say what fills `high.leg`, if that is a seal"),
            );
        }
    }

    /// Whether the pressure of the air stays in its balance: a gauge beside one that counts from elsewhere.
    pub(super) fn leaves_the_barometer(&self, hookup: &Hookup) -> bool {
        let is_gauge = |id| {
            let place = self.table.place();
            self.transmitters.measures(id, self.table, place) == Some(Measures::Gauge)
        };
        match hookup {
            Hookup::Barometer { .. } => true,
            Hookup::Vented { transmitter, .. }
            | Hookup::DipTube {
                transmitter,
                low: None,
                ..
            } => !is_gauge(*transmitter),
            Hookup::TwoTransmitter { .. } | Hookup::ThreeTransmitter { .. } => {
                let gauges = hookup.transmitters().filter(|id| is_gauge(*id)).count();
                gauges > 0 && gauges < hookup.transmitters().count()
            }
            Hookup::Differential { .. }
            | Hookup::DipTube { .. }
            | Hookup::Interface { .. }
            | Hookup::Level { .. } => false,
        }
    }
}
