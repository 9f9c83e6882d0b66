//! The limit that an EWMA of a baseline's own values passes once in a wanted time.
//!
//! The baseline is drawn from again and again in pieces of an hour, so that what follows upon what stays
//! as it is (moving-block bootstrap; Künsch, Annals of Statistics 17 (1989), from memory). Of the largest
//! values of stretches of some weeks the level of the wanted interval follows by Gumbel's distribution: location
//! m − 0.5772·β, scale β = s·√6/π by the method of moments (NIST/SEMATECH e-Handbook, 1.3.6.6.16).

use super::ewma::Ewma;
use std::f64::consts::PI;

const EULER: f64 = 0.577_215_7;
/// Values in a piece, in a stretch, and how many stretches.
const PIECE: usize = 12;
const STRETCH: usize = 10_000;
const STRETCHES: usize = 40;

/// `values`: of mean 0 and standard deviation 1; `interval`: how many values apart false alarms may be.
pub fn limit(values: &[f64], lambda: f64, interval: f64) -> f64 {
    if values.len() <= PIECE {
        return f64::INFINITY;
    }
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let mut ewma = Ewma::new(lambda, 0.0);
    let mut sum = [0.0; 2];
    for _ in 0..STRETCHES {
        let mut largest = 0.0_f64;
        for _ in 0..STRETCH / PIECE {
            let from = dice.below(values.len() - PIECE);
            for value in &values[from..from + PIECE] {
                largest = largest.max(ewma.take(*value).abs());
            }
        }
        sum[0] += largest;
        sum[1] += largest * largest;
    }
    let count = STRETCHES as f64;
    let mean = sum[0] / count;
    let variance = (sum[1] / count - mean * mean).max(0.0) * count / (count - 1.0);
    let scale = (variance * 6.0).sqrt() / PI;
    let location = mean - EULER * scale;
    let stretches = interval / STRETCH as f64;
    location - scale * (-(1.0 - 1.0 / stretches.max(2.0)).ln()).ln()
}

/// splitmix64 (Steele, Lea, Flood: Fast Splittable Pseudorandom Number Generators, OOPSLA 2014).
struct Dice(u64);

impl Dice {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) % count as u64) as usize
    }
}
