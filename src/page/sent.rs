//! What a form brings: its fields as they came, read one by one. What is wrong with them is told all at once, each at
//! its field, and the form comes back with what was typed.

use crate::quantity::{Dimension, Timestamp};
use crate::wire::entered;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The fields of a form by their names; of two with one name the last counts.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(transparent)]
pub struct Sent(BTreeMap<String, String>);

/// What is wrong, and at which field; none: of the form as a whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    pub field: Option<&'static str>,
    pub text: String,
}

/// A form that comes back.
#[derive(Clone, Debug)]
pub struct Returned {
    pub deed: String,
    pub sent: Sent,
    pub troubles: Vec<Trouble>,
}

impl Trouble {
    /// Of the form as a whole.
    pub fn of_form(text: impl Into<String>) -> Self {
        Self {
            field: None,
            text: text.into(),
        }
    }
}

impl Sent {
    /// Without blanks around it; empty where there is no such field.
    pub fn text(&self, name: &str) -> &str {
        self.0.get(name).map_or("", |text| text.trim())
    }

    /// None where nothing was filled in.
    pub fn filled(&self, name: &str) -> Option<String> {
        Some(self.text(name).to_owned()).filter(|text| !text.is_empty())
    }

    pub fn is_ticked(&self, name: &str) -> bool {
        !self.text(name).is_empty()
    }

    /// A number with the unit chosen beside it, or with one that is typed.
    fn quantity(&self, field: &str) -> Option<String> {
        let typed = self.filled(field)?;
        let unit = self.text(&format!("{field}_unit"));
        let has_unit = typed.contains(|c: char| c.is_alphabetic() || c == '%');
        Some(match has_unit || unit.is_empty() {
            true => typed,
            false => format!("{typed} {unit}"),
        })
    }
}

#[cfg(test)]
impl<const N: usize> From<[(&str, &str); N]> for Sent {
    fn from(fields: [(&str, &str); N]) -> Self {
        let owned = fields.map(|(name, text)| (name.to_owned(), text.to_owned()));
        Self(owned.into())
    }
}

/// Reads the fields of a form, and gathers what is wrong.
#[derive(Debug)]
pub struct Fields<'s> {
    sent: &'s Sent,
    zone: &'s TimeZone,
    troubles: Vec<Trouble>,
}

impl<'s> Fields<'s> {
    pub fn new(sent: &'s Sent, zone: &'s TimeZone) -> Self {
        Self {
            sent,
            zone,
            troubles: Vec::new(),
        }
    }

    pub fn wrong(&mut self, field: &'static str, text: impl Into<String>) {
        self.troubles.push(Trouble {
            field: Some(field),
            text: text.into(),
        });
    }

    /// What was read, or all that is wrong.
    pub fn done<T>(self, read: T) -> Result<T, Vec<Trouble>> {
        if self.troubles.is_empty() {
            Ok(read)
        } else {
            Err(self.troubles)
        }
    }

    /// Of what was typed, if anything was.
    fn read<T>(
        &mut self,
        field: &'static str,
        read: impl FnOnce(&str) -> Result<T, String>,
    ) -> Option<T> {
        match read(&self.sent.quantity(field)?) {
            Ok(read) => Some(read),
            Err(text) => {
                self.wrong(field, text);
                None
            }
        }
    }

    /// In SI units; none where it is left empty.
    pub fn quantity(&mut self, field: &'static str, dimension: Dimension) -> Option<f64> {
        self.read(field, |text| entered::quantity(text, dimension))
    }

    /// In SI units; `else_do` says what to do where it is left empty.
    pub fn needed(&mut self, field: &'static str, dimension: Dimension, else_do: &str) -> f64 {
        if self.sent.text(field).is_empty() {
            self.wrong(field, else_do);
        }
        let read = self.quantity(field, dimension);
        read.unwrap_or(f64::NAN)
    }

    pub fn instead(&mut self, field: &'static str, tag: &str, dimension: Dimension) -> Option<f64> {
        self.read(field, |text| entered::instead(text, tag, dimension))
    }

