//! What a pressure transmitter says that it counts from: `measures`, or a unit's (g) or (a).

use crate::engine::plan::Measures;
use crate::quantity::{AbsolutePressure, Dimension, Reference};
use crate::site::file::Table;

/// What the file says; `measures` and the unit must agree. None where it says nothing.
pub fn stated(table: &Table<'_>, reads: Option<Dimension>) -> Option<Measures> {
    let word = table.choice("measures");
    let sealed_at = sealed_at(table, word);
    let unit = reads.and_then(|reads| table.unit("unit", reads));
    let reference = unit.and_then(|(_, reference)| reference);
    if reads.is_some_and(|reads| reads != Dimension::Pressure) {
        if table.has("measures") {
            let problem = table.problem_at("measures", "`measures` belongs to pressures only");
            table.report(problem.cure("take it out"));
        }
        return None;
    }
    let agrees = match (word, reference) {
        (_, None) | (None, _) => true,
        (Some(word), Some(Reference::Gauge)) => word == "gauge" || word == "sealed-gauge",
        (Some(word), Some(Reference::Absolute)) => word == "absolute",
    };
    if !agrees {
        let problem = table.problem_at("measures", "`measures` and `unit` do not agree");
        let cure = "(g) in a unit is gauge, (a) is absolute, a differential pressure has neither";
        table.report(
            problem
                .related(table.place_of("unit"), "says otherwise")
                .cure(cure),
        );
    }
    match (word, reference) {
        (Some("gauge"), _) | (None, Some(Reference::Gauge)) => Some(Measures::Gauge),
        (Some("absolute"), _) | (None, Some(Reference::Absolute)) => Some(Measures::Absolute),
        (Some("differential"), _) => Some(Measures::Differential),
        (Some(_), _) => sealed_at.map(Measures::SealedGauge),
        (None, None) => None,
    }
}

/// Of a sealed gauge, the pressure that it was sealed at.
fn sealed_at(table: &Table<'_>, measures: Option<&str>) -> Option<AbsolutePressure> {
    let is_known = measures.is_some() || !table.has("measures");
    let problem = match (measures == Some("sealed-gauge"), table.has("sealed_at")) {
        (true, false) => Some(table.problem_at("measures", "a sealed gauge needs `sealed_at`")),
        (false, true) if is_known => {
            let message = "`sealed_at` belongs to measures = \"sealed-gauge\" only";
            Some(table.problem_at("sealed_at", message))
        }
        _ => None,
    };
    if let Some(problem) = problem {
        let cure = "for example measures = \"sealed-gauge\" with sealed_at = \"101.325 kPa(a)\"";
        table.report(problem.cure(cure));
    }
    let sealed = table.quantity("sealed_at")?;
    if sealed.reference != Some(Reference::Absolute) {
        let problem = table.problem_at("sealed_at", "`sealed_at` must say that it is absolute");
        let (number, symbol) = (sealed.number, sealed.unit.symbol);
        table.report(problem.cure(format!(
            "sealed_at = \"{number} {symbol}(a)\", if that is what it is"
        )));
    }
    Some(AbsolutePressure::pascals(sealed.si))
}
