//! Quantities as findings tell them.

use crate::quantity::{Dimension, Unit, find, print};
use std::time::Duration;

/// A level or a height in metres.
pub fn metres(level_m: f64) -> String {
    print(level_m, unit("m", Dimension::Length), 3)
}

pub fn millimetres(height_m: f64) -> String {
    print(height_m, unit("mm", Dimension::Length), 0)
}

pub fn cubic_metres(volume_m3: f64) -> String {
    print(volume_m3, unit("m3", Dimension::Volume), 2)
}

/// A flow, in the unit that people are shown.
pub fn flow(flow_m3_s: f64, shown: &Unit) -> String {
    print(flow_m3_s, shown, 1)
}

/// A difference of two values of a quantity, rounded up to two figures.
pub fn difference(si: f64, shown: &Unit) -> String {
    let shown = match shown.dimension {
        Dimension::Temperature => unit("K", Dimension::TemperatureDifference),
        _ => shown,
    };
    let number = shown.from_si(si);
    if number <= 0.0 || !number.is_finite() {
        return print(si, shown, 3);
    }
    let figures = 1 - number.log10().floor() as i32;
    let step = 10_f64.powi(-figures);
    // What is a whole number of steps but for rounding stays.
    let up = ((number / step - 1e-9).ceil()) * step;
    let decimals = usize::try_from(figures).unwrap_or(0);
    print(shown.to_si(up), shown, decimals)
}

/// A time to the second below ten minutes, to the minute above.
pub fn time(seconds: f64) -> String {
    let whole = seconds.max(0.0).floor();
    if whole < 120.0 {
        return format!("{whole} s");
    }
    let (minutes, rest) = ((whole / 60.0).floor(), whole % 60.0);
    match rest > 0.0 && minutes < 10.0 {
        true => format!("{minutes} min {rest} s"),
        false => format!("{minutes} min"),
    }
}

pub fn duration(time: Duration) -> String {
    crate::quantity::span(time)
}

fn unit(symbol: &str, dimension: Dimension) -> &'static Unit {
    find(symbol, dimension).expect("the unit stands in the unit table")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_are_rounded_up_to_two_figures() {
        let metre = unit("m", Dimension::Length);
        assert_eq!(difference(0.1841, metre), "0.19 m");
        assert_eq!(difference(0.05, metre), "0.050 m");
        assert_eq!(difference(12.1, metre), "13 m");
        assert_eq!(
            difference(0.31, unit("degC", Dimension::Temperature)),
            "0.31 K"
        );
    }

    #[test]
    fn times_are_as_exact_as_they_need_to_be() {
        assert_eq!(time(59.9), "59 s");
        assert_eq!(time(185.0), "3 min 5 s");
        assert_eq!(time(180.0), "3 min");
        assert_eq!(time(1000.0), "16 min");
        assert_eq!(time(-3.0), "0 s");
    }
}
