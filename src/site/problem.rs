//! What is wrong with a file: all of it together, each with its place and a cure.
//!
//! A problem always says what is wrong (`message`), where (`span`, none where the file itself cannot be
//! read) and what to do (`cure`). A [`Source`] draws it with its lines.

use annotate_snippets::{Annotation, AnnotationKind, Level, Renderer, Snippet};
use std::fmt;
use std::ops::Range;
use std::path::Path;

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Place in the file's text, in bytes.
    pub span: Option<Range<usize>>,
    pub message: String,
    /// A few words right at the place; may be empty.
    pub label: String,
    /// Why it matters, where the message does not say it; may be empty.
    pub why: String,
    pub cure: String,
    /// A second place that the problem is about, with its words.
    pub related: Option<(Range<usize>, String)>,
}

impl Problem {
    pub fn new(span: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            span: Some(span),
            message: message.into(),
            label: String::new(),
            why: String::new(),
            cure: String::new(),
            related: None,
        }
    }

    /// Of the file as a whole.
    pub fn of_file(message: impl Into<String>) -> Self {
        Self {
            span: None,
            ..Self::new(0..0, message)
        }
    }

    pub fn label(self, label: impl Into<String>) -> Self {
        Self {
            label: label.into(),
            ..self
        }
    }

    pub fn why(self, why: impl Into<String>) -> Self {
        Self {
            why: why.into(),
            ..self
        }
    }

    pub fn cure(self, cure: impl Into<String>) -> Self {
        Self {
            cure: cure.into(),
            ..self
        }
    }

    pub fn related(self, span: Range<usize>, words: impl Into<String>) -> Self {
        Self {
            related: Some((span, words.into())),
            ..self
        }
    }
}

/// Everything that is wrong with a file, in the order of its lines; never empty.
#[derive(Clone, Debug)]
pub struct Problems {
    source: Source,
    list: Vec<Problem>,
}

impl Problems {
    /// Sorts by place and leaves out what is said twice.
    pub fn new(path: &Path, text: &str, mut list: Vec<Problem>) -> Self {
        let place = |problem: &Problem| {
            problem
                .span
                .as_ref()
                .map_or((0, 0), |span| (span.start, span.end))
        };
        list.sort_by(|a, b| (place(a), &a.message).cmp(&(place(b), &b.message)));
        list.dedup();
        Self {
            source: Source::new(path, text),
            list,
        }
    }

    pub fn source(&self) -> &Source {
        &self.source
    }

    #[expect(
        clippy::len_without_is_empty,
        reason = "there is always at least one problem"
    )]
    pub fn len(&self) -> usize {
        self.list.len()
    }

    pub fn iter(&self) -> impl Iterator<Item = &Problem> {
        self.list.iter()
    }

    /// All of them drawn with their lines, and how many there are; with colour for a terminal.
    pub fn render(&self, colour: bool) -> String {
        let mut out = String::new();
        for problem in &self.list {
            out.push_str(&self.source.draw(&Level::ERROR, problem, colour));
            out.push_str("\n\n");
        }
        match self.list.len() {
            1 => out.push_str("1 problem in "),
            count => out.push_str(&format!("{count} problems in ")),
        }
        out.push_str(&self.source.path);
        out
    }
}

/// The text that places are in.
#[derive(Clone, Debug)]
pub struct Source {
    path: String,
    text: String,
}

impl Source {
    pub fn new(path: &Path, text: &str) -> Self {
        Self {
            path: path.display().to_string(),
            text: text.to_owned(),
        }
    }

    pub fn path(&self) -> &str {
        &self.path
    }

    /// Line and column of a place, both counted from 1.
    pub fn line_and_column(&self, span: &Range<usize>) -> (usize, usize) {
        let place = self.within(span).start;
        let before = &self.text[..place];
        let line = 1 + before.matches('\n').count();
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        (line, 1 + before[start..].chars().count())
    }

    /// A problem with its lines; with colour for a terminal.
    pub fn draw(&self, level: &Level<'_>, problem: &Problem, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let title = level.clone().primary_title(problem.message.as_str());
        let mut group = match &problem.span {
            None => title.elements(None::<Snippet<'_, Annotation<'_>>>),
            Some(span) => title.element(self.snippet(problem, span)),
        };
        if !problem.why.is_empty() {
            group = group.element(Level::NOTE.message(problem.why.as_str()));
        }
        if !problem.cure.is_empty() {
            group = group.element(Level::HELP.message(problem.cure.as_str()));
        }
        renderer.render(&[group])
    }

    /// The lines that a problem is about; only these are handed on, so that many problems stay cheap.
    fn snippet<'a>(
        &'a self,
        problem: &'a Problem,
        span: &Range<usize>,
    ) -> Snippet<'a, Annotation<'a>> {
        let primary = self.within(span);
        let related = problem
            .related
            .as_ref()
            .map(|(span, words)| (self.within(span), words.as_str()));
        let (first, last) = match &related {
            Some((other, _)) => (primary.start.min(other.start), primary.end.max(other.end)),
            None => (primary.start, primary.end),
        };
        let start = self.text[..first]
            .rfind('\n')
            .map_or(0, |newline| newline + 1);
        let end = self.text[last..]
            .find('\n')
            .map_or(self.text.len(), |length| last + length);
        let place = |span: &Range<usize>| span.start - start..span.end - start;
        let mut annotation = AnnotationKind::Primary.span(place(&primary));
        if !problem.label.is_empty() {
            annotation = annotation.label(problem.label.as_str());
        }
        let snippet = Snippet::source(&self.text[start..end])
            .path(self.path.as_str())
            .line_start(1 + self.text[..start].matches('\n').count())
            .annotation(annotation);
        match related {
            Some((other, words)) => {
                snippet.annotation(AnnotationKind::Context.span(place(&other)).label(words))
            }
            None => snippet,
        }
    }

    /// The span cut to its first line and to whole characters, so that it can be drawn.
    fn within(&self, span: &Range<usize>) -> Range<usize> {
        let boundary = |mut place: usize| {
            place = place.min(self.text.len());
            while !self.text.is_char_boundary(place) {
                place -= 1;
            }
            place
        };
        let (start, end) = (boundary(span.start), boundary(span.end.max(span.start)));
        let line_end = self.text[start..end]
            .find(['\n', '\r'])
            .map_or(end, |length| start + length);
        start..line_end
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Problems {}
