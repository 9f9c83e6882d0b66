//! What a key of a file is: its table, form, default and one line of documentation.
//!
//! One list of keys serves the reader and its suggestions, and whatever else is to be said of a file's
//! form. A key that is named but whose part is not there yet stands in the list, so that it is refused
//! by name and never ignored.

use crate::quantity::Dimension;

/// A key and everything that is said about it.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// The form of table that it belongs to: "tank.vessel".
    pub table: &'static str,
    pub name: &'static str,
    pub form: Form,
    pub need: Need,
    /// Kinds of the table that it belongs to; empty: all.
    pub kinds: &'static [&'static str],
    /// Its value decides the kind of the table.
    pub decides: bool,
    pub least: Least,
    /// False: named, but not supported yet.
    pub is_here: bool,
    /// A value as it is written after the equals sign.
    pub example: &'static str,
    pub about: &'static str,
}

/// What a value looks like.
#[derive(Clone, Copy, Debug)]
pub enum Form {
    Text,
    Texts,
    Number,
    Numbers,
    Whole,
    Boolean,
    Date,
    Quantity(Dimension),
    Quantities(Dimension),
    /// The dimension is settled by another key.
    Watched,
    /// A quantity, a tag, a list of tags, or "ambient".
    Source(Dimension),
    Choice(&'static [Choice]),
    Table(&'static str),
    Tables(&'static str),
    /// One table, or several of its form.
    TableOrTables(&'static str),
    /// A text of some form, or a table of the named form.
    TextOrTable(&'static str),
    /// Rows of two quantities.
    Rows(Dimension, Dimension),
    /// Rows of three quantities.
    RowsOfThree([Dimension; 3]),
}

/// One of the words that a key can be.
#[derive(Clone, Copy, Debug)]
pub struct Choice {
    pub word: &'static str,
    pub is_here: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    Required,
    Optional,
    /// Taken where the key is left out; written as the text of its value.
    Default(&'static str),
}

/// The least that a number may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Least {
    Any,
    Zero,
    AboveZero,
}

/// A key that may be left out.
pub const fn key(
    table: &'static str,
    name: &'static str,
    form: Form,
    example: &'static str,
    about: &'static str,
) -> Key {
    Key {
        table,
        name,
        form,
        need: Need::Optional,
        kinds: &[],
        decides: false,
        least: Least::Any,
        is_here: true,
        example,
        about,
    }
}

/// A key whose part is not there yet.
pub const fn not_yet(table: &'static str, name: &'static str) -> Key {
    Key {
        is_here: false,
        ..key(table, name, Form::Text, "", "")
    }
}

pub const fn here(word: &'static str) -> Choice {
    Choice {
        word,
        is_here: true,
    }
}

pub const fn later(word: &'static str) -> Choice {
    Choice {
        word,
        is_here: false,
    }
}

impl Key {
    pub const fn required(self) -> Self {
        Self {
            need: Need::Required,
            ..self
        }
    }
    pub const fn default(self, text: &'static str) -> Self {
        Self {
            need: Need::Default(text),
            ..self
        }
    }
    pub const fn of(self, kinds: &'static [&'static str]) -> Self {
        Self { kinds, ..self }
    }
    pub const fn decides(self) -> Self {
        Self {
            decides: true,
            ..self
        }
    }
    pub const fn above_zero(self) -> Self {
        Self {
            least: Least::AboveZero,
            ..self
        }
    }
    pub const fn not_negative(self) -> Self {
        Self {
            least: Least::Zero,
            ..self
        }
    }

    /// Whether it belongs to that kind of its table; to any, where the kind is not known.
    pub fn belongs_to(&self, kind: Option<&str>) -> bool {
        self.kinds.is_empty() || kind.is_none_or(|kind| self.kinds.contains(&kind))
    }

    /// "diameter = "4.2 m"", to show how it is written.
    pub fn written(&self) -> String {
        format!("{} = {}", self.name, self.example)
    }
}

/// The word nearest to one that is not known, if any is near enough to be meant.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    known
        .into_iter()
        .map(|other| (strsim::jaro_winkler(&word, &other.to_lowercase()), other))
        .filter(|(likeness, _)| *likeness >= LEAST_LIKENESS)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, other)| other)
}

/// Jaro–Winkler likeness below which a suggestion confuses more than it helps (by trial).
const LEAST_LIKENESS: f64 = 0.8;
