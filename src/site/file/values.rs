//! The values of a table: text, numbers, quantities, choices and lists, each checked where it is read.

use super::Table;
use crate::quantity::{
    Dimension, Length, Reference, Unit, Written, lasting, metres, parse, parse_unit,
};
use crate::site::key::{Choice, Form, Key, Least, Need, nearest};
use crate::site::problem::Problem;
use crate::site::tree::{Content, Value};
use jiff::civil::Date;
use std::ops::Range;
use std::time::Duration;

/// What a source of a changing quantity is written as.
#[derive(Clone, Debug)]
pub enum Given<'d> {
    Quantity(Written),
    Ambient,
    Tags(Vec<(&'d str, Range<usize>)>),
}

impl<'d> Table<'d> {
    /// The text of a key or of its default.
    pub fn text(&self, name: &'static str) -> Option<&'d str> {
        let key = self.key(name);
        match self.entry(name) {
            None => match key.need {
                Need::Default(text) => Some(text),
                _ => None,
            },
            Some(entry) => match &entry.value.content {
                Content::Text(text) if text.trim().is_empty() => {
                    let problem = self.problem_at(name, format!("`{name}` is empty"));
                    self.report(problem.cure(format!(
                        "write something in it, for example {}",
                        key.written()
                    )));
                    None
                }
                Content::Text(text) | Content::Date(text) => Some(text),
                _ => self.report_form(key, &entry.value, "text"),
            },
        }
    }

    pub fn texts(&self, name: &'static str) -> Vec<(&'d str, Range<usize>)> {
        let key = self.key(name);
        let items = self.items(key, "a list of texts");
        items
            .iter()
            .filter_map(|item| match &item.content {
                Content::Text(text) => Some((text.as_str(), item.span.clone())),
                _ => self.report_form(key, item, "text"),
            })
            .collect()
    }

    /// One text or a list of them.
    pub fn one_or_more_texts(&self, name: &'static str) -> Vec<(&'d str, Range<usize>)> {
        if self.is_list(name) {
            return self.texts(name);
        }
        let text = self.text(name);
        text.map(|text| (text, self.place_of(name)))
            .into_iter()
            .collect()
    }

    pub fn boolean(&self, name: &'static str) -> Option<bool> {
        let key = self.key(name);
        match self.entry(name).map(|entry| &entry.value) {
            None => match key.need {
                Need::Default(text) => Some(text == "true"),
                _ => None,
            },
            Some(Value {
                content: Content::Boolean(boolean),
                ..
            }) => Some(*boolean),
            Some(value) => self.report_form(key, value, "true or false, without quotes"),
        }
    }

    pub fn number(&self, name: &'static str) -> Option<f64> {
        let key = self.key(name);
        match self.entry(name).map(|entry| &entry.value) {
            None => match key.need {
                Need::Default(text) => text.parse().ok(),
                _ => None,
            },
            Some(value) => self.number_of(key, value),
        }
    }

    pub fn numbers(&self, name: &'static str) -> Vec<f64> {
        let key = self.key(name);
        self.items(key, "a list of numbers")
            .iter()
            .filter_map(|item| self.number_of(key, item))
            .collect()
    }

    /// A whole number within a range.
    pub fn whole(&self, name: &'static str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        let number = self.number(name)?;
        let whole = number as i64;
        if number.fract() == 0.0 && range.contains(&whole) {
            return Some(whole);
        }
        let message = format!(
            "`{name}` must be a whole number from {} to {}",
            range.start(),
            range.end()
        );
        self.report(
            self.problem_at(name, message)
                .cure(format!("for example {}", self.key(name).written())),
        );
        None
    }

    fn number_of(&self, key: &Key, value: &Value) -> Option<f64> {
        match value.content {
            Content::Number(number) if number.is_finite() => Some(number),
            Content::Number(_) => {
                let message = format!("`{}` must be a finite number", key.name);
                self.report(
                    Problem::new(value.span.clone(), message)
                        .cure(format!("for example {}", key.written())),
                );
                None
            }
            _ => self.report_form(key, value, "a number without quotes"),
        }
    }

    /// A quantity of the dimension that the list of keys gives.
    pub fn quantity(&self, name: &'static str) -> Option<Written> {
        match self.key(name).form {
            Form::Quantity(dimension) => self.quantity_of(name, dimension),
            form => unreachable!("{name} is read as a quantity but listed as {form:?}"),
        }
    }

    /// A quantity whose dimension another key settles.
    pub fn quantity_of(&self, name: &'static str, dimension: Dimension) -> Option<Written> {
        let key = self.key(name);
        match self.entry(name).map(|entry| &entry.value) {
            None => match key.need {
                Need::Default(text) => {
                    Some(parse(text, dimension).expect("a default is a quantity of its key"))
                }
                _ => None,
            },
            Some(value) => self.quantity_in(key, value, dimension),
        }
    }

    /// Its SI value.
    pub fn si(&self, name: &'static str) -> Option<f64> {
        self.quantity(name).map(|written| written.si)
    }

    pub fn length(&self, name: &'static str) -> Option<Length> {
        self.si(name).map(metres)
    }

    /// A time, never negative.
    pub fn duration(&self, name: &'static str) -> Option<Duration> {
        let written = self.quantity(name)?;
        match lasting(written.si) {
            Ok(duration) => Some(duration),
            Err(range) => {
                let problem = self.problem_at(name, format!("`{name}` must be {range}"));
                self.report(problem.cure(format!("for example {}", self.key(name).written())));
                None
            }
        }
    }

    pub fn quantities(&self, name: &'static str, dimension: Dimension) -> Vec<Written> {
        let key = self.key(name);
        let items = self.items(key, "a list of quantities");
        items
            .iter()
            .filter_map(|item| self.quantity_in(key, item, dimension))
            .collect()
    }

    /// Two quantities, the first below the second.
    pub fn range(&self, name: &'static str, dimension: Dimension) -> Option<(Written, Written)> {
        let key = self.key(name);
        let count = self.items(key, "two quantities, the lower first").len();
        let both: Result<[Written; 2], _> = self.quantities(name, dimension).try_into();
        match both {
            Ok([low, high]) if low.si < high.si => Some((low, high)),
            Ok([_, _]) => {
                let problem = self.problem_at(
                    name,
                    format!("the first quantity of `{name}` must be the lower one"),
                );
                self.report(problem.cure(format!("for example {}", key.written())));
                None
            }
            Err(_) => {
                if count != 2 && self.is_list(name) {
                    let problem = self.problem_at(
                        name,
                        format!("`{name}` must hold two quantities, not {count}"),
                    );
                    self.report(problem.cure(format!("for example {}", key.written())));
                }
                None
            }
        }
    }

    fn quantity_in(&self, key: &Key, value: &Value, dimension: Dimension) -> Option<Written> {
        let name = key.name;
        let text = match &value.content {
            Content::Text(text) => text,
            Content::Number(number) => {
                let due = dimension.with_article();
                let example = match number.is_finite()
                    && key.example.contains(' ')
                    && !key.example.contains('[')
                {
                    true => format!("{name} = \"{number} {}\"", unit_of(key.example)),
                    false => key.written(),
                };
                let problem = Problem::new(
                    value.span.clone(),
                    format!("`{name}` is a bare number; {due} is due here"),
                )
                .label("no unit")
                .cure(format!(
                    "write it in quotes with its unit, for example {example}"
                ));
                self.report(problem);
                return None;
            }
            _ => {
                return self.report_form(
                    key,
                    value,
                    &format!("{} in quotes", dimension.with_article()),
                );
            }
        };
        match parse(text, dimension) {
            Ok(written) => self.at_least(key, value, written),
            Err(error) => {
                self.report(
                    Problem::new(value.span.clone(), format!("`{name}`: {error}"))
                        .cure(error.cure()),
                );
                None
            }
        }
    }

    fn at_least(&self, key: &Key, value: &Value, written: Written) -> Option<Written> {
        let (is_enough, least) = match key.least {
            Least::Any => (true, ""),
            Least::Zero => (written.si >= 0.0, "0 or more"),
            Least::AboveZero => (written.si > 0.0, "more than 0"),
        };
        if !is_enough {
            let message = format!("`{}` must be {least}", key.name);
            self.report(
                Problem::new(value.span.clone(), message)
                    .cure(format!("for example {}", key.written())),
            );
        }
        is_enough.then_some(written)
    }

    /// A unit alone, of that dimension.
    pub fn unit(
        &self,
        name: &'static str,
        dimension: Dimension,
    ) -> Option<(&'static Unit, Option<Reference>)> {
        let text = self.text(name)?;
        match parse_unit(text, dimension) {
            Ok(unit) => Some(unit),
            Err(error) => {
                self.report(
                    self.problem_at(name, format!("`{name}`: {error}"))
                        .cure(error.cure()),
                );
                None
            }
        }
    }

    pub fn date(&self, name: &'static str) -> Option<Date> {
        let text = self.text(name)?;
        match text.parse() {
            Ok(date) => Some(date),
            Err(_) => {
                let problem =
                    self.problem_at(name, format!("`{name}` must be a date: year, month, day"));
                self.report(problem.cure(format!("for example {}", self.key(name).written())));
                None
            }
        }
    }

    /// One of the words that the list of keys gives.
    pub fn choice(&self, name: &'static str) -> Option<&'static str> {
        let Form::Choice(choices) = self.key(name).form else {
            unreachable!("{name} is read as a choice but not listed as one")
        };
        let word = self.text(name)?;
        match choices.iter().find(|choice| choice.word == word) {
            Some(choice) if choice.is_here => Some(choice.word),
            found => {
                self.report(self.choice_problem(name, word, found.is_some(), choices));
                None
            }
        }
    }

    /// Whether a text is one of the words that a key can be, now or later.
    pub fn is_word(&self, name: &'static str, text: &str) -> bool {
        matches!(self.key(name).form, Form::Choice(choices) if choices.iter().any(|choice| choice.word == text))
    }

    fn choice_problem(
        &self,
        name: &str,
        word: &str,
        is_named: bool,
        choices: &[Choice],
    ) -> Problem {
        let words: Vec<&str> = choices
            .iter()
            .filter(|choice| choice.is_here)
            .map(|choice| choice.word)
            .collect();
        let understood = format!("understood: {}", words.join(", "));
        if is_named {
            return self
                .problem_at(name, format!("{name} \"{word}\" is not supported yet"))
                .cure(understood);
        }
        let cure = match nearest(word, choices.iter().map(|choice| choice.word)) {
            Some(near) => format!("did you mean \"{near}\"? {understood}"),
            None => understood,
        };
        self.problem_at(name, format!("{name} \"{word}\" is not known"))
            .cure(cure)
    }

    /// A quantity, "ambient", or tags.
    pub fn source(&self, name: &'static str) -> Option<Given<'d>> {
        let key = self.key(name);
        let Form::Source(dimension) = key.form else {
            unreachable!("{name} is read as a source but not listed as one")
        };
        let value = &self.entry(name)?.value;
        match &value.content {
            Content::Text(text) if text == "ambient" => Some(Given::Ambient),
            Content::Text(text) if is_tag(text) => {
                Some(Given::Tags(vec![(text.as_str(), value.span.clone())]))
            }
            Content::List(items) if items.is_empty() => {
                self.report_form(key, value, "a quantity, a tag or a list of tags")
            }
            Content::List(_) => Some(Given::Tags(self.texts(name))),
            _ => self.quantity_in(key, value, dimension).map(Given::Quantity),
        }
    }

    /// Rows of two quantities each; none where one of them is wrong.
    pub fn rows(&self, name: &'static str) -> Option<Vec<(Written, Written)>> {
        let Form::Rows(first, second) = self.key(name).form else {
            unreachable!("{name} is read as rows but not listed as such")
        };
        let rows = self.rows_of(name, [first, second], "rows of two quantities each")?;
        Some(
            rows.into_iter()
                .map(|[first, second]| (first, second))
                .collect(),
        )
    }

    /// Rows of three quantities each; none where one of them is wrong.
    pub fn rows_of_three(&self, name: &'static str) -> Option<Vec<[Written; 3]>> {
        let Form::RowsOfThree(dimensions) = self.key(name).form else {
            unreachable!("{name} is read as rows of three but not listed as such")
        };
        self.rows_of(name, dimensions, "rows of three quantities each")
    }

    fn rows_of<const N: usize>(
        &self,
        name: &'static str,
        dimensions: [Dimension; N],
        due: &str,
    ) -> Option<Vec<[Written; N]>> {
        let key = self.key(name);
        let row = |item: &Value| match &item.content {
            Content::List(cells) if cells.len() == N => {
                let cells = cells.iter().zip(dimensions);
                // Each is read, so that all that is wrong is told.
                let read: Vec<Option<Written>> = cells
                    .map(|(cell, of)| self.quantity_in(key, cell, of))
                    .collect();
                let read: Option<Vec<Written>> = read.into_iter().collect();
                read?.try_into().ok()
            }
            _ => self.report_form(key, item, due),
        };
        let items = self.items(key, "a list of rows");
        let rows: Vec<Option<[Written; N]>> = items.iter().map(row).collect();
        self.is_list(name).then(|| rows.into_iter().collect())?
    }

    /// How many things a key lists.
    pub fn count(&self, name: &str) -> usize {
        match self.entry(name).map(|entry| &entry.value.content) {
            Some(Content::List(items)) => items.len(),
            _ => 0,
        }
    }

    /// How a key is written, for a cure.
    pub fn example(&self, name: &'static str) -> String {
        self.key(name).written()
    }

    /// Every tag, unit or word of a list; a single value is no list.
    fn items(&self, key: &Key, due: &str) -> &'d [Value] {
        match self.entry(key.name).map(|entry| &entry.value) {
            None => &[],
            Some(Value {
                content: Content::List(items),
                ..
            }) => items,
            Some(value) => {
                self.report_form::<()>(key, value, due);
                &[]
            }
        }
    }

    pub(super) fn report_form<T>(&self, key: &Key, value: &Value, due: &str) -> Option<T> {
        let message = format!("`{}` must be {due}, not {}", key.name, value.is_a());
        let cure = match value.content {
            Content::Number(number) if due == "text" => {
                format!("write it in quotes: {} = \"{number}\"", key.name)
            }
            _ => format!("for example {}", key.written()),
        };
        self.report(Problem::new(value.span.clone(), message).cure(cure));
        None
    }
}

/// The unit of an example such as "\"4.2 m\"".
fn unit_of(example: &str) -> &str {
    example
        .trim_matches('"')
        .split_once(' ')
        .map_or("", |(_, unit)| unit)
}

/// A tag is a letter and then letters, digits, points, lines.
pub fn is_tag(text: &str) -> bool {
    text.starts_with(|first: char| first.is_ascii_alphabetic())
        && text
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || ['.', '_', '-'].contains(&c))
}
