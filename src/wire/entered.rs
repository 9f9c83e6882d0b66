//! What people type where a quantity is due, at the command line and in the page's forms, by the same rules. What is
//! wrong with it comes with what to do about it.

use crate::quantity::{Dimension, Written, parse};

/// What an alarm is tried by, in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tried {
    /// What the transmitter would read at that level.
    Level(f64),
    /// What it reads.
    Reads(f64),
}

/// In SI units.
pub fn quantity(text: &str, dimension: Dimension) -> Result<f64, String> {
    written(text, dimension).map(|written| written.si)
}

/// What stands in for a transmitter's own reading, in the SI unit of that.
pub fn instead(text: &str, tag: &str, dimension: Dimension) -> Result<f64, String> {
    let written = written(text, dimension)?;
    match written.reference {
        Some(_) => Err(format!(
            "\"{text}\" stands in for what {tag} itself reads: leave (g) and (a) out"
        )),
        None => Ok(written.si),
    }
}

/// A level, or by what the transmitter reads.
pub fn tried(text: &str, tag: &str, dimension: Dimension) -> Result<Tried, String> {
    if dimension != Dimension::Length
        && let Ok(level) = parse(text, Dimension::Length)
    {
        return Ok(Tried::Level(level.si));
    }
    instead(text, tag, dimension).map(Tried::Reads)
}

fn written(text: &str, dimension: Dimension) -> Result<Written, String> {
    parse(text, dimension).map_err(|error| format!("{error}; {}", error.cure()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_is_a_level_unless_the_transmitter_reads_one() {
        let tried = |text, dimension| tried(text, "PT-1", dimension);
        assert_eq!(tried("5.6 m", Dimension::Pressure), Ok(Tried::Level(5.6)));
        assert_eq!(tried("5.6 m", Dimension::Length), Ok(Tried::Reads(5.6)));
        assert_eq!(
            tried("55 kPa", Dimension::Pressure),
            Ok(Tried::Reads(55_000.0))
        );
    }

    #[test]
    fn what_stands_in_for_a_reading_has_no_reference_of_its_own() {
        let refused = instead("55 kPa(g)", "PT-1", Dimension::Pressure);
        assert!(refused.is_err_and(|text| text.contains("leave (g) and (a) out")));
        let refused = quantity("3,41 m", Dimension::Length);
        assert!(refused.is_err_and(|text| text.contains("3,41 m")));
    }
}
