//! `[tank.marks]`: levels that the site works to, inside the vessel and in their order.

use super::hookup::{Extent, shown};
use crate::engine::plan::Marks;
use crate::quantity::Length;
use crate::site::file::Table;

pub fn read(table: &Table<'_>, extent: Option<Extent>) -> Marks {
    let mark = |name: &'static str| {
        let level = table.length(name)?;
        let outside = extent.filter(|extent| level < extent.bottom || level > extent.top);
        if let Some(extent) = outside {
            let message = format!(
                "the mark `{name}` at {} lies outside of the vessel",
                shown(level)
            );
            let cure = format!(
                "the vessel goes from {} to {}, counted from the site's zero",
                shown(extent.bottom),
                shown(extent.top)
            );
            table.report(table.problem_at(name, message).cure(cure));
        }
        Some(level)
    };
    let marks = Marks {
        critical_high: mark("critical_high"),
        critical_low: mark("critical_low"),
        overflow: mark("overflow"),
        working_high: mark("working_high"),
        working_low: mark("working_low"),
        heel: mark("heel"),
    };
    let rising = |lower: (&str, Option<Length>), upper: (&str, Option<Length>), may_meet: bool| {
        let (Some(low), Some(high)) = (lower.1, upper.1) else {
            return;
        };
        if low > high || (low == high && !may_meet) {
            let message = format!(
                "the mark `{}` at {} is not above `{}` at {}",
                upper.0,
                shown(high),
                lower.0,
                shown(low)
            );
            let problem = table
                .problem_at(upper.0, message)
                .related(table.place_of(lower.0), "should be lower");
            table.report(
                problem.cure("check the two marks; they count upwards from the site's zero"),
            );
        }
    };
    rising(
        ("critical_low", marks.critical_low),
        ("working_low", marks.working_low),
        true,
    );
    rising(
        ("heel", marks.heel),
        ("working_high", marks.working_high),
        false,
    );
    rising(
        ("working_low", marks.working_low),
        ("working_high", marks.working_high),
        false,
    );
    rising(
        ("working_high", marks.working_high),
        ("overflow", marks.overflow),
        true,
    );
    rising(
        ("working_high", marks.working_high),
        ("critical_high", marks.critical_high),
        true,
    );
    rising(
        ("critical_low", marks.critical_low),
        ("critical_high", marks.critical_high),
        false,
    );
    marks
}
