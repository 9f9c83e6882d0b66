//! A TOML text as an owned tree in which everything knows its place.

use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value and its place in the text.
#[derive(Clone, Debug)]
pub struct Value {
    pub span: Range<usize>,
    pub content: Content,
}

#[derive(Clone, Debug)]
pub enum Content {
    Text(String),
    /// May be not finite: `nan` and `inf` are TOML.
    Number(f64),
    Boolean(bool),
    Date(String),
    List(Vec<Value>),
    Table(Vec<Entry>),
}

#[derive(Clone, Debug)]
pub struct Entry {
    pub key: String,
    pub key_span: Range<usize>,
    pub value: Value,
}

impl Value {
    /// What it is, for people.
    pub fn is_a(&self) -> &'static str {
        match &self.content {
            Content::Text(_) => "text",
            Content::Number(_) => "a bare number",
            Content::Boolean(_) => "true or false",
            Content::Date(_) => "a date or time",
            Content::List(_) => "a list",
            Content::Table(_) => "a table",
        }
    }
}

/// The tree of everything that could be read; its root is always a table.
pub fn tree(table: &Spanned<DeTable<'_>>) -> Value {
    Value {
        span: table.span(),
        content: Content::Table(entries(table.get_ref())),
    }
}

fn entries(table: &DeTable<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = table
        .iter()
        .map(|(key, item)| Entry {
            key: key.get_ref().to_string(),
            key_span: key.span(),
            value: value(item),
        })
        .collect();
    entries.sort_by_key(|entry| entry.key_span.start);
    entries
}

fn value(item: &Spanned<DeValue<'_>>) -> Value {
    let content = match item.get_ref() {
        DeValue::String(text) => Content::Text(text.to_string()),
        DeValue::Integer(number) => Content::Number(
            i64::from_str_radix(number.as_str(), number.radix())
                .map_or(f64::NAN, |whole| whole as f64),
        ),
        DeValue::Float(number) => Content::Number(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(boolean) => Content::Boolean(*boolean),
        DeValue::Datetime(date) => Content::Date(date.to_string()),
        DeValue::Array(items) => Content::List(items.iter().map(value).collect()),
        DeValue::Table(table) => Content::Table(entries(table)),
    };
    Value {
        span: item.span(),
        content,
    }
}
