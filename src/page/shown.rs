//! How numbers and times are shown to people: in the site's units, or in those that a reader asks for, and by the
//! site's clocks. What is not known is a dash, never a number.

use crate::engine::snapshot::TankView;
use crate::quantity::{Dimension, Length, Timestamp, Unit, find};
use crate::site::settings::ShowUnits;
use jiff::ZonedDateTime;
use jiff::tz::TimeZone;
use std::time::Duration;

/// What stands where nothing is known.
pub const UNKNOWN: &str = "–";

#[derive(Clone, Debug)]
pub struct Shown {
    pub units: ShowUnits,
    pub zone: TimeZone,
}

impl Shown {
    /// The number alone, to about a millimetre.
    pub fn level_number(&self, level: Length) -> String {
        number(level.value, self.units.level, 1e-3)
    }
    pub fn level(&self, level: Length) -> String {
        self.in_unit(Some(level.value), self.units.level, 1e-3)
    }
    /// How far a level may be off; none where that is nothing that could be read.
    pub fn level_by(&self, by: Option<Length>) -> Option<String> {
        let number = self.level_number(by?);
        number
            .contains(|c: char| ('1'..='9').contains(&c))
            .then_some(number)
    }
    pub fn volume(&self, si: Option<f64>) -> String {
        self.in_unit(si, self.units.volume, 1e-2)
    }
    pub fn pressure(&self, si: Option<f64>) -> String {
        self.in_unit(si, self.units.pressure, 10.0)
    }
    pub fn temperature(&self, si: Option<f64>) -> String {
        self.in_unit(si, self.units.temperature, 0.1)
    }
    pub fn flow(&self, si: Option<f64>) -> String {
        self.in_unit(si, self.units.flow, 3e-5)
    }
    pub fn mass(&self, si: Option<f64>) -> String {
        self.in_unit(si, self.units.mass, 10.0)
    }
    pub fn density(&self, si: Option<f64>) -> String {
        match find("kg/m3", Dimension::Density) {
            Some(unit) => self.in_unit(si, unit, 0.1),
            None => UNKNOWN.to_owned(),
        }
    }

    /// With its direction in a sign and in words: "▲ 12 mm/min".
    pub fn rate(&self, si: Option<f64>) -> String {
        let name = match self.units.level.symbol {
            "in" | "ft" => "in/min",
            _ => "mm/min",
        };
        let (Some(si), Some(unit)) = (known(si), find(name, Dimension::LevelRate)) else {
            return UNKNOWN.to_owned();
        };
        let number = number(si.abs(), unit, 1e-3 / 60.0);
        if number.parse::<f64>().is_ok_and(|number| number > 0.0) {
            let way = if si > 0.0 { "▲ rises" } else { "▼ falls" };
            format!("{way} {number} {}", unit.symbol)
        } else {
            "■ steady".to_owned()
        }
    }

    pub fn in_unit(&self, si: Option<f64>, unit: &Unit, resolution: f64) -> String {
        match known(si) {
            Some(si) => format!("{} {}", number(si, unit, resolution), symbol(unit)),
            None => UNKNOWN.to_owned(),
        }
    }

    /// The time of day, with the date where it is not the same day.
    pub fn time(&self, time: Timestamp, now: Timestamp) -> String {
        let (time, now) = (self.local(time), self.local(now));
        let form = if time.date() == now.date() {
            "%H:%M:%S"
        } else {
            "%Y-%m-%d %H:%M"
        };
        time.strftime(form).to_string()
    }

    /// Date and time to the second, with the zone's short name.
    pub fn moment(&self, time: Timestamp) -> String {
        self.local(time)
            .strftime("%Y-%m-%d %H:%M:%S %Z")
            .to_string()
    }

    /// The day, with its zone.
    pub fn day(&self, time: Timestamp) -> String {
        self.local(time).strftime("%a %Y-%m-%d %Z").to_string()
    }

    pub fn local(&self, time: Timestamp) -> ZonedDateTime {
        time.to_zoned_datetime(self.zone.clone())
    }

