//! The statistics of checks against worked examples: a regression, an EWMA, a cumulative sum, and how long
//! one runs by chance.

use approx::assert_relative_eq;
use serde_json::Value;
use standpipe::engine::checks::cusum::{Cusum, run_length_both};
use standpipe::engine::checks::ewma::Ewma;
use standpipe::engine::checks::fit::Fit;

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn numbers(value: &Value) -> Vec<f64> {
    let values = value
        .as_array()
        .unwrap_or_else(|| panic!("{value} is no list"));
    values.iter().map(number).collect()
}

/// Each names its source in `statistics.json`.
#[test]
fn each_example_comes_out_as_published() {
    let text = include_str!("data/statistics.json");
    let examples: Value = serde_json::from_str(text).expect("the examples are JSON");
    let examples = examples.as_array().expect("a list of examples");
    assert_eq!(examples.len(), 4);
    for example in examples {
        match example["name"].as_str().expect("a name") {
            "regression" => regression(example),
            "ewma" => ewma(example),
            "cusum" => cusum(example),
            "run lengths" => run_lengths(example),
            name => panic!("nothing meets {name}"),
        }
    }
}

fn regression(example: &Value) {
    let (x, y) = (numbers(&example["x"]), numbers(&example["y"]));
    let points = x.iter().zip(&y).map(|(x, y)| (1.0, *x, *y));
    let fit = Fit::of(points, 0.0).expect("a fit");
    for (found, name) in [
        (fit.gains[0], "b0"),
        (fit.gains[1], "b1"),
        (fit.errors[0], "u_b0"),
        (fit.errors[1], "u_b1"),
        (fit.residual_sd, "resid_sd"),
    ] {
        assert_relative_eq!(
            found,
            number(&example["certified"][name]),
            max_relative = 1e-9
        );
    }
}

/// Printed to two decimals.
fn ewma(example: &Value) {
    let mut ewma = Ewma::new(number(&example["lambda"]), number(&example["target"]));
    let (data, printed) = (numbers(&example["data"]), numbers(&example["printed"]));
    assert_eq!((data.len(), printed.len()), (20, 21));
    assert_relative_eq!(ewma.value, printed[0]);
    for (value, printed) in data.into_iter().zip(&printed[1..]) {
        let found = ewma.take(value);
        assert!(
            (found - printed).abs() < 0.0051,
            "{found} is printed {printed}"
        );
    }
}

fn cusum(example: &Value) {
    let of = |name: &str| number(&example[name]);
    let (target, k, h) = (of("target"), of("k"), of("h"));
    let sums = example["sums"].as_array().expect("sums");
    let data = numbers(&example["data"]);
    assert_eq!((data.len(), sums.len()), (20, 20));
    let (mut cusum, mut signal) = (Cusum::default(), None);
    for (place, (value, expected)) in data.iter().zip(sums).enumerate() {
        cusum.take(value - target, k);
        let expected = numbers(expected);
        assert!(
            (cusum.high - expected[0]).abs() < 1e-9,
            "group {}",
            place + 1
        );
        assert!(
            (cusum.low - expected[1]).abs() < 1e-9,
            "group {}",
            place + 1
        );
        if cusum.largest() > h {
            signal.get_or_insert(place as u64 + 1);
        }
    }
    assert_eq!(signal, example["first_signal"].as_u64());
}

/// Siegmund's formula is within 2 % of the exact values.
fn run_lengths(example: &Value) {
    let k = number(&example["k"]);
    for pair in example["h and values"].as_array().expect("pairs") {
        let pair = numbers(pair);
        assert_relative_eq!(run_length_both(k, pair[0]), pair[1], max_relative = 0.02);
    }
}
