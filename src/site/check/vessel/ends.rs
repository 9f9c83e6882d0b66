//! The ends of a cylinder.

use crate::physics::vessel::{Head, TorisphereStandard};
use crate::quantity::Length;
use crate::site::file::Table;

/// An end as the site file gives it.
#[derive(Clone, Copy, Debug)]
pub struct End {
    pub head: Head,
    pub inward: bool,
}

/// Where an end stands: that decides what it can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    Bottom,
    Top,
    Side,
}

/// An end of a cylinder; flat if left out.
pub fn end(
    table: &Table<'_>,
    name: &'static str,
    place: Place,
    diameter: Option<Length>,
) -> Option<End> {
    if !table.has(name) {
        return Some(End {
            head: Head::Flat,
            inward: false,
        });
    }
    let table = table.table(name)?;
    table.choice("head");
    let head = head(&table, diameter)?;
    if matches!(head, Head::Guppy { .. }) && place != Place::Side {
        let problem = table.problem_at("head", "a guppy is an end of a horizontal cylinder");
        table.report(
            problem
                .cure("an upright one takes: flat, cone, hemisphere, ellipsoid, torisphere, dish"),
        );
        return None;
    }
    let can_rise = !matches!(head, Head::Flat | Head::Guppy { .. });
    let inward = can_rise && table.boolean("inward")?;
    if inward && place != Place::Bottom {
        let problem = table.problem_at("inward", "only a bottom can rise into the vessel");
        table
            .report(problem.cure("take `inward` out; it is for the bottom of an upright cylinder"));
        return None;
    }
    Some(End { head, inward })
}

/// Both ends of a horizontal cylinder.
pub fn ends(table: &Table<'_>, diameter: Option<Length>) -> Option<(Head, Head)> {
    let side =
        |table: &Table<'_>, name| end(table, name, Place::Side, diameter).map(|end| end.head);
    if table.holds("heads", "left") || table.holds("heads", "right") {
        let ends = table.table_as("heads", "tank.vessel.ends")?;
        let (left, right) = (side(&ends, "left"), side(&ends, "right"));
        return left.zip(right);
    }
    let both = side(table, "heads")?;
    Some((both, both))
}

fn head(table: &Table<'_>, diameter: Option<Length>) -> Option<Head> {
    let depth = || table.length("depth");
    Some(match table.kind()? {
        "flat" => Head::Flat,
        "hemisphere" => Head::Hemisphere,
        "cone" => Head::Cone { depth: depth()? },
        "dish" => Head::Dish { depth: depth()? },
        "guppy" => Head::Guppy { depth: depth()? },
        "torisphere" => torisphere(table, diameter)?,
        _ => Head::Ellipsoid {
            // a 2:1 ellipsoid is a quarter of the diameter deep
            depth: if table.has("depth") {
                depth()?
            } else {
                diameter? / 4.0
            },
        },
    })
}

/// By its two radii, or by the standard that stands for them.
fn torisphere(table: &Table<'_>, diameter: Option<Length>) -> Option<Head> {
    let standard = table.choice("standard");
    let (dish, knuckle) = (table.length("dish_radius"), table.length("knuckle_radius"));
    let has_radii = table.has("dish_radius") || table.has("knuckle_radius");
    let has_both = table.has("dish_radius") && table.has("knuckle_radius");
    let refuse = |name: &str, message: &str| {
        let problem = table.problem_at(name, message);
        table.report(problem.cure(
            "give dish_radius = \"4.2 m\" and knuckle_radius = \"0.25 m\", or standard = \"din-28011\"",
        ));
        None
    };
    if table.has("standard") {
        if has_radii {
            return refuse(
                "standard",
                "a torisphere has its radii or the name of a standard, not both",
            );
        }
        let standard = match standard? {
            "asme-fd" => TorisphereStandard::AsmeFlangedAndDished,
            "din-28011" => TorisphereStandard::Din28011,
            _ => TorisphereStandard::Din28013,
        };
        return Some(standard.of_diameter(diameter?));
    }
    if !has_both {
        return refuse(
            "head",
            "a torisphere needs both of its radii, or the name of a standard",
        );
    }
    Some(Head::Torisphere {
        dish_radius: dish?,
        knuckle_radius: knuckle?,
    })
}
