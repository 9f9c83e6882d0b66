//! Why a text is no quantity, and what to write instead.

use crate::quantity::unit::{Dimension, Unit, find, units};
use std::fmt;

/// What is wrong with a text that should be a quantity, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuantityError {
    fault: String,
    cure: String,
}

impl QuantityError {
    fn new(fault: String, cure: String) -> Self {
        Self { fault, cure }
    }

    /// What to do, with an example.
    pub fn cure(&self) -> &str {
        &self.cure
    }
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.fault)
    }
}

impl std::error::Error for QuantityError {}

pub(super) fn no_number(text: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!(
            "{} does not begin with a number; {} is due here",
            quoted(text),
            dimension.with_article()
        ),
        format!(
            "write a number and its unit, e.g. {:?}",
            dimension.example()
        ),
    )
}

pub(super) fn clock_time(text: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!("{} is no length of time", quoted(text)),
        format!(
            "write a number and its unit, e.g. {:?}; understood: {}",
            dimension.example(),
            dimension.understood()
        ),
    )
}

pub(super) fn odd_number(text: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!(
            "{} does not begin with a plain decimal number",
            quoted(text)
        ),
        format!(
            "write the decimals after one point, and no mark between thousands, e.g. {:?}",
            dimension.example()
        ),
    )
}

pub(super) fn no_unit(number: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!(
            "{} has no unit; {} is due here",
            quoted(number),
            dimension.with_article()
        ),
        format!(
            "write the unit with it, e.g. \"{} {}\" if that is what it is in; understood: {}",
            shortened(number),
            dimension.usual_unit(),
            dimension.understood()
        ),
    )
}

pub(super) fn number_before_unit(text: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!(
            "{} begins with a number; a unit alone is due here",
            quoted(text)
        ),
        format!("write the unit alone, e.g. {:?}", dimension.usual_unit()),
    )
}

pub(super) fn no_such_value(text: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!("there is no {} of {}", noun(dimension), quoted(text)),
        format!(
            "check the number and its unit; {:?} would do",
            dimension.example()
        ),
    )
}

pub(super) fn no_reference(text: &str, symbol: &str, dimension: Dimension) -> QuantityError {
    QuantityError::new(
        format!(
            "{} says gauge or absolute, but {} is no pressure",
            quoted(text),
            dimension.with_article()
        ),
        format!("write {symbol:?} without the suffix"),
    )
}

/// The unit is not one of that dimension.
pub(super) fn unit(text: &str, symbol: &str, dimension: Dimension, example: &str) -> QuantityError {
    if let Some(meant) = incomplete(symbol) {
        if meant == dimension {
            return readings(symbol, dimension);
        }
        return other_dimension(text, meant, dimension, example);
    }
    let known = Dimension::ALL
        .into_iter()
        .find(|&other| find(symbol, other).is_some());
    match known {
        Some(meant) => other_dimension(text, meant, dimension, example),
        None => unknown(text, symbol, dimension, example),
    }
}

fn other_dimension(
    text: &str,
    meant: Dimension,
    dimension: Dimension,
    example: &str,
) -> QuantityError {
    QuantityError::new(
        format!(
            "{} is {}; {} is due here",
            shortened(text),
            meant.with_article(),
            dimension.with_article()
        ),
        format!("e.g. {example:?}; understood: {}", dimension.understood()),
    )
}

fn unknown(text: &str, symbol: &str, dimension: Dimension, example: &str) -> QuantityError {
    let suggestion = match nearest(symbol, dimension) {
        Some(unit) => format!(
            "did you mean {:?}? Upper and lower case matter",
            unit.symbol
        ),
        None => format!("e.g. {example:?}"),
    };
    QuantityError::new(
        format!(
            "{} is no unit of {}",
            quoted(text),
            dimension.with_article()
        ),
        format!("{suggestion}; understood: {}", dimension.understood()),
    )
}

/// The dimension of a symbol that means nothing without a reference temperature.
fn incomplete(symbol: &str) -> Option<Dimension> {
    match symbol {
        "inH2O" | "ftH2O" => Some(Dimension::Pressure),
        "SG" => Some(Dimension::Density),
        _ => None,
    }
}

/// Refuse a symbol without reference temperature, with what it could mean and how far apart that is.
fn readings(symbol: &str, dimension: Dimension) -> QuantityError {
    let possible: Vec<&Unit> = units(dimension)
        .filter(|unit| {
            unit.symbol
                .split_once('@')
                .is_some_and(|(head, _)| head == symbol)
        })
        .collect();
    let lowest = possible
        .iter()
        .map(|unit| unit.factor)
        .fold(f64::INFINITY, f64::min);
    let highest = possible.iter().map(|unit| unit.factor).fold(0.0, f64::max);
    let apart = (highest - lowest) / lowest;
    let si_unit = match dimension {
        Dimension::Density => "kg/m3",
        _ => "Pa",
    };
    let forms: Vec<String> = possible
        .iter()
        .map(|unit| format!("{} ({:.3} {si_unit})", unit.symbol, unit.factor))
        .collect();
    QuantityError::new(
        format!("{symbol} does not say at which temperature its water is"),
        format!(
            "write {}; they are up to {:.2} % apart, {:.0} mm in 10 m of water",
            forms.join(" or "),
            100.0 * apart,
            10_000.0 * apart
        ),
    )
}

/// The unit that was probably meant: other case or spelling, else at most a third of its letters off.
fn nearest(symbol: &str, dimension: Dimension) -> Option<&'static Unit> {
    let folded = folded(symbol);
    if folded.len() > 40 {
        return None;
    }
    let spellings = [folded.as_str(), usual_spelling(&folded)];
    units(dimension)
        .map(|unit| {
            let other = unit.symbol.to_lowercase();
            let [as_written, as_meant] =
                spellings.map(|spelling| strsim::damerau_levenshtein(spelling, &other));
            (as_written.min(as_meant), other.len() / 3, unit)
        })
        .filter(|(distance, allowed, _)| distance <= allowed)
        .min_by_key(|(distance, _, _)| *distance)
        .map(|(_, _, unit)| unit)
}

/// Lower case, without spaces and powers' marks, degree signs written out.
fn folded(symbol: &str) -> String {
    symbol
        .replace('°', "deg")
        .replace('³', "3")
        .replace('²', "2")
        .replace(['^', ' ', '*'], "")
        .to_lowercase()
}

/// Other ways to write a unit that no count of letters would find.
fn usual_spelling(folded: &str) -> &str {
    match folded {
        "c" | "celsius" => "degc",
        "f" | "fahrenheit" => "degf",
        "metre" | "meter" | "metres" | "meters" => "m",
        "feet" | "foot" | "'" => "ft",
        "inch" | "inches" | "\"" => "in",
        "litre" | "liter" | "litres" | "liters" => "l",
        "sec" | "second" | "seconds" => "s",
        "hr" | "hrs" | "hour" | "hours" => "h",
        "day" | "days" => "d",
        "year" | "years" | "a" | "yr" => "y",
        "cmh" => "m3/h",
        "lpm" => "l/min",
        "percent" => "%",
        "1/k" => "/k",
        "api" => "degapi",
        "g/ml" | "kg/l" => "g/cm3",
        other => other,
    }
}

fn noun(dimension: Dimension) -> &'static str {
    let with_article = dimension.with_article();
    with_article
        .split_once(' ')
        .map_or(with_article, |(_article, noun)| noun)
}

/// What was written, between quotation marks, control characters shown, long text cut.
fn quoted(text: &str) -> String {
    format!("{:?}", shortened(text))
}

fn shortened(text: &str) -> String {
    const LONGEST: usize = 40;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
