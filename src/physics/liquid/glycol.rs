//! Ethylene glycol or propylene glycol in water, by mass, from its freezing point to 100 °C.
//!
//! Source: Å. Melinder, Properties of Secondary Working Fluids for Indirect Systems, IIR 2010; coefficients as
//! published in the open fluid library CoolProp (`MelinderFluids.py`, "MEG" and "MPG").

use super::{Conditions, Density, LiquidError, nearest};
use crate::quantity::{MassDensity, ZERO_CELSIUS_K, kilograms_per_cubic_metre};

/// Which glycol.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GlycolKind {
    Ethylene,
    Propylene,
}

impl GlycolKind {
    pub fn name(self) -> &'static str {
        match self {
            GlycolKind::Ethylene => "ethylene-glycol",
            GlycolKind::Propylene => "propylene-glycol",
        }
    }
}

/// A mixture of glycol and water; its share lies within the formula's range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glycol {
    kind: GlycolKind,
    /// Mass of the glycol to that of the mixture.
    share: f64,
    uncertainty: Option<MassDensity>,
}

/// The most glycol that the formula holds for, by mass.
const MOST_SHARE: f64 = 0.6;
/// Upper end of the formula, °C (as stated in the library; the book's measurements end at 40 °C, from memory).
const HOTTEST_C: f64 = 100.0;
/// Share of the density, k = 2: spread of handbook values about the formula (common practice, no source).
const UNCERTAINTY: f64 = 2e-3;

pub(super) const SOURCE: &str =
    "glycol and water by mass, freezing point to 100 °C: Melinder, IIR 2010";

/// A polynomial of share and temperature about the middle of the measurements.
struct Melinder {
    /// Middle of the shares, %, and of the temperatures, °C.
    share_percent: f64,
    temperature_c: f64,
    /// kg/m³; a row for each power of the share, a column for each power of the temperature.
    density: [&'static [f64]; 6],
    /// Freezing point, °C, by powers of the share.
    freezing: [f64; 6],
}

const ETHYLENE: Melinder = Melinder {
    share_percent: 30.8462,
    temperature_c: 31.728,
    density: [
        &[1034.0, -0.4781, -0.002_692, 4.725e-6],
        &[1.311, -0.006_876, 4.805e-5, 1.69e-8],
        &[7.49e-5, 7.855e-5, -3.995e-7, 4.982e-9],
        &[-1.062e-4, 1.229e-6, -1.153e-8],
        &[-9.623e-7, -7.211e-8],
        &[4.891e-8],
    ],
    freezing: [-15.25, -0.808, -0.013_34, -7.293e-5, 1.006e-6, 1.14e-9],
};

const PROPYLENE: Melinder = Melinder {
    share_percent: 30.7031,
    temperature_c: 32.7083,
    density: [
        &[1018.0, -0.5406, -0.002_666, 1.347e-5],
        &[0.7604, -0.009_45, 5.541e-5, -1.343e-7],
        &[-0.002_498, 2.7e-5, -4.018e-7, 3.376e-9],
        &[-1.55e-4, 2.829e-6, -7.175e-9],
        &[-1.131e-6, -2.221e-8],
        &[2.342e-8],
    ],
    freezing: [-13.25, -0.6631, -0.010_94, -2.283e-4, -3.409e-6, 1.465e-8],
};

impl Glycol {
    /// `share`: mass of the glycol to that of the mixture, 0 to 0.6; `uncertainty` is k = 2.
    pub fn new(
        kind: GlycolKind,
        share: f64,
        uncertainty: Option<MassDensity>,
    ) -> Result<Self, LiquidError> {
        if !(0.0..=MOST_SHARE).contains(&share) {
            return Err(LiquidError::Share);
        }
        Ok(Self {
            kind,
            share,
            uncertainty,
        })
    }

    pub fn kind(&self) -> GlycolKind {
        self.kind
    }

