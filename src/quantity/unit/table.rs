//! The rows of the unit table, one group a dimension.
//!
//! Where a factor is exact it is written as its definition, so that it is as exact as an `f64` can be.

use super::{Dimension, Scale, Unit};
use crate::quantity::si::ZERO_CELSIUS_K;

const SI: &str = "SI Brochure, 9th edition (2019)";
const SI_TABLE_8: &str = "SI Brochure, 9th edition (2019), Table 8 (non-SI units accepted)";
const SP_811: &str = "NIST SP 811 (2008), Appendix B.8; exact";
const SP_811_PROPERTY: &str =
    "NIST SP 811 (2008), Appendix B.8, as printed (a measured property of water)";
const CONVENTIONAL_WATER: &str =
    "conventional: 1000 kg/m3 at standard gravity; NIST SP 811 (2008), Appendix B.8";
const CONVENTIONAL_MERCURY: &str =
    "conventional: 13595.1 kg/m3 at standard gravity; ISO 80000-4, NIST SP 811 (2008), B.8";
const WATER_68_DEGF: &str = "IAPWS-95 density of water at 20 degC and 101325 Pa, 998.207 kg/m3, at standard gravity; \
     NIST SP 811 has no row for 68 degF";
const SP_811_INCH_TIMES_12: &str =
    "12 times the inch of water of 60 degF as NIST SP 811 (2008), Appendix B.8, prints it";

/// Standard gravity, m/s2 (3rd CGPM 1901; NIST SP 811 B.8), exact.
const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;
/// International foot and inch, m (NIST SP 811 B.8), exact.
const FOOT_M: f64 = 0.3048;
const INCH_M: f64 = 0.0254;
/// Avoirdupois pound, kg (NIST SP 811 B.8), exact.
const POUND_KG: f64 = 0.453_592_37;
/// Pound-force, N: pound times standard gravity, exact.
const POUND_FORCE_N: f64 = 4.448_221_615_260_5;
/// Conventional densities of water and mercury, kg/m3 (ISO 80000-4; NIST SP 811 B.8).
const WATER_CONVENTIONAL_KG_M3: f64 = 1000.0;
const MERCURY_CONVENTIONAL_KG_M3: f64 = 13_595.1;
/// Density of water at 4 degC and 101325 Pa, kg/m3 (Tanaka et al., Metrologia 38 (2001) 301).
const WATER_4_DEGC_KG_M3: f64 = 999.974_95;
/// Density of water at 60 degF and 101325 Pa, kg/m3 (API MPMS chapter 11.1, 2004).
const WATER_60_DEGF_KG_M3: f64 = 999.016;

const MINUTE_S: f64 = 60.0;
const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 86_400.0;

const LITRE_M3: f64 = 1e-3;
const CUBIC_FOOT_M3: f64 = FOOT_M * FOOT_M * FOOT_M;
/// 231 cubic inches, exact.
const US_GALLON_M3: f64 = 3.785_411_784e-3;
/// Imperial gallon, exact.
const UK_GALLON_M3: f64 = 4.546_09e-3;
/// 42 US gallons, exact.
const BARREL_M3: f64 = 0.158_987_294_928;

const fn unit(
    dimension: Dimension,
    symbol: &'static str,
    factor: f64,
    source: &'static str,
) -> Unit {
    Unit {
        symbol,
        dimension,
        factor,
        offset: 0.0,
        scale: Scale::Linear,
        source,
    }
}

const fn length(symbol: &'static str, factor: f64, source: &'static str) -> Unit {
    unit(Dimension::Length, symbol, factor, source)
}
const fn pressure(symbol: &'static str, factor: f64, source: &'static str) -> Unit {
    unit(Dimension::Pressure, symbol, factor, source)
}
const fn temperature(symbol: &'static str, factor: f64, offset: f64, source: &'static str) -> Unit {
    Unit {
        offset,
        ..unit(Dimension::Temperature, symbol, factor, source)
    }
}
const fn density(symbol: &'static str, factor: f64, source: &'static str) -> Unit {
    unit(Dimension::Density, symbol, factor, source)
}
const fn volume(symbol: &'static str, factor: f64, source: &'static str) -> Unit {
    unit(Dimension::Volume, symbol, factor, source)
}
const fn time(symbol: &'static str, factor: f64, source: &'static str) -> Unit {
    unit(Dimension::Time, symbol, factor, source)
}
const fn mass(symbol: &'static str, factor: f64, source: &'static str) -> Unit {
    unit(Dimension::Mass, symbol, factor, source)
}

