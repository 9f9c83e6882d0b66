//! Control charts: NIST's worked examples, and published run lengths.
//!
//! The program states how long a chart runs where nothing has shifted, by Siegmund's approximation; that is held
//! against the published run lengths within its own error of 3 %. The chart itself, as it is coded, is held against
//! them all by a Markov chain over its states (Brook and Evans, Biometrika 59 (1972) 539), which is exact to the
//! tolerance of each row.
//!
//! Sources: those of the rows, in each table's own `source` column.

use crate::rows::rows;
use standpipe::engine::checks::cusum::{Cusum, run_length, run_length_both};
use standpipe::engine::checks::ewma::{Ewma, limit as ewma_limit};
use standpipe::engine::rounds::chart::{EWMA_RUN, L, LAMBDA};

#[test]
pub fn sums_as_in_the_handbook() {
    let mut sums = Cusum::default();
    let mut first_signal = None;
    for (place, row) in rows("cusum-nist.csv").iter().enumerate() {
        sums.take(row.number("datum") - row.number("target"), row.number("k"));
        row.check_absolute("S_hi", sums.high, row.number("high"), 1e-9);
        row.check_absolute("S_lo", sums.low, row.number("low"), 1e-9);
        let beyond = sums.high > row.number("h") || sums.low > row.number("h");
        first_signal = first_signal.or(beyond.then_some(place + 1));
    }
    assert_eq!(first_signal, Some(14));
}

#[test]
pub fn moving_averages_as_in_the_handbook() {
    let mut average = None;
    for row in rows("ewma-nist.csv") {
        let (target, lambda) = (row.number("target"), row.number("lambda"));
        let next = match (average, row.number_if_given("datum")) {
            (None, None) => 0.0,
            (Some(before), Some(datum)) => Ewma::new(lambda, before).take(datum - target),
            other => panic!("{}: {other:?}", row.place()),
        };
        average = Some(next);
        row.check_absolute("EWMA", target + next, row.number("ewma"), 1e-9);
        row.check_absolute("EWMA", target + next, row.number("printed"), 0.0051);
        // The handbook takes the settled limits from the first datum on.
        let limit = row.number("s") * ewma_limit(lambda, row.number("width"), 1000);
        let tolerance = row.number("limit_tolerance");
        row.check_absolute("UCL", target + limit, row.number("ucl"), tolerance);
        row.check_absolute("LCL", target - limit, row.number("lcl"), tolerance);
    }
}

#[test]
pub fn run_lengths_of_the_sums_as_published() {
    for row in rows("cusum-run-lengths.csv") {
        let (k, h, shift) = (row.number("k"), row.number("h"), row.number("shift"));
        let (stated, chained) = match row.text("sides") {
            "one" => (run_length(k, h), chained_cusum(k, h, shift)),
            "two" => (
                run_length_both(k, h),
                1.0 / (1.0 / chained_cusum(k, h, shift) + 1.0 / chained_cusum(k, h, -shift)),
            ),
            other => panic!("{}: {other}", row.place()),
        };
        row.check_absolute(
            "by chain",
            chained,
            row.number("value"),
            row.number("tolerance"),
        );
        // Exactly those rows where nothing has shifted.
        let tolerance = row.number_if_given("siegmund_tolerance");
        assert_eq!(tolerance.is_some(), shift.abs() < 1e-9, "{}", row.place());
        if let Some(tolerance) = tolerance {
            row.check_relative("as stated", stated, row.number("value"), tolerance);
        }
    }
}

#[test]
pub fn run_lengths_of_the_moving_average_as_published() {
    for row in rows("ewma-run-lengths.csv") {
        let (lambda, width) = (row.number("lambda"), row.number("width"));
        let chained = chained_ewma(lambda, width, row.number("shift"));
        row.check_absolute(
            "by chain",
            chained,
            row.number("value"),
            row.number("tolerance"),
        );
    }
    assert!((chained_ewma(LAMBDA, L, 0.0) - EWMA_RUN).abs() < 3.0);
}

/// States of a chain between the limits.
const STATES: usize = 400;

/// Mean run from 0 of one side of a CUSUM, its values lumped into states.
fn chained_cusum(k: f64, h: f64, shift: f64) -> f64 {
    // The first state is 0 itself and all below, the others are as wide each.
    let width = 2.0 * h / (2.0 * STATES as f64 - 1.0);
    let next = |from: usize, to: usize| {
        let mut sums = Cusum {
            high: from as f64 * width,
            low: 0.0,
        };
        sums.take(k, k);
        let edge = |edge: f64| normal(edge - sums.high + k - shift);
        let upper = edge((to as f64 + 0.5) * width);
        if to == 0 {
            upper
        } else {
            upper - edge((to as f64 - 0.5) * width)
        }
    };
    mean_runs(&next)[0]
}

/// Mean run from the middle of an EWMA with settled limits.
fn chained_ewma(lambda: f64, width: f64, shift: f64) -> f64 {
    let limit = width * (lambda / (2.0 - lambda)).sqrt();
    let step = 2.0 * limit / STATES as f64;
    let middle = |state: usize| -limit + (state as f64 + 0.5) * step;
    let next = |from: usize, to: usize| {
        let edge =
            |edge: f64| normal((edge - Ewma::new(lambda, middle(from)).take(0.0)) / lambda - shift);
        edge(middle(to) + step / 2.0) - edge(middle(to) - step / 2.0)
    };
    let runs = mean_runs(&next);
    (runs[STATES / 2 - 1] + runs[STATES / 2]) / 2.0
}

/// (I − R)·μ = 1, by elimination.
fn mean_runs(next: &dyn Fn(usize, usize) -> f64) -> Vec<f64> {
    let mut rows: Vec<Vec<f64>> = (0..STATES)
        .map(|from| {
            let stays = |to| f64::from(u8::from(from == to)) - next(from, to);
            (0..STATES).map(stays).chain([1.0]).collect()
        })
        .collect();
    // Diagonally dominant: no pivoting is needed.
    for pivot in 0..STATES {
        let row = rows[pivot].clone();
        for other in &mut rows[pivot + 1..] {
            let factor = other[pivot] / row[pivot];
            for (cell, above) in other.iter_mut().zip(&row).skip(pivot) {
                *cell -= factor * above;
            }
        }
    }
    let mut runs = vec![0.0; STATES];
    for pivot in (0..STATES).rev() {
        let known: f64 = (pivot + 1..STATES)
            .map(|column| rows[pivot][column] * runs[column])
            .sum();
        runs[pivot] = (rows[pivot][STATES] - known) / rows[pivot][pivot];
    }
    runs
}

/// The standard normal distribution: ½·erfc(−x/√2), by the power series near 0 and the continued fraction
/// beyond (Abramowitz and Stegun 26.2.10 and 26.2.14).
fn normal(x: f64) -> f64 {
    let density = (-x * x / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    if x.abs() < 3.0 {
        let (mut term, mut sum) = (x, x);
        for n in 1..80 {
            term *= x * x / f64::from(2 * n + 1);
            sum += term;
        }
        return 0.5 + density * sum;
    }
    let fraction = (1..80)
        .rev()
        .fold(x.abs(), |fraction, n| x.abs() + f64::from(n) / fraction);
    let tail = density / fraction;
    if x > 0.0 { 1.0 - tail } else { tail }
}
