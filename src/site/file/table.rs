//! A table of a document: opening it checks its keys against the list of keys.

use super::Document;
use crate::site::key::{Form, Key, Need, nearest};
use crate::site::problem::Problem;
use crate::site::tree::{Content, Entry, Value};
use std::ops::Range;

/// A table of a document, with the keys that it may have.
#[derive(Clone, Debug)]
pub struct Table<'d> {
    document: &'d Document,
    entries: &'d [Entry],
    /// Where the table itself stands: its header, or all of an inline one.
    place: Range<usize>,
    table: &'static str,
    /// How people are told of it: "[tank.vessel]".
    shown: String,
    kind: Option<&'static str>,
}

impl<'d> Table<'d> {
    pub(super) fn open(
        document: &'d Document,
        value: &'d Value,
        place: Range<usize>,
        table: &'static str,
        shown: String,
    ) -> Self {
        let entries = match &value.content {
            Content::Table(entries) => entries.as_slice(),
            _ => &[],
        };
        let mut this = Self {
            document,
            entries,
            place,
            table,
            shown,
            kind: None,
        };
        this.kind = this.decided_kind();
        this.check_keys();
        this
    }

    fn keys(&self) -> impl Iterator<Item = &'static Key> + use<> {
        let table = self.table;
        self.document
            .keys
            .iter()
            .filter(move |key| key.table == table)
    }

    /// The key of that name for the table's kind; of any kind, where none of it has the name.
    fn find(&self, name: &str) -> Option<&'static Key> {
        let named = || self.keys().filter(|key| key.name == name);
        named()
            .find(|key| key.belongs_to(self.kind))
            .or_else(|| named().next())
    }

    pub(super) fn key(&self, name: &'static str) -> &'static Key {
        #[cfg(test)]
        self.document.asked.borrow_mut().insert((self.table, name));
        self.find(name)
            .expect("every key that is read stands in the list of keys")
    }

    pub(super) fn entry(&self, name: &str) -> Option<&'d Entry> {
        self.entries.iter().find(|entry| entry.key == name)
    }

    fn decided_kind(&self) -> Option<&'static str> {
        let key = self.keys().find(|key| key.decides)?;
        let Form::Choice(choices) = key.form else {
            return None;
        };
        let word = match self.entry(key.name).map(|entry| &entry.value.content) {
            Some(Content::Text(word)) => word.as_str(),
            Some(_) => return None,
            None => match key.need {
                Need::Default(word) => word,
                _ => return None,
            },
        };
        choices
            .iter()
            .find(|choice| choice.word == word && choice.is_here)
            .map(|choice| choice.word)
    }

    fn check_keys(&self) {
        // A missing key that a misspelt one was meant to be is told once.
        let mut meant = Vec::new();
        for entry in self.entries {
            match self.find(&entry.key) {
                None => meant.extend(self.report_unknown(entry)),
                Some(key) if !key.is_here => self.report_not_yet(entry),
                Some(key) if !key.belongs_to(self.kind) => self.report_other_kind(entry),
                Some(_) => {}
            }
        }
        for key in self.keys().filter(|key| key.need == Need::Required) {
            let concerns =
                key.kinds.is_empty() || (self.kind.is_some() && key.belongs_to(self.kind));
            if concerns && self.entry(key.name).is_none() && !meant.contains(&key.name) {
                self.report_missing(key);
            }
        }
    }

    /// The deciding key with its value: "shape = "sphere"".
    fn decision(&self) -> Option<String> {
        let decider = self.keys().find(|key| key.decides)?;
        Some(format!("{} = \"{}\"", decider.name, self.kind?))
    }

    /// The names of the keys that the table may have.
    fn own_names(&self) -> Vec<&'static str> {
        let own = self
            .keys()
            .filter(|key| key.is_here && key.belongs_to(self.kind));
        own.map(|key| key.name).collect()
    }

    fn report_missing(&self, key: &Key) {
        let message = format!("`{}` is missing in {}", key.name, self.shown());
        let label = match self.decision() {
            Some(decision) if !key.kinds.is_empty() => format!("{decision} needs it"),
            _ => String::new(),
        };
        let written = match key.form {
            Form::Table(_) | Form::TableOrTables(_) if key.example.is_empty() => {
                format!("a table [{}]", key.path())
            }
            Form::Tables(_) if key.example.is_empty() => format!("a table [[{}]]", key.path()),
            _ => key.written(),
        };
        let problem = Problem::new(self.place.clone(), message).label(label);
        self.document
            .report_missing(problem.cure(format!("add {written} ({})", key.about)));
    }

    /// What the key was probably meant to be.
    fn report_unknown(&self, entry: &Entry) -> Option<&'static str> {
        let known = self.own_names();
        let near = nearest(&entry.key, known.iter().copied());
        let cure = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("understood here: {}", known.join(", ")),
        };
        let message = format!("`{}` is no key of {}", entry.key, self.shown());
        self.document
            .report_misplaced(Problem::new(entry.key_span.clone(), message).cure(cure));
        near
    }

    fn report_not_yet(&self, entry: &Entry) {
        let message = match self.shown.is_empty() {
            true => format!("[{}] is not supported yet", entry.key),
            false => format!("`{}` of {} is not supported yet", entry.key, self.shown()),
        };
        self.report(
            Problem::new(entry.key_span.clone(), message)
                .cure("take it out: what it asks for would not be done"),
        );
    }

    fn report_other_kind(&self, entry: &Entry) {
        let decision = self.decision().unwrap_or_default();
        let message = format!(
            "`{}` does not belong to {} with {decision}",
            entry.key,
            self.shown()
        );
        let cure = format!("it takes: {}", self.own_names().join(", "));
        self.document
            .report_misplaced(Problem::new(entry.key_span.clone(), message).cure(cure));
    }

    fn shown(&self) -> &str {
        if self.shown.is_empty() {
            "the file"
        } else {
            &self.shown
        }
    }

    pub fn document(&self) -> &'d Document {
        self.document
    }

    pub fn report(&self, problem: Problem) {
        self.document.report(problem);
    }

    /// A problem at a key's value; at the table, where the key is left out.
    pub fn problem_at(&self, name: &str, message: impl Into<String>) -> Problem {
        Problem::new(self.place_of(name), message)
    }

    /// Where a key's value stands; the table, where the key is left out.
    pub fn place_of(&self, name: &str) -> Range<usize> {
        self.entry(name)
            .map_or(self.place.clone(), |entry| entry.value.span.clone())
    }

    pub fn place(&self) -> Range<usize> {
        self.place.clone()
    }

    /// The kind that the table's deciding key names; none where that is wrong or missing.
    pub fn kind(&self) -> Option<&'static str> {
        self.kind
    }

    pub fn has(&self, name: &str) -> bool {
        self.entry(name).is_some()
    }

    pub fn is_table(&self, name: &str) -> bool {
        matches!(
            self.entry(name).map(|entry| &entry.value.content),
            Some(Content::Table(_))
        )
    }

    pub fn is_list(&self, name: &str) -> bool {
        matches!(
            self.entry(name).map(|entry| &entry.value.content),
            Some(Content::List(_))
        )
    }

    /// The names of the keys that the table has, with their places.
    pub fn names(&self) -> impl Iterator<Item = (&'d str, Range<usize>)> {
        self.entries
            .iter()
            .map(|entry| (entry.key.as_str(), entry.key_span.clone()))
    }

    pub fn table(&self, name: &'static str) -> Option<Table<'d>> {
        let key = self.key(name);
        let (Form::Table(table) | Form::TextOrTable(table)) = key.form else {
            unreachable!("{name} is read as a table but not listed as one")
        };
        let entry = self.entry(name)?;
        match &entry.value.content {
            Content::Table(_) => {
                Some(self.inner(&entry.value, table, format!("[{}]", self.path_to(name))))
            }
            _ => self.report_form(key, &entry.value, "a table"),
        }
    }

    /// A key's table, read as one of another form than the listed one.
    pub fn table_as(&self, name: &'static str, form: &'static str) -> Option<Table<'d>> {
        let value = &self.entry(name)?.value;
        matches!(value.content, Content::Table(_))
            .then(|| self.inner(value, form, format!("[{}]", self.path_to(name))))
    }

    /// Whether a key holds a table that has that key.
    pub fn holds(&self, name: &str, inner: &str) -> bool {
        match self.entry(name).map(|entry| &entry.value.content) {
            Some(Content::Table(entries)) => entries.iter().any(|entry| entry.key == inner),
            _ => false,
        }
    }

    pub fn tables(&self, name: &'static str) -> Vec<Table<'d>> {
        let key = self.key(name);
        let Form::Tables(table) = key.form else {
            unreachable!("{name} is read as tables but not listed as such")
        };
        match self.entry(name).map(|entry| &entry.value) {
            None => Vec::new(),
            Some(Value {
                content: Content::List(items),
                ..
            }) => items
                .iter()
                .filter_map(|item| match item.content {
                    Content::Table(_) => {
                        Some(self.inner(item, table, format!("[[{}]]", self.path_to(name))))
                    }
                    _ => self.report_form(key, item, "a table"),
                })
                .collect(),
            Some(value) => self
                .report_form(key, value, &format!("written [[{name}]]"))
                .unwrap_or_default(),
        }
    }

    /// One table, or all tables of a list.
    pub fn one_or_more(&self, name: &'static str) -> Vec<Table<'d>> {
        let key = self.key(name);
        let Form::TableOrTables(table) = key.form else {
            unreachable!("{name} is read as tables but not listed as such")
        };
        let Some(value) = self.entry(name).map(|entry| &entry.value) else {
            return Vec::new();
        };
        match &value.content {
            Content::Table(_) => {
                vec![self.inner(value, table, format!("[{}]", self.path_to(name)))]
            }
            Content::List(items) => items
                .iter()
                .filter_map(|item| match item.content {
                    Content::Table(_) => {
                        Some(self.inner(item, table, format!("[[{}]]", self.path_to(name))))
                    }
                    _ => self.report_form(key, item, "a table"),
                })
                .collect(),
            _ => self.report_form(key, value, "a table").unwrap_or_default(),
        }
    }

    fn path_to(&self, name: &str) -> String {
        match self.shown.trim_matches(['[', ']']) {
            "" => name.to_owned(),
            outer => format!("{outer}.{name}"),
        }
    }

    fn inner(&self, value: &'d Value, table: &'static str, shown: String) -> Table<'d> {
        Table::open(self.document, value, value.span.clone(), table, shown)
    }
}

impl Key {
    fn path(&self) -> String {
        match self.table {
            "" => self.name.to_owned(),
            table => format!("{table}.{}", self.name),
        }
    }
}