/// A unit per s, min, h and d.
macro_rules! per_time {
    ($dimension:expr, $symbol:literal, $factor:expr, $source:expr) => {
        &[
            unit($dimension, concat!($symbol, "/s"), $factor, $source),
            unit(
                $dimension,
                concat!($symbol, "/min"),
                $factor / MINUTE_S,
                $source,
            ),
            unit(
                $dimension,
                concat!($symbol, "/h"),
                $factor / HOUR_S,
                $source,
            ),
            unit($dimension, concat!($symbol, "/d"), $factor / DAY_S, $source),
        ]
    };
}

pub(super) static TABLES: &[&[Unit]] = &[
    LENGTHS,
    PRESSURES,
    TEMPERATURES,
    DENSITIES,
    VOLUMES,
    per_time!(Dimension::Flow, "L", LITRE_M3, SI_TABLE_8),
    per_time!(Dimension::Flow, "m3", 1.0, SI),
    per_time!(Dimension::Flow, "USgal", US_GALLON_M3, SP_811),
    per_time!(Dimension::Flow, "UKgal", UK_GALLON_M3, SP_811),
    per_time!(Dimension::Flow, "bbl", BARREL_M3, SP_811),
    per_time!(Dimension::Flow, "ft3", CUBIC_FOOT_M3, SP_811),
    TIMES,
    per_time!(Dimension::LevelRate, "mm", 1e-3, SI),
    per_time!(Dimension::LevelRate, "cm", 1e-2, SI),
    per_time!(Dimension::LevelRate, "m", 1.0, SI),
    per_time!(Dimension::LevelRate, "in", INCH_M, SP_811),
    per_time!(Dimension::LevelRate, "ft", FOOT_M, SP_811),
    MASSES,
    OTHERS,
];

const LENGTHS: &[Unit] = &[
    length("mm", 1e-3, SI),
    length("cm", 1e-2, SI),
    length("m", 1.0, SI),
    length("in", INCH_M, SP_811),
    length("ft", FOOT_M, SP_811),
];

/// Pressure of a column of 1 m of conventional water, Pa: p = rho g h.
const METRE_OF_WATER_PA: f64 = WATER_CONVENTIONAL_KG_M3 * STANDARD_GRAVITY_M_S2;
/// Pressure of a column of 1 m of conventional mercury, Pa: p = rho g h.
const METRE_OF_MERCURY_PA: f64 = MERCURY_CONVENTIONAL_KG_M3 * STANDARD_GRAVITY_M_S2;
/// An inch of water of 68 degF, Pa: rho g h, rounded as finely as the other rows are printed.
const INCH_OF_WATER_68_DEGF_PA: f64 = 248.642_3;

const PRESSURES: &[Unit] = &[
    pressure("Pa", 1.0, SI),
    pressure("hPa", 100.0, SI),
    pressure("kPa", 1e3, SI),
    pressure("MPa", 1e6, SI),
    pressure("mbar", 100.0, SP_811),
    pressure("bar", 1e5, SP_811),
    pressure("psi", POUND_FORCE_N / (INCH_M * INCH_M), SP_811),
    pressure("kgf/cm2", STANDARD_GRAVITY_M_S2 * 1e4, SP_811),
    pressure("mmH2O", METRE_OF_WATER_PA * 1e-3, CONVENTIONAL_WATER),
    pressure("inH2O@4degC", 249.082, SP_811_PROPERTY),
    pressure("inH2O@60degF", 248.84, SP_811_PROPERTY),
    pressure("inH2O@68degF", INCH_OF_WATER_68_DEGF_PA, WATER_68_DEGF),
    pressure(
        "inH2O@conventional",
        METRE_OF_WATER_PA * INCH_M,
        CONVENTIONAL_WATER,
    ),
    pressure("ftH2O@4degC", 2988.98, SP_811_PROPERTY),
    pressure("ftH2O@60degF", 248.84 * 12.0, SP_811_INCH_TIMES_12),
    pressure(
        "ftH2O@68degF",
        INCH_OF_WATER_68_DEGF_PA * 12.0,
        WATER_68_DEGF,
    ),
    pressure(
        "ftH2O@conventional",
        METRE_OF_WATER_PA * FOOT_M,
        CONVENTIONAL_WATER,
    ),
    pressure("mmHg", METRE_OF_MERCURY_PA * 1e-3, CONVENTIONAL_MERCURY),
    pressure("inHg", METRE_OF_MERCURY_PA * INCH_M, CONVENTIONAL_MERCURY),
    pressure("torr", 101_325.0 / 760.0, SP_811),
    pressure("atm", 101_325.0, SP_811),
];

