//! `[tank.vessel]`: form and sizes.

mod ends;
mod strapping;

use crate::physics::vessel::{Deadwood, Frustum, Head, Shape, Shell, Vessel, VesselError};
use crate::quantity::{cubic_metres, kelvin, per_kelvin_of, radians};
use crate::site::file::Table;
use ends::{Place, end, ends};

pub fn read(table: &Table<'_>) -> Option<Vessel> {
    table.choice("shape");
    // What stands around the shape is read in any case, so that all that is wrong is told at once.
    let (deadwood, shell) = (deadwood(table), shell(table));
    let shape = match table.kind()? {
        "upright-cylinder" => upright(table)?,
        "horizontal-cylinder" => horizontal(table)?,
        "sphere" => Shape::Sphere {
            diameter: table.length("diameter")?,
        },
        "rectangular" => rectangular(table)?,
        "frusta" => frusta(table)?,
        _ => Shape::Strapping(strapping::strapping(table)?),
    };
    let told = |error: VesselError| report(table, &error);
    let mut vessel = Vessel::new(shape).map_err(told).ok()?;
    if table.has("deadwood") {
        vessel = vessel.with_deadwood(&deadwood?).map_err(told).ok()?;
    }
    if let Some(table) = table.table("shell") {
        let told = |error: VesselError| report(&table, &error);
        vessel = vessel.with_shell(shell?).map_err(told).ok()?;
    }
    Some(vessel)
}

/// At the key of the entry, of the head or of the vessel that is wrong.
fn report(table: &Table<'_>, error: &VesselError) {
    let key = error.key;
    if let Some((list, number)) = error.entry {
        let entries = table.tables(list);
        let entry = number.checked_sub(1).and_then(|index| entries.get(index));
        let message = format!("`{key}` of {list} entry {number} {}", error.message);
        let problem = match entry {
            Some(entry) => entry.problem_at(key, message),
            None => table.problem_at(list, message),
        };
        table.report(problem.cure(cure(error)));
        return;
    }
    let Some(part) = error.part else {
        let message = format!("`{key}` {}", error.message);
        table.report(table.problem_at(key, message).cure(cure(error)));
        return;
    };
    let message = format!("`{key}` of the {part} head {}", error.message);
    let head = match part {
        "bottom" | "top" => table.table(part),
        _ if table.holds("heads", part) => table
            .table_as("heads", "tank.vessel.ends")
            .and_then(|ends| ends.table(part)),
        _ => table.table("heads"),
    };
    let head = head.as_ref().unwrap_or(table);
    table.report(head.problem_at(key, message).cure(cure(error)));
}

fn cure(error: &VesselError) -> &'static str {
    match (error.entry, error.key) {
        (Some(("deadwood", _)), _) => {
            "check the band against the drawing; its elevations count from the lowest inside point"
        }
        (None, "dish_radius") => {
            "a dish radius is that of the sphere, about the vessel's diameter; or give standard = \"din-28011\""
        }
        (None, "knuckle_radius") => {
            "a knuckle radius is some 0.06 to 0.15 of the vessel's diameter; or give standard = \"din-28011\""
        }
        (None, "slope") => "check the angle and its unit; an upright vessel is no sloped one",
        _ => "check the number and its unit against the drawing",
    }
}

fn upright(table: &Table<'_>) -> Option<Shape> {
    let (diameter, height) = (table.length("diameter"), table.length("height"));
    let bottom = end(table, "bottom", Place::Bottom, diameter);
    let top = end(table, "top", Place::Top, diameter);
    let (diameter, height, bottom, top) = (diameter?, height?, bottom?, top?.head);
    Some(if bottom.inward {
        Shape::RaisedBottomCylinder {
            diameter,
            height,
            bottom: bottom.head,
            top,
        }
    } else {
        Shape::UprightCylinder {
            diameter,
            height,
            bottom: bottom.head,
            top,
        }
    })
}

/// Of round section by its diameter, of elliptical section by width and height.
fn horizontal(table: &Table<'_>) -> Option<Shape> {
    let (diameter, length) = (table.length("diameter"), table.length("length"));
    let (width, height) = (table.length("width"), table.length("height"));
    let slope = radians(table.si("slope")?);
    let is_elliptical = table.has("width") || table.has("height");
    let has_both = table.has("width") && table.has("height");
    if table.has("diameter") == is_elliptical || is_elliptical != has_both {
        let problem = table.problem_at(
            "diameter",
            "a horizontal cylinder has a diameter, or the width and height of an elliptical section",
        );
        let cure = "give diameter = \"2.0 m\", or width = \"2.4 m\" and height = \"1.6 m\"";
        table.report(problem.cure(cure));
        return None;
    }
    let ends = ends(table, diameter);
    if is_elliptical {
        let (Head::Flat, Head::Flat) = ends? else {
            let problem = table.problem_at("heads", "an elliptical section has flat ends");
            table.report(problem.cure("take `heads` out; or give a diameter, if it is round"));
            return None;
        };
        return Some(Shape::EllipticalCylinder {
            width: width?,
            height: height?,
            length: length?,
            slope,
        });
    }
    let (left, right) = ends?;
    Some(Shape::SlopedCylinder {
        diameter: diameter?,
        length: length?,
        left,
        right,
        slope,
    })
}

fn rectangular(table: &Table<'_>) -> Option<Shape> {
    let (length, width, height) = (
        table.length("length"),
        table.length("width"),
        table.length("height"),
    );
    Some(Shape::Rectangular {
        length: length?,
        width: width?,
        height: height?,
    })
}

fn frusta(table: &Table<'_>) -> Option<Shape> {
    if !table.has("sections") {
        return None;
    }
    let sections = table.tables("sections").into_iter().map(|section| {
        let (height, lower, upper) = (
            section.length("height"),
            section.length("lower"),
            section.length("upper"),
        );
        Some(Frustum {
            height: height?,
            lower: lower?,
            upper: upper?,
        })
    });
    // all of them are read before one that is wrong ends it
    let sections: Vec<Option<Frustum>> = sections.collect();
    Some(Shape::Frusta {
        sections: sections.into_iter().collect::<Option<_>>()?,
    })
}

fn deadwood(table: &Table<'_>) -> Option<Vec<Deadwood>> {
    let bands = table.tables("deadwood").into_iter().map(|band| {
        let (from, to, volume) = (band.length("from"), band.length("to"), band.si("volume"));
        Some(Deadwood {
            from: from?,
            to: to?,
            volume: cubic_metres(volume?),
        })
    });
    let bands: Vec<Option<Deadwood>> = bands.collect();
    bands.into_iter().collect()
}

fn shell(table: &Table<'_>) -> Option<Shell> {
    let shell = table.table("shell")?;
    let (expansion, reference) = (shell.si("expansion"), shell.si("reference"));
    Some(Shell {
        expansion: per_kelvin_of(expansion?),
        reference: kelvin(reference?),
    })
}