    pub(super) fn density(&self, at: Conditions) -> Density {
        let melinder = match self.kind {
            GlycolKind::Ethylene => &ETHYLENE,
            GlycolKind::Propylene => &PROPYLENE,
        };
        let share_percent = self.share * 100.0;
        // Pure water freezes at 0 °C; the polynomial's end lies a little above.
        let freezing_c = melinder.freezing_c(share_percent).min(0.0);
        let valid = freezing_c + ZERO_CELSIUS_K..=HOTTEST_C + ZERO_CELSIUS_K;
        let (t_k, in_range) = nearest(at.temperature.value, &valid);
        let rho_kg_m3 = melinder.density_kg_m3(share_percent, t_k - ZERO_CELSIUS_K);
        Density {
            value: kilograms_per_cubic_metre(rho_kg_m3),
            uncertainty: kilograms_per_cubic_metre(rho_kg_m3 * UNCERTAINTY),
            in_range,
        }
        .stated(self.uncertainty)
    }
}

impl Melinder {
    fn density_kg_m3(&self, share_percent: f64, t_c: f64) -> f64 {
        let (x, y) = (share_percent - self.share_percent, t_c - self.temperature_c);
        // ρ = Σ Cij (x − xm)^i (t − tm)^j
        let of_share = self.density.map(|row| polynomial(row, y));
        polynomial(&of_share, x)
    }

    fn freezing_c(&self, share_percent: f64) -> f64 {
        polynomial(&self.freezing, share_percent - self.share_percent)
    }
}

/// a0 + a1 x + a2 x² + …
fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, a| sum * x + a)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, celsius};
    use approx::assert_abs_diff_eq;

    fn half(kind: GlycolKind, temperature_c: f64) -> Density {
        let mixture = Glycol::new(kind, 0.5, None).expect("within the range");
        mixture.density(Conditions {
            temperature: celsius(temperature_c),
            pressure: AbsolutePressure::pascals(101_325.0),
        })
    }

    #[test]
    fn handbook_densities_of_equal_masses() {
        // Handbook tables give 1065 kg/m³ (ethylene) and 1040 kg/m³ (propylene) at 20 °C, from memory.
        let (ethylene, propylene) = (GlycolKind::Ethylene, GlycolKind::Propylene);
        assert_abs_diff_eq!(half(ethylene, 20.0).value.value, 1065.0, epsilon = 3.0);
        assert_abs_diff_eq!(half(propylene, 20.0).value.value, 1040.0, epsilon = 3.0);
    }

    #[test]
    fn it_freezes_where_antifreeze_tables_say() {
        // 50 % by mass: −34 to −38 °C (ethylene), −32 to −34 °C (propylene), from memory of antifreeze tables.
        for (melinder, low, high) in [(&ETHYLENE, -38.0, -33.0), (&PROPYLENE, -35.0, -31.0)] {
            let freezing_c = melinder.freezing_c(50.0);
            assert!((low..high).contains(&freezing_c), "{freezing_c} °C");
        }
        for kind in [GlycolKind::Ethylene, GlycolKind::Propylene] {
            assert!(half(kind, -30.0).in_range && !half(kind, -40.0).in_range);
            assert!(half(kind, 100.0).in_range && !half(kind, 100.1).in_range);
        }
    }

    #[test]
    fn without_glycol_it_is_water() {
        for kind in [GlycolKind::Ethylene, GlycolKind::Propylene] {
            let water = Glycol::new(kind, 0.0, None).expect("within the range");
            let density = water.density(Conditions {
                temperature: celsius(20.0),
                pressure: AbsolutePressure::pascals(101_325.0),
            });
            assert_abs_diff_eq!(density.value.value, 998.2, epsilon = 2.0);
        }
    }

    #[test]
    fn more_than_was_measured_is_refused() {
        for share in [-0.1, 0.61, 50.0, f64::NAN] {
            let refusal = Glycol::new(GlycolKind::Ethylene, share, None);
            assert_eq!(refusal, Err(LiquidError::Share));
        }
    }
}
