//! What is read and printed, and what is refused with which cure.

use super::*;
use crate::quantity::unit::units;
use approx::assert_relative_eq;
use proptest::prelude::*;

fn si(text: &str, dimension: Dimension) -> f64 {
    parse(text, dimension).expect(text).si
}

fn refused(text: &str, dimension: Dimension) -> (String, String) {
    let error = parse(text, dimension).expect_err(text);
    (error.to_string(), error.cure().to_owned())
}

#[test]
fn numbers_have_sign_point_and_exponent() {
    for (text, expected) in [
        ("3.412 m", 3.412),
        ("3.412m", 3.412),
        ("-0.50 m", -0.5),
        ("+2 m", 2.0),
        (".5 m", 0.5),
        ("5. m", 5.0),
        ("1e3 mm", 1.0),
        ("1.5E+2 cm", 1.5),
        ("-1e-2 m", -0.01),
    ] {
        assert_relative_eq!(si(text, Dimension::Length), expected, max_relative = 1e-15);
    }
    assert_relative_eq!(si("12e-6 /K", Dimension::PerTemperature), 12e-6);
    assert_relative_eq!(si("50 %", Dimension::Ratio), 0.5);
    assert_relative_eq!(si("1 y", Dimension::Time), 31_557_600.0);
}

#[test]
fn a_time_of_the_clock_is_no_length_of_time() {
    let (fault, cure) = refused("00:10:00", Dimension::Time);
    assert!(
        fault.contains("\"00:10:00\" is no length of time"),
        "{fault}"
    );
    assert!(cure.contains("write a number and its unit"), "{cure}");
}

#[test]
fn what_is_no_number_is_refused() {
    for text in [
        "",
        " ",
        "m",
        "NaN m",
        "nan m",
        "inf m",
        "-inf m",
        "infinity m",
        "- m",
        ". m",
        "-.e5 m",
        " 5 m",
        "5  m",
        "5 m ",
        "5\tm",
        "0x10 m",
        "1,5 m",
        "1'000 m",
        "1_000 m",
        "1.2.3 m",
        "1e400 m",
        "1e m",
        "\u{2212}5 m",
        "٣ m",
        "5 M",
        "1.5 M",
    ] {
        let error = parse(text, Dimension::Length).expect_err(text);
        assert!(!error.to_string().is_empty() && !error.cure().is_empty());
    }
}

#[test]
fn a_pressure_may_say_what_it_counts_from() {
    use Reference::{Absolute, Gauge};
    for (text, pascals, reference) in [
        ("2 kPa", 2e3, None),
        ("2 kPa(g)", 2e3, Some(Gauge)),
        ("996.5 hPa(a)", 99_650.0, Some(Absolute)),
        ("1 barg", 1e5, Some(Gauge)),
        ("1 bara", 1e5, Some(Absolute)),
        ("10 psig", 68_947.572_931_683_61, Some(Gauge)),
        ("10 psia", 68_947.572_931_683_61, Some(Absolute)),
        ("1 inH2O@4degC(g)", 249.082, Some(Gauge)),
    ] {
        let written = parse(text, Dimension::Pressure).expect(text);
        assert_relative_eq!(written.si, pascals, max_relative = 1e-14);
        assert_eq!(written.reference, reference, "{text}");
    }
    let (unit, reference) = parse_unit("bar(g)", Dimension::Pressure).expect("bar(g)");
    assert_eq!((unit.symbol, reference), ("bar", Some(Gauge)));
    assert!(parse_unit("1 bar", Dimension::Pressure).is_err());
    assert!(parse("2 m(g)", Dimension::Length).is_err());
    assert!(parse("2 kPa (g)", Dimension::Pressure).is_err());
    assert!(parse("2 barg(a)", Dimension::Pressure).is_err());
}

#[test]
fn a_bare_number_is_told_its_unit() {
    let (fault, cure) = refused("3.4", Dimension::Length);
    assert_eq!(fault, "\"3.4\" has no unit; a length is due here");
    assert_eq!(
        cure,
        "write the unit with it, e.g. \"3.4 m\" if that is what it is in; understood: mm, cm, m, in, ft"
    );
}

