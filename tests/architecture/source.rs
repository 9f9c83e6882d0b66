//! A source file as the rules see it: its code without comments and literals, and the paths in it.
//!
//! No parser of the whole language: words, `::` and braces are enough for `use` trees and paths.

use std::collections::BTreeMap;

/// One file of the tree; `path` is relative to the package, `src/engine/alarm/mod.rs`.
pub struct Source {
    pub path: String,
    pub text: String,
    words: Vec<Word>,
}

struct Word {
    line: usize,
    text: String,
    /// The module that it stands in, from the crate's root; modules within the file included.
    module: Vec<String>,
}

/// A path somewhere in the code, written out: `engine::event::Event`, or `std::fs::read`.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    pub line: usize,
    pub path: String,
}

impl Source {
    pub fn new(path: &str, text: &str) -> Source {
        let words = words(&without_comments_and_literals(text), &module(path));
        Source {
            path: path.to_owned(),
            text: text.to_owned(),
            words,
        }
    }

    /// The file's module from the crate's root: `engine::alarm`; of `main.rs` it is `main`.
    pub fn module(&self) -> String {
        if self.path == "src/main.rs" {
            "main".to_owned()
        } else {
            module(&self.path).join("::")
        }
    }

    /// Every path that starts at the crate's root, in whatever way it is written there:
    /// `crate::`, `standpipe::`, or `super::` as often as needed.
    pub fn paths_within(&self) -> Vec<Found> {
        let mut found = Vec::new();
        for place in 0..self.words.len() {
            let start: Vec<String> = match self.word(place) {
                "crate" | "standpipe" => Vec::new(),
                "super" => {
                    let module = &self.words[place].module;
                    module[..module.len().saturating_sub(1)].to_vec()
                }
                _ => continue,
            };
            let follows_a_path = place > 0 && self.word(place - 1) == "::";
            if !follows_a_path && self.word(place + 1) == "::" {
                self.tree(place + 2, &start, &mut found);
            }
        }
        found
    }

    /// Every path that starts with a crate of that name: `std::fs::read` of `use std::{fs::read}`.
    pub fn paths_of(&self, name: &str) -> Vec<Found> {
        let mut found = Vec::new();
        for place in 0..self.words.len() {
            if self.word(place) == name && (place == 0 || self.word(place - 1) != "::") {
                self.tree(place, &[], &mut found);
            }
        }
        found
    }

    /// Names that the file passes on, with the path behind each: `engine::Event` is
    /// `engine::event::Event`.
    pub fn passed_on(&self) -> BTreeMap<String, String> {
        let mut names = BTreeMap::new();
        for place in 0..self.words.len() {
            if self.word(place) != "pub" || self.word(place + 1) != "use" {
                continue;
            }
            let here = &self.words[place].module;
            let (first, start) = match self.word(place + 2) {
                "crate" => (place + 4, Vec::new()),
                "self" => (place + 4, here.clone()),
                "super" => (place + 4, here[..here.len().saturating_sub(1)].to_vec()),
                _ => (place + 2, here.clone()),
            };
            let mut found = Vec::new();
            self.tree(first, &start, &mut found);
            for Found { path, .. } in found {
                let name = path.rsplit("::").next().unwrap_or_default();
                names.insert(format!("{}::{name}", here.join("::")), path);
            }
        }
        names
    }

    /// The lines that a word stands in, as code.
    pub fn lines_with(&self, word: &str) -> Vec<usize> {
        self.words
            .iter()
            .filter(|found| found.text == word)
            .map(|found| found.line)
            .collect()
    }

    /// The lines that name `…::name`, called or passed as a function.
    pub fn lines_with_associated(&self, name: &str) -> Vec<usize> {
        (1..self.words.len())
            .filter(|&place| self.word(place) == name && self.word(place - 1) == "::")
            .map(|place| self.words[place].line)
            .collect()
    }

    fn word(&self, place: usize) -> &str {
        self.words.get(place).map_or("", |word| &word.text)
    }

    /// Writes out the path or `use` tree at `place`, each branch with what stands before it; returns
    /// the place after it.
    fn tree(&self, mut place: usize, before: &[String], found: &mut Vec<Found>) -> usize {
        let line = self.words.get(place).map_or(0, |word| word.line);
        let mut path = before.to_vec();
        loop {
            match self.word(place) {
                "{" => {
                    place += 1;
                    while !matches!(self.word(place), "}" | "") {
                        place = match self.word(place) {
                            "," => place + 1,
                            _ => self.tree(place, &path, found),
                        };
                    }
                    return place + 1;
                }
                "super" => {
                    path.pop();
                }
                "self" => {}
                word => path.push(word.to_owned()),
            }
            if self.word(place + 1) == "::" && starts_a_step(self.word(place + 2)) {
                place += 2;
                continue;
            }
            found.push(Found {
                line,
                path: path.join("::"),
            });
            let renamed = self.word(place + 1) == "as";
            return if renamed { place + 3 } else { place + 1 };
        }
    }
}

fn starts_a_step(word: &str) -> bool {
    word == "{" || word == "*" || word.starts_with(|c: char| c.is_alphanumeric() || c == '_')
}

fn module(path: &str) -> Vec<String> {
    let inside = path.trim_start_matches("src/").trim_end_matches(".rs");
    let steps = inside
        .split('/')
        .filter(|step| !matches!(*step, "mod" | "lib" | "main"));
    steps.map(str::to_owned).collect()
}

