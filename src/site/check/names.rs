//! Names: folded alike they would share a topic and a command.

use crate::site::file::Document;
use crate::site::problem::Problem;
use crate::site::settings::fold;
use std::collections::BTreeMap;
use std::ops::Range;

/// Reports names that fold to nothing or to the same as an earlier one.
pub fn distinct<'d>(
    document: &Document,
    what: &str,
    names: impl IntoIterator<Item = (&'d str, Range<usize>)>,
) {
    let mut seen: BTreeMap<String, (&str, Range<usize>)> = BTreeMap::new();
    for (name, place) in names {
        let folded = fold(name);
        if folded.is_empty() {
            let problem = Problem::new(
                place,
                format!("{what} \"{name}\" has no letter and no digit"),
            );
            document.report(
                problem.cure("give it a name that can stand in a topic: letters, digits and -"),
            );
            continue;
        }
        match seen.get(&folded) {
            None => {
                seen.insert(folded, (name, place));
            }
            Some((earlier, first)) => {
                let message = match *earlier == name {
                    true => format!("{what} \"{name}\" stands twice"),
                    false => format!(
                        "{what} \"{name}\" and \"{earlier}\" are the same in topics and commands: {folded}"
                    ),
                };
                let problem = Problem::new(place, message)
                    .label("again")
                    .related(first.clone(), "first here");
                document.report(
                    problem.cure(
                        "rename one of the two; case, blanks and marks do not tell names apart",
                    ),
                );
            }
        }
    }
}
