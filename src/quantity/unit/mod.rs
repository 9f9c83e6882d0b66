//! The one unit table: what every unit is worth in SI, and where that number comes from.
//!
//! Each symbol stands once for a dimension and case matters. Factors that a standard defines exactly are
//! written as their definition; a factor that is a measured property of water says so in its source.

mod dimension;
mod table;

pub use dimension::Dimension;

/// A unit of one dimension.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    pub symbol: &'static str,
    pub dimension: Dimension,
    /// SI units per unit (of degAPI: see [`Scale::Reciprocal`]).
    pub factor: f64,
    /// Added after the factor: degC and degF (of degAPI: see [`Scale::Reciprocal`]); else 0.
    pub offset: f64,
    pub scale: Scale,
    /// Where the factor is defined or printed.
    pub source: &'static str,
}

/// How a unit's number leads to the SI value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// SI = number × factor + offset
    Linear,
    /// SI = factor / (number + offset): degAPI
    Reciprocal,
}

impl Unit {
    /// The SI value of a number of this unit. Not finite where the unit has no such value (−131.5 degAPI).
    pub fn to_si(&self, value: f64) -> f64 {
        match self.scale {
            Scale::Linear => value * self.factor + self.offset,
            Scale::Reciprocal => self.factor / (value + self.offset),
        }
    }

    /// The number of this unit that an SI value is.
    pub fn from_si(&self, si: f64) -> f64 {
        match self.scale {
            Scale::Linear => (si - self.offset) / self.factor,
            Scale::Reciprocal => self.factor / si - self.offset,
        }
    }
}

/// All units of a dimension, in the order in which they are listed to people.
pub fn units(dimension: Dimension) -> impl Iterator<Item = &'static Unit> {
    table::TABLES
        .iter()
        .flat_map(|rows| rows.iter())
        .filter(move |unit| unit.dimension == dimension)
}

/// The unit of that dimension with exactly that symbol.
pub fn find(symbol: &str, dimension: Dimension) -> Option<&'static Unit> {
    units(dimension).find(|unit| unit.symbol == symbol)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use std::collections::BTreeSet;

    fn si(value: f64, symbol: &str, dimension: Dimension) -> f64 {
        find(symbol, dimension).expect(symbol).to_si(value)
    }

    #[test]
    fn every_symbol_stands_once_in_its_dimension_and_has_a_source() {
        for dimension in Dimension::ALL {
            let mut seen = BTreeSet::new();
            for unit in units(dimension) {
                assert!(seen.insert(unit.symbol), "{} twice", unit.symbol);
                assert!(unit.source.len() > 10, "{} has no source", unit.symbol);
                assert!(unit.factor.is_finite() && unit.factor > 0.0);
                assert_relative_eq!(unit.from_si(unit.to_si(12.5)), 12.5, max_relative = 1e-12);
            }
            assert!(!seen.is_empty(), "{dimension:?} has no unit");
        }
    }

    #[test]
    fn temperatures_meet_at_their_fixed_points() {
        // SI Brochure 9th ed. 2.3.1 and NIST SP 811 (2008) B.8: 32 degF = 0 degC, 212 degF = 100 degC.
        let temperature = Dimension::Temperature;
        assert_relative_eq!(si(0.0, "degC", temperature), 273.15);
        assert_relative_eq!(si(32.0, "degF", temperature), 273.15, max_relative = 1e-15);
        assert_relative_eq!(si(212.0, "degF", temperature), 373.15, max_relative = 1e-15);
    }

    #[test]
    fn ten_degrees_api_is_water_at_60_degf() {
        // By the definition of API gravity: 141.5 / SG(60/60 degF) - 131.5 = 10 for SG = 1.
        let density = Dimension::Density;
        assert_relative_eq!(
            si(10.0, "degAPI", density),
            si(1.0, "SG@60degF", density),
            max_relative = 1e-15
        );
    }

    #[test]
    fn rates_are_their_unit_over_their_time() {
        let flow = Dimension::Flow;
        assert_relative_eq!(si(3600.0, "m3/h", flow), 1.0);
        assert_relative_eq!(si(86_400.0, "L/d", flow), 1e-3);
        assert_relative_eq!(si(60.0, "ft/min", Dimension::LevelRate), 0.3048);
        assert_eq!(units(flow).count(), 24);
        assert_eq!(units(Dimension::LevelRate).count(), 20);
    }
}