    /// Of a limit or value that is in its unit already.
    pub fn given(&self, value: Option<f64>, unit: Option<&Unit>) -> String {
        let (Some(value), Some(unit)) = (known(value), unit) else {
            return UNKNOWN.to_owned();
        };
        let text = format!("{value:.3}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let text = if text == "-0" { "0" } else { text };
        format!("{text} {}", symbol(unit))
    }

    /// The level, or what is known of it from one side.
    pub fn level_of(&self, tank: &TankView) -> String {
        let reading = &tank.reading;
        match (reading.level, reading.level_at_least, reading.level_at_most) {
            (Some(level), ..) => self.level_number(level),
            (None, Some(least), Some(most)) => {
                let (least, most) = (self.level_number(least), self.level_number(most));
                format!("{least} to {most}")
            }
            (None, Some(least), None) => format!("≥ {}", self.level_number(least)),
            (None, None, Some(most)) => format!("≤ {}", self.level_number(most)),
            (None, None, None) => "not known".to_owned(),
        }
    }
}

pub fn percent(share: Option<f64>) -> String {
    known(share).map_or(UNKNOWN.to_owned(), |share| {
        format!("{:.1} %", 100.0 * share).replace('-', "−")
    })
}

fn known(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite())
}

/// In a unit, with as many decimals as the resolution (SI) has there.
fn number(si: f64, unit: &Unit, resolution: f64) -> String {
    let decimals = (unit.factor / resolution).log10() - 1e-9;
    let decimals = decimals.ceil().clamp(0.0, 6.0) as usize;
    let text = format!("{:.decimals$}", unit.from_si(si));
    match text.strip_prefix('-') {
        Some(rest) if !rest.contains(|c: char| c != '.' && c != '0') => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// As it is printed: m³, °C.
pub fn symbol(unit: &Unit) -> String {
    let symbol = unit.symbol.replace("m3", "m³").replace("ft3", "ft³");
    symbol.replace("degC", "°C").replace("degF", "°F")
}

/// A length of time to two figures that matter: "45 s", "12 min", "3 h 20 min", "2 d 4 h".
pub fn about(time: Duration) -> String {
    let seconds = time.as_secs();
    match seconds {
        0..=99 => format!("{seconds} s"),
        100..=5_999 => format!("{} min", seconds / 60),
        6_000..=172_799 => format!("{} h {} min", seconds / 3600, seconds / 60 % 60),
        _ => format!("{} d {} h", seconds / 86_400, seconds / 3600 % 24),
    }
}

/// How long ago; a moment ahead of now counts as now.
pub fn since(time: Timestamp, now: Timestamp) -> Duration {
    Duration::try_from(now.duration_since(time)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::metres;

    fn shown() -> Shown {
        let unit = |symbol, dimension| find(symbol, dimension).expect("a unit");
        Shown {
            units: ShowUnits {
                level: unit("m", Dimension::Length),
                volume: unit("m3", Dimension::Volume),
                pressure: unit("kPa", Dimension::Pressure),
                temperature: unit("degC", Dimension::Temperature),
                flow: unit("m3/h", Dimension::Flow),
                mass: unit("t", Dimension::Mass),
            },
            zone: TimeZone::UTC,
        }
    }

    #[test]
    fn what_is_not_known_is_no_number() {
        let shown = shown();
        assert_eq!(shown.volume(None), "–");
        assert_eq!(shown.volume(Some(f64::NAN)), "–");
        assert_eq!(percent(None), "–");
        assert_eq!(shown.rate(None), "–");
    }

    #[test]
    fn numbers_have_the_decimals_of_their_unit() {
        let shown = shown();
        assert_eq!(shown.level(metres(3.4123)), "3.412 m");
        assert_eq!(shown.level(metres(-0.0001)), "0.000 m");
        assert_eq!(shown.level(metres(-0.126)), "−0.126 m");
        assert_eq!(shown.volume(Some(43.456)), "43.46 m³");
        assert_eq!(shown.pressure(Some(-27_687.0)), "−27.69 kPa");
        assert_eq!(shown.temperature(Some(285.15)), "12.0 °C");
        assert_eq!(shown.mass(Some(43_430.0)), "43.43 t");
        assert_eq!(shown.rate(Some(0.0002)), "▲ rises 12 mm/min");
        assert_eq!(shown.rate(Some(-0.000_000_1)), "■ steady");
        assert_eq!(shown.given(Some(4.7), Some(shown.units.level)), "4.7 m");
    }

    #[test]
    fn times_keep_the_figures_that_matter() {
        let about = |seconds| about(Duration::from_secs(seconds));
        assert_eq!(about(99), "99 s");
        assert_eq!(about(3 * 60), "3 min");
        assert_eq!(about(2 * 3600 + 60), "2 h 1 min");
        assert_eq!(about(4 * 86_400 + 3600), "4 d 1 h");
    }
}
