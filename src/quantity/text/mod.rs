//! Text to quantity and back, by the one unit table.
//!
//! A quantity is a number, at most one space, and a unit, in which case matters: `12e-6 /K`, `50 %`.
//! Of a pressure the unit may say what it counts from: `kPa(g)`, `bar(a)`, `barg`, `psia`. What is read
//! is always finite; everything else is refused with a cure.

mod refusal;
#[cfg(test)]
mod tests;

use super::unit::{Dimension, Unit, find};
pub use refusal::QuantityError;

/// What a pressure counts from, where its unit says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reference {
    Gauge,
    Absolute,
}

impl Reference {
    /// As it is written behind a unit: "(g)", "(a)".
    pub fn suffix(self) -> &'static str {
        match self {
            Reference::Gauge => "(g)",
            Reference::Absolute => "(a)",
        }
    }
}

/// A quantity as it was written, and its SI value.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    pub number: f64,
    pub unit: &'static Unit,
    pub reference: Option<Reference>,
    pub si: f64,
}

/// Read a quantity of that dimension: "3.412 m".
pub fn parse(text: &str, dimension: Dimension) -> Result<Written, QuantityError> {
    let (digits, rest) = split_number(text).ok_or_else(|| refusal::no_number(text, dimension))?;
    if rest.starts_with(':') && dimension == Dimension::Time {
        return Err(refusal::clock_time(text, dimension));
    }
    if rest.starts_with([',', '.', '_', '\'']) {
        return Err(refusal::odd_number(text, dimension));
    }
    let number: f64 = digits
        .parse()
        .map_err(|_| refusal::no_number(text, dimension))?;
    let symbol = rest.strip_prefix(' ').unwrap_or(rest);
    if symbol.is_empty() {
        return Err(refusal::no_unit(digits, dimension));
    }
    let (unit, reference) = unit_of(symbol, dimension, dimension.example())?;
    let si = unit.to_si(number);
    if !exists(si, unit) {
        return Err(refusal::no_such_value(text, dimension));
    }
    Ok(Written {
        number,
        unit,
        reference,
        si,
    })
}

/// Read a unit alone: "kPa", "bar(g)", "degC".
pub fn parse_unit(
    text: &str,
    dimension: Dimension,
) -> Result<(&'static Unit, Option<Reference>), QuantityError> {
    if split_number(text).is_some() {
        return Err(refusal::number_before_unit(text, dimension));
    }
    unit_of(text, dimension, dimension.usual_unit())
}

/// A length of time in seconds, from 0 to 100 years: a longer one is a slip of the pen.
pub fn lasting(seconds: f64) -> Result<std::time::Duration, &'static str> {
    const LONGEST_S: f64 = 100.0 * 365.25 * 86_400.0;
    let time = std::time::Duration::try_from_secs_f64(seconds).ok();
    time.filter(|_| seconds <= LONGEST_S)
        .ok_or("a time from 0 to 100 years")
}

/// A length of time in the largest unit that holds it whole: "8 h", "90 min", "1.5 s".
pub fn span(time: std::time::Duration) -> String {
    let seconds = time.as_secs_f64();
    let units = [(86_400.0, "d"), (3600.0, "h"), (60.0, "min")];
    let whole = units
        .into_iter()
        .find(|(unit, _)| seconds >= *unit && (seconds / unit).fract() == 0.0);
    let (unit, symbol) = whole.unwrap_or((1.0, "s"));
    format!("{} {symbol}", seconds / unit)
}

/// An SI value as an ordinary decimal of that unit: "3.412 m". Zero has no sign.
pub fn print(si: f64, unit: &Unit, decimals: usize) -> String {
    let number = format!("{:.decimals$}", unit.from_si(si));
    let is_zero = !number.contains(|c: char| c != '-' && c != '.' && c != '0');
    let number = match number.strip_prefix('-') {
        Some(unsigned) if is_zero => unsigned,
        _ => number.as_str(),
    };
    format!("{number} {}", unit.symbol)
}

/// The number at the head of a text: sign, digits with at most one point, exponent.
fn split_number(text: &str) -> Option<(&str, &str)> {
    let bytes = text.as_bytes();
    let digits_from = |start: usize| {
        let digits = bytes[start..]
            .iter()
            .take_while(|byte| byte.is_ascii_digit());
        start + digits.count()
    };
    let sign_end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let mut end = digits_from(sign_end);
    let mut digit_count = end - sign_end;
    if bytes.get(end) == Some(&b'.') {
        let fraction_end = digits_from(end + 1);
        digit_count += fraction_end - (end + 1);
        end = fraction_end;
    }
    if digit_count == 0 {
        return None;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let signed = matches!(bytes.get(end + 1), Some(b'+' | b'-'));
        let exponent_start = end + 1 + usize::from(signed);
        let exponent_end = digits_from(exponent_start.min(bytes.len()));
        if exponent_end > exponent_start {
            end = exponent_end;
        }
    }
    Some(text.split_at(end))
}

fn unit_of(
    text: &str,
    dimension: Dimension,
    example: &str,
) -> Result<(&'static Unit, Option<Reference>), QuantityError> {
    let (symbol, reference) = split_reference(text);
    match find(symbol, dimension) {
        Some(_) if reference.is_some() && dimension != Dimension::Pressure => {
            Err(refusal::no_reference(text, symbol, dimension))
        }
        Some(unit) => Ok((unit, reference)),
        None => Err(refusal::unit(text, symbol, dimension, example)),
    }
}

fn split_reference(text: &str) -> (&str, Option<Reference>) {
    use Reference::{Absolute, Gauge};
    match text {
        "barg" => ("bar", Some(Gauge)),
        "bara" => ("bar", Some(Absolute)),
        "psig" => ("psi", Some(Gauge)),
        "psia" => ("psi", Some(Absolute)),
        _ => [Gauge, Absolute]
            .into_iter()
            .find_map(|reference| {
                let symbol = text.strip_suffix(reference.suffix())?;
                Some((symbol, Some(reference)))
            })
            .unwrap_or((text, None)),
    }
}

/// 0 K, less what the way from degC or degF may lose in its last digits.
const ABSOLUTE_ZERO_K: f64 = -1e-9;

/// No quantity is beyond an `f64`, no temperature below absolute zero, no degAPI at or below −131.5.
fn exists(si: f64, unit: &Unit) -> bool {
    let lowest = match unit.symbol {
        "degAPI" => f64::MIN_POSITIVE,
        _ if unit.dimension == Dimension::Temperature => ABSOLUTE_ZERO_K,
        _ => f64::MIN,
    };
    si.is_finite() && si >= lowest
}