/// Words, `::` and single signs, each with its line and the module that it stands in.
fn words(code: &str, file: &[String]) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let mut module = file.to_vec();
    let mut depth = 0;
    let mut opened_at = Vec::new();
    for (number, line) in code.lines().enumerate() {
        let mut rest = line.trim_start();
        while let Some(first) = rest.chars().next() {
            let is_word = |c: char| c.is_alphanumeric() || c == '_';
            let length = if is_word(first) {
                rest.find(|c| !is_word(c)).unwrap_or(rest.len())
            } else if rest.starts_with("::") {
                2
            } else {
                first.len_utf8()
            };
            let (text, after) = rest.split_at(length);
            if text == "{" {
                depth += 1;
                if let [.., keyword, name] = words.as_slice()
                    && keyword.text == "mod"
                {
                    module.push(name.text.clone());
                    opened_at.push(depth);
                }
            }
            words.push(Word {
                line: number + 1,
                text: text.to_owned(),
                module: module.clone(),
            });
            if text == "}" {
                if opened_at.last() == Some(&depth) {
                    opened_at.pop();
                    module.pop();
                }
                depth -= 1;
            }
            rest = after.trim_start();
        }
    }
    words
}

/// The code alone: comments, strings and characters become blanks, lines stay.
fn without_comments_and_literals(text: &str) -> String {
    let mut code = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let starts_a_word = !code.ends_with(|c: char| c.is_alphanumeric() || c == '_');
        let length = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            block_comment(rest)
        } else if first == '"' {
            1 + string(&rest[1..])
        } else if let Some(hashes) = raw_string(rest).filter(|_| starts_a_word) {
            let close = format!("\"{}", "#".repeat(hashes));
            let open = rest.find('"').map_or(rest.len(), |quote| quote + 1);
            rest[open..]
                .find(&close)
                .map_or(rest.len(), |end| open + end + close.len())
        } else if first == '\'' {
            character(rest)
        } else {
            code.push(first);
            rest = &rest[first.len_utf8()..];
            continue;
        };
        code.push(' ');
        code.extend(rest[..length].chars().filter(|c| *c == '\n'));
        rest = &rest[length..];
    }
    code
}

fn block_comment(text: &str) -> usize {
    let mut depth = 0;
    for (place, _) in text.char_indices() {
        if text[place..].starts_with("/*") {
            depth += 1;
        } else if text[place..].starts_with("*/") {
            depth -= 1;
            if depth == 0 {
                return place + 2;
            }
        }
    }
    text.len()
}

/// How long a string is after its opening quote, the closing one included.
fn string(text: &str) -> usize {
    let mut escaped = false;
    for (place, sign) in text.char_indices() {
        match sign {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return place + 1,
            _ => {}
        }
    }
    text.len()
}

/// The number of `#` of a raw string that starts here.
fn raw_string(text: &str) -> Option<usize> {
    let after = text.strip_prefix("br").or_else(|| text.strip_prefix('r'))?;
    let hashes = after.len() - after.trim_start_matches('#').len();
    after[hashes..].starts_with('"').then_some(hashes)
}

/// How long a character is; 1, the bare tick, for a lifetime.
fn character(text: &str) -> usize {
    let mut signs = text.char_indices().skip(1);
    match (signs.next(), signs.next()) {
        (Some((_, '\\')), Some((escape, _))) => {
            let after = escape + text[escape..].chars().next().map_or(0, char::len_utf8);
            text[after..]
                .find('\'')
                .map_or(text.len(), |end| after + end + 1)
        }
        (Some(_), Some((close, '\''))) => close + 1,
        _ => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn within(path: &str, text: &str) -> Vec<String> {
        Source::new(path, text)
            .paths_within()
            .into_iter()
            .map(|found| found.path)
            .collect()
    }

    #[test]
    fn a_use_tree_is_written_out() {
        let text = "use crate::engine::{self, event::{Event, EventKind as Kind}, plan::*};";
        let expected = [
            "engine",
            "engine::event::Event",
            "engine::event::EventKind",
            "engine::plan::*",
        ];
        assert_eq!(within("src/wire/mod.rs", text), expected);
    }

    #[test]
    fn a_path_in_the_code_counts() {
        let text = "fn f() -> crate::site::Site { standpipe::field::run::<u8>() }";
        assert_eq!(
            within("src/wire/mod.rs", text),
            ["site::Site", "field::run"]
        );
    }

    #[test]
    fn super_is_followed_upwards() {
        assert_eq!(
            within("src/wire/event.rs", "use super::super::site::Site;"),
            ["site::Site"]
        );
        assert_eq!(
            within("src/wire/mod.rs", "use super::site::Site;"),
            ["site::Site"]
        );
        assert_eq!(
            within("src/wire/mod.rs", "mod tests { use super::*; }"),
            ["wire::*"]
        );
        assert_eq!(
            within("src/wire/mod.rs", "mod tests { } use super::site::A;"),
            ["site::A"]
        );
    }

    #[test]
    fn comments_and_literals_do_not_count() {
        let text = r##"
            //! crate::site::A
            /* crate::site::B /* crate::site::C */ crate::site::D */
            const E: &str = "crate::site::\"E"; const F: &str = r#"crate::"site::F"#;
            const G: char = '"'; const H: char = '\''; fn i<'a>(j: &'a str) -> crate::wire::J {}
        "##;
        assert_eq!(within("src/wire/mod.rs", text), ["wire::J"]);
    }

    #[test]
    fn names_passed_on_lead_to_what_is_behind_them() {
        let text = "pub use event::{Event, EventKind};\npub use crate::quantity::Timestamp;";
        let names = Source::new("src/engine/mod.rs", text).passed_on();
        assert_eq!(names["engine::Event"], "engine::event::Event");
        assert_eq!(names["engine::Timestamp"], "quantity::Timestamp");
    }
}