#[test]
fn another_dimension_is_named() {
    let (fault, cure) = refused("3 m", Dimension::Pressure);
    assert_eq!(fault, "m is a length; a pressure is due here");
    assert!(
        cure.starts_with("e.g. \"12.5 kPa\"; understood: Pa, hPa"),
        "{cure}"
    );
    let (fault, _) = refused("2 degC", Dimension::TemperatureDifference);
    assert_eq!(
        fault,
        "degC is a temperature; a temperature difference is due here"
    );
    let (fault, _) = refused("1 barg", Dimension::Length);
    assert_eq!(fault, "barg is a pressure; a length is due here");
    let (fault, _) = refused("1 inH2O", Dimension::Length);
    assert_eq!(fault, "inH2O is a pressure; a length is due here");
}

#[test]
fn the_nearest_unit_is_suggested() {
    use Dimension::*;
    for (text, dimension, meant) in [
        ("5 M", Length, "m"),
        ("5  m", Length, "m"),
        ("5 kpa", Pressure, "kPa"),
        ("5 KPa", Pressure, "kPa"),
        ("5 bars", Pressure, "bar"),
        ("5 inH2O@4C", Pressure, "inH2O@4degC"),
        ("5 °C", Temperature, "degC"),
        ("5 C", Temperature, "degC"),
        ("5 m³", Volume, "m3"),
        ("5 l", Volume, "L"),
        ("5 kg/m^3", Density, "kg/m3"),
        ("5 l/h", Flow, "L/h"),
        ("5 hr", Time, "h"),
        ("5 a", Time, "y"),
        ("5 a", Current, "A"),
    ] {
        let (fault, cure) = refused(text, dimension);
        assert!(fault.contains("is no unit of"), "{fault}");
        let start = format!("did you mean \"{meant}\"? Upper and lower case matter; understood: ");
        assert!(cure.starts_with(&start), "{text}: {cure}");
    }
    let (_, cure) = refused("5 furlong", Length);
    assert_eq!(cure, "e.g. \"3.4 m\"; understood: mm, cm, m, in, ft");
}

#[test]
fn water_without_a_temperature_is_refused_with_its_readings() {
    let (fault, cure) = refused("100 inH2O", Dimension::Pressure);
    assert_eq!(
        fault,
        "inH2O does not say at which temperature its water is"
    );
    assert_eq!(
        cure,
        "write inH2O@4degC (249.082 Pa) or inH2O@60degF (248.840 Pa) or inH2O@68degF (248.642 Pa) \
         or inH2O@conventional (249.089 Pa); they are up to 0.18 % apart, 18 mm in 10 m of water"
    );
    assert_eq!(refused("100 inH2O(g)", Dimension::Pressure).1, cure);
    let (_, cure) = refused("8 ftH2O", Dimension::Pressure);
    assert!(cure.contains("ftH2O@68degF (2983.708 Pa)"), "{cure}");
    let (fault, cure) = refused("0.85 SG", Dimension::Density);
    assert_eq!(fault, "SG does not say at which temperature its water is");
    assert_eq!(
        cure,
        "write SG@4degC (999.975 kg/m3) or SG@60degF (999.016 kg/m3); \
         they are up to 0.10 % apart, 10 mm in 10 m of water"
    );
}

#[test]
fn what_cannot_be_is_refused() {
    assert!(parse("-300 degC", Dimension::Temperature).is_err());
    assert!(parse("-1 K", Dimension::Temperature).is_err());
    assert!(parse("-131.5 degAPI", Dimension::Density).is_err());
    assert!(parse("-200 degAPI", Dimension::Density).is_err());
    assert!(parse("1e308 MPa", Dimension::Pressure).is_err());
    assert_relative_eq!(
        si("-459.67 degF", Dimension::Temperature),
        0.0,
        epsilon = 1e-9
    );
    assert_relative_eq!(si("-1 K", Dimension::TemperatureDifference), -1.0);
}

