//! What a quantity is of, in the words and with the examples that people are told.

use super::units;

/// What kind of quantity a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dimension {
    Length,
    Pressure,
    Temperature,
    TemperatureDifference,
    Density,
    Volume,
    Flow,
    Time,
    Ratio,
    Acceleration,
    Angle,
    PerTemperature,
    Mass,
    LevelRate,
    MolarMass,
    Salinity,
    Current,
}

use Dimension::*;

impl Dimension {
    /// Every dimension. A symbol that two of them share (K) is explained as the first's.
    pub const ALL: [Dimension; 17] = [
        Length,
        Pressure,
        Temperature,
        TemperatureDifference,
        Density,
        Volume,
        Flow,
        Time,
        Ratio,
        Acceleration,
        Angle,
        PerTemperature,
        Mass,
        LevelRate,
        MolarMass,
        Salinity,
        Current,
    ];

    /// "a length", "an angle": as it stands in a sentence.
    pub fn with_article(self) -> &'static str {
        match self {
            Length => "a length",
            Pressure => "a pressure",
            Temperature => "a temperature",
            TemperatureDifference => "a temperature difference",
            Density => "a density",
            Volume => "a volume",
            Flow => "a flow",
            Time => "a time",
            Ratio => "a ratio",
            Acceleration => "an acceleration",
            Angle => "an angle",
            PerTemperature => "a share per kelvin",
            Mass => "a mass",
            LevelRate => "a rate of level",
            MolarMass => "a molar mass",
            Salinity => "a salinity",
            Current => "a current",
        }
    }

    /// An ordinary quantity, as it is written: "12.5 kPa".
    pub fn example(self) -> &'static str {
        match self {
            Length => "3.4 m",
            Pressure => "12.5 kPa",
            Temperature => "12 degC",
            TemperatureDifference => "2 K",
            Density => "998.2 kg/m3",
            Volume => "20 m3",
            Flow => "40 m3/h",
            Time => "10 s",
            Ratio => "0.1 %",
            Acceleration => "9.81 m/s2",
            Angle => "51.2 deg",
            PerTemperature => "12e-6 /K",
            Mass => "2 t",
            LevelRate => "5 mm/min",
            MolarMass => "28 g/mol",
            Salinity => "35 g/kg",
            Current => "4 mA",
        }
    }

    /// The unit of the example.
    pub fn usual_unit(self) -> &'static str {
        let (_number, unit) = self
            .example()
            .split_once(' ')
            .expect("every example is a number, a space and a unit");
        unit
    }

    /// The units that are understood, as one line for people.
    pub fn understood(self) -> String {
        match self {
            Flow => format!("{} per s, min, h or d", symbols(Volume)),
            LevelRate => format!("{} per s, min, h or d", symbols(Length)),
            Pressure => format!("{}; each also with (g) or (a)", symbols(Pressure)),
            _ => symbols(self),
        }
    }
}

fn symbols(dimension: Dimension) -> String {
    let symbols: Vec<&str> = units(dimension).map(|unit| unit.symbol).collect();
    symbols.join(", ")
}
