//! `[tank.checks] sight_glass` and `[tank.dip]`: what entries are counted from, and how often they are due.

use super::hookup::{Extent, shown};
use super::site::temperature_source;
use super::transmitter::Transmitters;
use crate::engine::plan::{DipPlan, GlassPlan, LiquidPlan, RoundsPlan};
use crate::quantity::{Length, metres};
use crate::site::file::Table;

pub fn read(
    tank: &Table<'_>,
    transmitters: &Transmitters<'_>,
    extent: Option<Extent>,
    liquid: Option<&LiquidPlan>,
) -> Option<RoundsPlan> {
    let dip = tank
        .table("dip")
        .map_or(Some(DipPlan::default()), |dip| read_dip(&dip, extent));
    let glass = tank
        .table("checks")
        .and_then(|checks| checks.table("sight_glass"));
    let Some(table) = glass else {
        let dip = dip?;
        return Some(RoundsPlan {
            dip,
            ..RoundsPlan::default()
        });
    };
    let (zero_at, length) = (table.length("zero_at"), table.length("length"));
    let zero_at = zero_at.unwrap_or(metres(0.0));
    inside(&table, "zero_at", zero_at, extent);
    let of_glass = match table.has("temperature") {
        true => temperature_source(&table, "temperature", transmitters).map(Some),
        false => Some(None),
    };
    if table.has("temperature") && liquid.is_some_and(|liquid| liquid.measured.is_some()) {
        let message = "the tank's density is measured: what stands in the glass can't be worked out from its temperature";
        let problem = table.problem_at("temperature", message);
        table.report(problem.cure("take it out, and blow the glass down before it is read"));
    }
    let dip = dip?;
    Some(RoundsPlan {
        glass: GlassPlan {
            zero_at,
            length,
            temperature: of_glass?,
        },
        dip,
        every: table.duration("every"),
        tolerance: table.length("tolerance"),
    })
}

fn read_dip(table: &Table<'_>, extent: Option<Extent>) -> Option<DipPlan> {
    let plate_at = table.length("plate_at").unwrap_or(metres(0.0));
    inside(table, "plate_at", plate_at, extent);
    let point_at = table.length("point_at");
    if let Some(point) = point_at.filter(|point| *point <= plate_at) {
        let message = format!(
            "the gauge point at {} is not above the plate at {}",
            shown(point),
            shown(plate_at)
        );
        let problem = table.problem_at("point_at", message);
        table
            .report(problem.cure("ullages hang down from `point_at`, innages stand on `plate_at`"));
        return None;
    }
    Some(DipPlan { plate_at, point_at })
}

fn inside(table: &Table<'_>, name: &'static str, level: Length, extent: Option<Extent>) {
    let outside = extent.filter(|extent| level < extent.bottom || level > extent.top);
    if let Some(extent) = outside.filter(|_| table.has(name)) {
        let message = format!("`{name}` at {} lies outside of the vessel", shown(level));
        let cure = format!(
            "the vessel goes from {} to {}, counted from the site's zero",
            shown(extent.bottom),
            shown(extent.top)
        );
        table.report(table.problem_at(name, message).cure(cure));
    }
}