    pub fn tried(
        &mut self,
        field: &'static str,
        tag: &str,
        dimension: Dimension,
    ) -> Option<entered::Tried> {
        if self.sent.text(field).is_empty() {
            self.wrong(field, "say what is put in, for example \"5.6 m\"");
        }
        self.read(field, |text| entered::tried(text, tag, dimension))
    }

    /// A text that must be there.
    pub fn text(&mut self, field: &'static str, else_do: &str) -> String {
        if self.sent.text(field).is_empty() {
            self.wrong(field, else_do);
        }
        self.sent.text(field).to_owned()
    }

    /// The tick by which somebody says that the caution was read.
    pub fn confirmed(&mut self) {
        if !self.sent.is_ticked("sure") {
            self.wrong("sure", "read it, and tick it if it is so");
        }
    }

    /// A time by the site's clocks, or with its own zone; none where it is left empty.
    pub fn time(&mut self, field: &'static str) -> Option<Timestamp> {
        let text = self.sent.filled(field)?;
        match moment(&text, self.zone) {
            Ok(time) => Some(time),
            Err(trouble) => {
                self.wrong(field, trouble);
                None
            }
        }
    }
}

fn moment(text: &str, zone: &TimeZone) -> Result<Timestamp, String> {
    if let Ok(time) = text.parse::<Timestamp>() {
        return Ok(time);
    }
    let civil: DateTime = text.parse().map_err(|_| {
        format!("\"{text}\" is no time: write 2026-03-04T14:05, or leave it empty for now")
    })?;
    let seen = zone.to_ambiguous_timestamp(civil);
    if seen.is_ambiguous() {
        return Err(format!(
            "the clocks of the site show {text} twice, or not at all: write it with its zone, as 2026-10-25T00:30:00Z, \
             with `standpipe sight` or `dip` and --at"
        ));
    }
    seen.unambiguous().map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_is_wrong_is_told_at_its_field() {
        let sent = Sent::from([("level", "3,41"), ("level_unit", "m"), ("at", "yesterday")]);
        let zone = TimeZone::UTC;
        let mut fields = Fields::new(&sent, &zone);
        let level = fields.needed("level", Dimension::Length, "say what the glass shows");
        let _ = fields.needed("innage", Dimension::Length, "say what the tape shows");
        assert!(level.is_nan() && fields.time("at").is_none());
        fields.confirmed();
        let troubles = fields.done(()).expect_err("four are wrong");
        let at: Vec<_> = troubles
            .iter()
            .filter_map(|trouble| trouble.field)
            .collect();
        assert_eq!(at, ["level", "innage", "at", "sure"]);
    }

    #[test]
    fn a_unit_that_is_typed_counts_before_the_one_beside_it() {
        let sent = Sent::from([
            ("level", "341 cm"),
            ("level_unit", "m"),
            ("by", " 2 "),
            ("by_unit", "m"),
        ]);
        let zone = TimeZone::UTC;
        let mut fields = Fields::new(&sent, &zone);
        assert_eq!(fields.quantity("level", Dimension::Length), Some(3.41));
        assert_eq!(fields.quantity("by", Dimension::Length), Some(2.0));
        assert_eq!(fields.quantity("none", Dimension::Length), None);
        assert!(fields.done(()).is_ok());
    }

    #[test]
    fn times_are_those_of_the_sites_clocks() {
        // Alder Rise's: summer time ended on 2026-10-25 at 01:00 UTC (IANA time zone data, Europe/London).
        let Ok(zone) = TimeZone::get("Europe/London") else {
            panic!("the machine has no time zone data");
        };
        let read = |text| moment(text, &zone).map(|time| time.to_string());
        assert_eq!(
            read("2026-07-01T14:05").as_deref(),
            Ok("2026-07-01T13:05:00Z")
        );
        assert_eq!(
            read("2026-07-01T14:05:00Z").as_deref(),
            Ok("2026-07-01T14:05:00Z")
        );
        assert!(read("2026-10-25T01:30").is_err_and(|text| text.contains("twice")));
        assert!(read("14:05").is_err_and(|text| text.contains("is no time")));
    }
}
