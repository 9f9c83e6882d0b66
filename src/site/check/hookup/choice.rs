//! `[tank.choose]`: which of several hookups makes the level, and what is done when they differ.

use super::Hooked;
use crate::engine::plan::{Choice, Choose, Disagree, Gives};
use crate::site::check::names::distinct;
use crate::site::file::Table;
use crate::site::key::nearest;

pub fn choice(tank: &Table<'_>, hooked: &[Hooked<'_>]) -> Option<Choice> {
    let names = hooked
        .iter()
        .filter_map(|hooked| Some((hooked.table.text("name")?, hooked.table.place_of("name"))));
    distinct(tank.document(), "hookup", names);
    let levels = hooked
        .iter()
        .filter(|hooked| hooked.plan.gives == Gives::Level)
        .count();
    let Some(table) = tank.table("choose") else {
        if levels > 1 && !tank.has("choose") {
            let second = &hooked[hooked.len() - 1].table;
            let problem = second.problem_at(
                "name",
                "several hookups give the level, and nothing says which one counts",
            );
            second.report(problem.cure(
                "add [tank.choose] with level = the name of one of them, \"higher\", \"lower\", \"middle\" or \"mean\"",
            ));
            return None;
        }
        let only = hooked
            .iter()
            .position(|hooked| hooked.plan.gives == Gives::Level);
        return Some(Choice {
            level: Choose::One(only.unwrap_or(0)),
            ..Choice::ONLY
        });
    };
    if levels < 2 {
        let problem = table.problem_at(
            "level",
            "there is nothing to choose: one hookup gives the level",
        );
        table.report(problem.cure("take [tank.choose] out, or add another [[tank.hookup]]"));
    }
    let level = match table.text("level")? {
        "higher" => Some(Choose::Higher),
        "lower" => Some(Choose::Lower),
        "middle" => Some(Choose::Middle),
        "mean" => Some(Choose::Mean),
        _ => named(&table, "level", hooked).map(Choose::One),
    };
    let instead = match table.has("instead") {
        true => Some(named(&table, "instead", hooked)?),
        false => None,
    };
    if let (Some(Choose::One(first)), Some(second)) = (level, instead)
        && first == second
    {
        let problem = table.problem_at("instead", "this is the chosen hookup itself");
        table.report(problem.cure("name the one that is taken when the chosen one is bad"));
    }
    let disagree = table.table("disagree").map(|disagree| {
        let (by, lasting) = (disagree.length("by"), disagree.duration("for"));
        Some(Disagree {
            by: by?,
            lasting: lasting?,
        })
    });
    Some(Choice {
        level: level?,
        instead,
        disagree: match disagree {
            Some(disagree) => Some(disagree?),
            None => None,
        },
    })
}

fn named(table: &Table<'_>, key: &'static str, hooked: &[Hooked<'_>]) -> Option<usize> {
    let name = table.text(key)?;
    let known = || hooked.iter().map(|hooked| &*hooked.plan.name);
    let Some(place) = known().position(|known| known == name) else {
        let problem = table.problem_at(key, format!("the tank has no hookup \"{name}\""));
        table.report(problem.cure(match nearest(name, known()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("it has: {}", known().collect::<Vec<_>>().join(", ")),
        }));
        return None;
    };
    if hooked[place].plan.gives == Gives::Interface {
        let problem = table.problem_at(
            key,
            format!("the hookup \"{name}\" gives the interface, not the level"),
        );
        table.report(problem.cure("name one that gives the level"));
        return None;
    }
    Some(place)
}
