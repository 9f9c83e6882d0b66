//! The split of priorities: where much is urgent nothing is.

use super::finding::{Finding, Notes};
use crate::engine::plan::{Priority, Watch};
use crate::site::Site;
use crate::site::problem::Problem;

const SPLIT: &str = "priority-split";

/// Fewer alarms have no split worth the name (common practice, no source).
const ENOUGH: usize = 30;
/// Usual are about 80 % low, 15 % medium, 5 % high, and `highest` under 1 % (ANSI/ISA-18.2, EEMUA 191, from
/// memory); at more than this share of high and highest the priorities do not sort any more (common practice, no
/// source).
const MOST_URGENT: f64 = 0.20;

pub fn advise(site: &Site, notes: &mut Notes<'_>) {
    let alarms = site.plan.tanks.iter().flat_map(|tank| &tank.alarms);
    let written =
        alarms.filter(|alarm| !matches!(alarm.watch, Watch::Measurement | Watch::Transfer));
    let priorities: Vec<Priority> = written.map(|alarm| alarm.priority).collect();
    let count = |of: Priority| {
        priorities
            .iter()
            .filter(|priority| **priority == of)
            .count()
    };
    let (all, urgent) = (
        priorities.len(),
        count(Priority::High) + count(Priority::Highest),
    );
    if all < ENOUGH || urgent as f64 <= MOST_URGENT * all as f64 {
        return;
    }
    let what = format!("{urgent} of {all} alarms are of priority high or highest");
    let why = format!(
        "about 80 % low, 15 % medium and 5 % high are usual (ANSI/ISA-18.2, EEMUA 191, from memory); here {} low, {} \
         medium, {} high, {} highest",
        count(Priority::Low),
        count(Priority::Medium),
        count(Priority::High),
        count(Priority::Highest)
    );
    let cure =
        "keep high for what does harm within minutes if nobody acts; most alarms can wait a little";
    notes.add(Finding {
        rule: SPLIT,
        tank: None,
        alarm: None,
        problem: Problem::new(notes.places.alarms(), what)
            .why(why)
            .cure(cure),
    });
}
