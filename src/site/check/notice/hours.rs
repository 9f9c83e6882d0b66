//! `hours` and `daily_test`: times of the day by the site's clocks.

use super::unknown;
use crate::engine::notice::Hours;
use crate::site::file::Table;
use jiff::civil::Time;

const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// None inside: at all times.
pub fn read(table: &Table<'_>) -> Option<Option<Hours>> {
    if !table.has("hours") {
        return Some(None);
    }
    let hours = table.table("hours")?;
    let (from, to, days) = (time(&hours, "from"), time(&hours, "to"), days(&hours));
    Some(Some(Hours {
        from: from??,
        to: to??,
        days: days?,
    }))
}

/// None inside: the key is left out.
pub fn time(table: &Table<'_>, name: &'static str) -> Option<Option<Time>> {
    if !table.has(name) {
        return Some(None);
    }
    let text = table.text(name)?;
    let is_short = text.len() == 5 && text.as_bytes()[2] == b':';
    let time = text.parse::<Time>().ok().filter(|_| is_short);
    if time.is_none() {
        let problem = table.problem_at(name, format!("\"{text}\" is no time of the day"));
        let cure = format!("hours and minutes: {}", table.example(name));
        table.report(problem.cure(cure));
    }
    time.map(Some)
}

fn days(table: &Table<'_>) -> Option<[bool; 7]> {
    if !table.has("days") {
        return Some([true; 7]);
    }
    let (mut days, mut is_right) = ([false; 7], true);
    for (word, place) in table.texts("days") {
        match DAYS.iter().position(|day| *day == word) {
            Some(day) => days[day] = true,
            None => {
                unknown(table, "day", word, place, DAYS);
                is_right = false;
            }
        }
    }
    if is_right && days == [false; 7] {
        let problem = table.problem_at("days", "`days` names none");
        table.report(problem.cure(format!("for example {}", table.example("days"))));
        return None;
    }
    is_right.then_some(days)
}