const TEMPERATURES: &[Unit] = &[
    temperature("degC", 1.0, ZERO_CELSIUS_K, SI),
    // T/K = (t/degF + 459.67) × 5/9
    temperature("degF", 5.0 / 9.0, 459.67 * 5.0 / 9.0, SP_811),
    temperature("K", 1.0, 0.0, SI),
    unit(Dimension::TemperatureDifference, "K", 1.0, SI),
];

const DENSITIES: &[Unit] = &[
    density("kg/m3", 1.0, SI),
    density("g/cm3", 1e3, SI),
    density("lb/ft3", POUND_KG / CUBIC_FOOT_M3, SP_811),
    Unit {
        // rho = 141.5 / (degAPI + 131.5) × rho_water(60 degF)
        offset: 131.5,
        scale: Scale::Reciprocal,
        ..density(
            "degAPI",
            141.5 * WATER_60_DEGF_KG_M3,
            "API gravity, 141.5 / SG(60/60 degF) - 131.5, with water of 999.016 kg/m3 (API MPMS 11.1, 2004)",
        )
    },
    density(
        "SG@4degC",
        WATER_4_DEGC_KG_M3,
        "water of 4 degC, 999.97495 kg/m3 (Tanaka et al., Metrologia 38 (2001) 301)",
    ),
    density(
        "SG@60degF",
        WATER_60_DEGF_KG_M3,
        "water of 60 degF, 999.016 kg/m3 (API MPMS 11.1, 2004)",
    ),
];

const VOLUMES: &[Unit] = &[
    volume("L", LITRE_M3, SI_TABLE_8),
    volume("m3", 1.0, SI),
    volume("USgal", US_GALLON_M3, SP_811),
    volume("UKgal", UK_GALLON_M3, SP_811),
    volume("bbl", BARREL_M3, SP_811),
    volume("ft3", CUBIC_FOOT_M3, SP_811),
];

const TIMES: &[Unit] = &[
    time("ms", 1e-3, SI),
    time("s", 1.0, SI),
    time("min", MINUTE_S, SI_TABLE_8),
    time("h", HOUR_S, SI_TABLE_8),
    time("d", DAY_S, SI_TABLE_8),
    time(
        "y",
        365.25 * DAY_S,
        "Julian year of 365.25 d (IAU Style Manual 1989; from memory)",
    ),
];

const MASSES: &[Unit] = &[
    mass("kg", 1.0, SI),
    mass("g", 1e-3, SI),
    mass("t", 1e3, SI_TABLE_8),
    mass("lb", POUND_KG, SP_811),
];

const OTHERS: &[Unit] = &[
    unit(Dimension::Ratio, "%", 1e-2, SI),
    unit(Dimension::Ratio, "ppm", 1e-6, SI),
    unit(Dimension::Acceleration, "m/s2", 1.0, SI),
    unit(
        Dimension::Angle,
        "deg",
        std::f64::consts::PI / 180.0,
        SI_TABLE_8,
    ),
    unit(Dimension::Angle, "rad", 1.0, SI),
    unit(Dimension::PerTemperature, "/K", 1.0, SI),
    unit(Dimension::MolarMass, "g/mol", 1e-3, SI),
    unit(Dimension::MolarMass, "kg/mol", 1.0, SI),
    unit(Dimension::Salinity, "g/kg", 1e-3, SI),
    unit(Dimension::Current, "mA", 1e-3, SI),
    unit(Dimension::Current, "A", 1.0, SI),
];
