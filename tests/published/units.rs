//! Units of other dimensions than pressure against what is printed elsewhere.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::rows;
use standpipe::quantity::{Dimension, parse};

#[test]
pub fn quantities_have_the_published_si_values() {
    for row in rows("units.csv") {
        let dimension = match row.text("dimension") {
            "length" => Dimension::Length,
            "volume" => Dimension::Volume,
            "mass" => Dimension::Mass,
            "density" => Dimension::Density,
            "flow" => Dimension::Flow,
            "temperature" => Dimension::Temperature,
            other => panic!("{}: {other}", row.place()),
        };
        let text = format!("{} {}", row.text("value"), row.text("symbol"));
        let written = parse(&text, dimension).expect(&text);
        row.check_relative(
            &text,
            written.si,
            row.number("expected_si"),
            row.number("rel_tolerance"),
        );
    }
}
