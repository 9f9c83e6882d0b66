//! A keyed reader over a TOML file that collects every problem with its place.
//!
//! Opening a [`Table`] checks it whole against the list of keys: unknown keys (the nearest known one is
//! suggested), keys that are not supported yet, keys of another kind, missing keys. Reading a key then
//! checks its value. Whatever is wrong is reported and reads as `None`, so that a check can go on and
//! find the next thing; a document with a problem never becomes anything.

mod table;
mod values;

pub use table::Table;
pub use values::{Given, is_tag};

use super::key::Key;
use super::problem::{Problem, Problems};
use super::tree::{Value, tree};
use std::cell::RefCell;
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::de::DeTable;

/// A file as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileRead {
    /// As it is named.
    pub path: PathBuf,
    pub text: String,
}

/// A file that is being read, and what was found wrong with it so far.
#[derive(Debug)]
pub struct Document {
    path: PathBuf,
    text: String,
    keys: &'static [Key],
    root: Value,
    problems: RefCell<Vec<Problem>>,
    /// Files that it names and that were read.
    named: RefCell<Vec<FileRead>>,
    /// Lines that could not be understood at all, in bytes.
    broken: Vec<Range<usize>>,
    #[cfg(test)]
    asked: RefCell<std::collections::BTreeSet<(&'static str, &'static str)>>,
}

impl Document {
    pub fn parse(text: &str, path: &Path, keys: &'static [Key]) -> Self {
        let (root, errors) = DeTable::parse_recoverable(text);
        let mut broken = Vec::new();
        let mut problems = Vec::new();
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            broken.push(line_of(text, span.start));
            problems.push(syntax_problem(text, span, error.message()));
        }
        Self {
            path: path.to_owned(),
            text: text.to_owned(),
            keys,
            root: tree(&root),
            problems: RefCell::new(problems),
            named: RefCell::default(),
            broken,
            #[cfg(test)]
            asked: RefCell::default(),
        }
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The file's outermost table.
    pub fn root(&self) -> Table<'_> {
        Table::open(self, &self.root, 0..0, "", String::new())
    }

    /// The text of a file that it names, relative to its own folder.
    pub fn read_named(&self, name: &str) -> std::io::Result<String> {
        let folder = self.path.parent().unwrap_or(Path::new(""));
        let text = std::fs::read_to_string(folder.join(name))?;
        self.named.borrow_mut().push(FileRead {
            path: name.into(),
            text: text.clone(),
        });
        Ok(text)
    }

    /// Those that were read, in their order.
    pub fn named(&self) -> Vec<FileRead> {
        self.named.borrow().clone()
    }

    pub fn report(&self, problem: Problem) {
        self.problems.borrow_mut().push(problem);
    }

    /// Behind a header that makes no sense as TOML a key stands in the wrong table, through no fault of its own.
    fn report_misplaced(&self, problem: Problem) {
        let place = problem.span.as_ref().map_or(0, |span| span.start);
        let is_broken_header =
            |line: &Range<usize>| line.end <= place && self.text[line.start..].starts_with('[');
        if !self.broken.iter().any(is_broken_header) {
            self.report(problem);
        }
    }

    /// What could not be read properly may be the reason that a key is missing: then nobody is told so.
    fn report_missing(&self, problem: Problem) {
        if self.broken.is_empty() {
            self.report(problem);
        }
    }

    /// Everything that is wrong with it; none if nothing is.
    pub fn problems(self) -> Option<Problems> {
        let mut list = self.problems.into_inner();
        // On a line that makes no sense as TOML anything else is a consequence.
        let syntax: Vec<Problem> = list.iter().take(self.broken.len()).cloned().collect();
        list.retain(|problem| {
            let place = problem.span.as_ref().map_or(0, |span| span.start);
            syntax.contains(problem) || !self.broken.iter().any(|line| line.contains(&place))
        });
        (!list.is_empty()).then(|| Problems::new(&self.path, &self.text, list))
    }

    #[cfg(test)]
    pub fn asked(&self) -> std::collections::BTreeSet<(&'static str, &'static str)> {
        self.asked.borrow().clone()
    }
}

fn line_of(text: &str, place: usize) -> Range<usize> {
    let place = place.min(text.len());
    let bytes = text.as_bytes();
    let start = bytes[..place]
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |newline| newline + 1);
    let end = bytes[place..]
        .iter()
        .position(|byte| *byte == b'\n')
        .map_or(text.len(), |length| place + length);
    start..end + 1
}

fn syntax_problem(text: &str, span: Range<usize>, message: &str) -> Problem {
    let line = text
        .get(line_of(text, span.start).start..)
        .and_then(|rest| rest.lines().next())
        .unwrap_or("");
    let cure = match line.split_once('=') {
        _ if message.starts_with("duplicate key") => {
            "keep one of the two, or begin a table of its own for the second".to_owned()
        }
        _ if message.contains("basic string") => "close the quotes at the end of the text".to_owned(),
        _ if message.starts_with("unclosed table") => format!("close the brackets: {}", closed(line)),
        Some((key, value)) if is_unquoted(value) => {
            let value = value.split('#').next().unwrap_or(value).trim();
            format!("text and quantities stand in quotes: {} = \"{value}\"", key.trim())
        }
        _ => "mend the line; a file is lines of [table] and key = value, with text and quantities in quotes".to_owned(),
    };
    Problem::new(span, format!("not TOML: {message}")).cure(cure)
}

/// A table's header with its brackets closed.
fn closed(line: &str) -> String {
    let name = line.split('#').next().unwrap_or(line).trim();
    let (bare, brackets) = match name.strip_prefix("[[") {
        Some(_) => (name.trim_end_matches(']'), "]]"),
        None => (name, "]"),
    };
    format!("{bare}{brackets}")
}

fn is_unquoted(value: &str) -> bool {
    let value = value.trim();
    !value.is_empty() && !value.contains(['"', '\'', '[', '{'])
}