#[test]
fn every_example_is_a_quantity_and_every_unit_reads_itself() {
    for dimension in Dimension::ALL {
        let example = dimension.example();
        let written = parse(example, dimension).expect(example);
        assert_eq!(written.unit.symbol, dimension.usual_unit());
        for unit in units(dimension) {
            let (read, reference) = parse_unit(unit.symbol, dimension).expect(unit.symbol);
            assert_eq!((read, reference), (unit, None));
        }
    }
}

#[test]
fn printing_gives_ordinary_decimals() {
    let length = |symbol| find(symbol, Dimension::Length).expect(symbol);
    assert_eq!(print(3.4123, length("m"), 3), "3.412 m");
    assert_eq!(print(3.4123, length("mm"), 0), "3412 mm");
    assert_eq!(print(-0.0001, length("m"), 2), "0.00 m");
    assert_eq!(print(-0.5, length("m"), 2), "-0.50 m");
    let celsius = find("degC", Dimension::Temperature).expect("degC");
    assert_eq!(print(285.15, celsius, 1), "12.0 degC");
    let per_kelvin = find("/K", Dimension::PerTemperature).expect("/K");
    assert_eq!(print(12e-6, per_kelvin, 6), "0.000012 /K");
}

fn any_unit() -> impl Strategy<Value = &'static Unit> {
    let all: Vec<&'static Unit> = Dimension::ALL.into_iter().flat_map(units).collect();
    proptest::sample::select(all)
}

proptest! {
    #[test]
    fn what_is_printed_is_read_back(unit in any_unit(), number in -1e6..1e6_f64, decimals in 0..12_usize) {
        let si = unit.to_si(number);
        prop_assume!(exists(si, unit));
        let text = print(si, unit, decimals);
        // Rounding may carry a value just above the lowest that exists below it.
        let shown = text.split(' ').next().and_then(|shown| shown.parse().ok()).expect("a number");
        prop_assume!(exists(unit.to_si(shown), unit));
        let read = parse(&text, unit.dimension).expect(&text);
        prop_assert_eq!(read.unit, unit);
        let half_a_step = 0.5 * 10_f64.powi(-i32::try_from(decimals).expect("below 12"));
        // The way to SI and back costs a few last digits of the number and of its offset.
        let rounding = 1e-14 * (number.abs() + unit.from_si(0.0).abs().min(1e3));
        prop_assert!((read.number - number).abs() <= half_a_step + rounding,
            "{} read back as {}", number, read.number);
        if decimals <= 6 {
            prop_assert_eq!(print(read.si, unit, decimals), text);
        }
    }

    #[test]
    fn no_text_whatever_breaks_the_reader(text in any::<String>(), number in "[-+.0-9eE]{0,8}") {
        for dimension in Dimension::ALL {
            for text in [text.clone(), format!("{number}{text}"), format!("{number} {text}")] {
                if let Ok(written) = parse(&text, dimension) {
                    prop_assert!(written.si.is_finite());
                }
                prop_assert!(parse_unit(&text, dimension).is_err() || find(&text, dimension).is_some()
                    || split_reference(&text).1.is_some());
            }
        }
    }

    #[test]
    fn a_number_before_any_symbol_is_read_or_refused(number in "[-+]?[0-9]{0,3}[.]?[0-9]{0,3}([eE][-+]?[0-9]{1,2})?",
        unit in any_unit(), ending in "[a-zA-Z()@/ ]{0,3}") {
        let text = format!("{number} {}{ending}", unit.symbol);
        for dimension in Dimension::ALL {
            if let Err(error) = parse(&text, dimension) {
                prop_assert!(!error.cure().is_empty());
            }
        }
    }
}

#[test]
fn a_time_is_printed_in_the_largest_unit_that_holds_it_whole() {
    let printed = |seconds| span(std::time::Duration::from_secs_f64(seconds));
    assert_eq!(printed(0.0), "0 s");
    assert_eq!(printed(1.5), "1.5 s");
    assert_eq!(printed(90.0), "90 s");
    assert_eq!(printed(5400.0), "90 min");
    assert_eq!(printed(43_200.0), "12 h");
    assert_eq!(printed(259_200.0), "3 d");
}
